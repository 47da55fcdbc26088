// Figures and days in words, as the command line writes them.
import type { Date as Day } from "./gen/nextrung/v1/date_pb";
import { Unit } from "./gen/nextrung/v1/unit_pb";

/** A chance in whole percent; never 0 % or 100 %, which would be a promise. */
export function chance(share: number): string {
  if (share < 0.005) return "<1 %";
  if (share > 0.995) return ">99 %";
  return `${Math.round(share * 100)} %`;
}

/** An amount with two figures that count. */
export function amount(units: number): string {
  if (units < 0.005) return "<0.01";
  if (units >= 9999.5) return "9999+";
  if (units < 0.995) return units.toFixed(2);
  return units < 9.95 ? units.toFixed(1) : units.toFixed(0);
}

/** The unit behind a number of them. */
export function unitWord(unit: Unit, count: number): string {
  if (unit !== Unit.REPS) return "s";
  return count === 1 ? "rep" : "reps";
}

/** A rest or a span of seconds. */
export function time(seconds: number): string {
  if (seconds < 120) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  return seconds % 60 === 0 ? `${minutes} min` : `${minutes} min ${seconds % 60} s`;
}

/** A day as people write it, such as Monday 23 November 2026. */
export function dayWords(day: Day): string {
  const at = new Date(Date.UTC(day.year, day.month - 1, day.day));
  const words = { weekday: "long", day: "numeric", month: "long", year: "numeric", timeZone: "UTC" } as const;
  return at.toLocaleDateString("en-GB", words).replace(",", "");
}

/** A day from YYYY-MM-DD, as the page's field has it. */
export function dayOf(text: string): { year: number; month: number; day: number } {
  const [year = 0, month = 0, day = 0] = text.split("-").map(Number);
  return { year, month, day };
}
