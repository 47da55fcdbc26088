// The card of one day: what to train, why, what is held back, and the cautions that always go with it.
import type { Catalogue } from "./catalogue";
import { element } from "./element";
import { amount, chance, dayWords, time, unitWord } from "./figure";
import {
  Block,
  PrescriptionKind,
  type Expectation,
  type PrescribedItem,
  type Prescription,
} from "./gen/nextrung/v1/prescription_pb";
import { Stop } from "./gen/nextrung/v1/stop_pb";

const KINDS: Record<PrescriptionKind, string> = {
  [PrescriptionKind.UNSPECIFIED]: "",
  [PrescriptionKind.TRAINING]: "training",
  [PrescriptionKind.TEST]: "test",
  [PrescriptionKind.REST]: "rest",
  [PrescriptionKind.HELD_BACK]: "held back",
};

const BLOCKS: Record<Block, string> = {
  [Block.UNSPECIFIED]: "",
  [Block.BALANCE_PRACTICE]: "balance",
  [Block.ATTEMPT]: "attempt",
  [Block.WORKING]: "working",
  [Block.TEST]: "test",
};

/** The card of a prescription for an athlete. */
export function card(prescription: Prescription, who: string, catalogue: Catalogue): HTMLElement {
  const day = prescription.date ? dayWords(prescription.date) : "";
  return element(
    "article",
    "card",
    element("p", "who", `${who} · ${KINDS[prescription.kind]}`),
    element("h1", "", day),
    element("p", "headline", prescription.headline),
    element("ol", "items", ...prescription.items.map((one) => item(one, catalogue))),
    section("The day", prescription.reasons.map((reason) => reason.sentence)),
    section("Goals", prescription.goalStatuses.map((status) => status.sentence)),
    section(
      "Held back",
      prescription.holdBacks.map((held) => `${catalogue.title(held.rung, [], 0)}: ${held.detail} ${held.openedBy}`),
    ),
    section("Cautions", prescription.cautions),
  );
}

/** One piece of work. */
function item(one: PrescribedItem, catalogue: Catalogue): HTMLElement {
  const { targetLow: low, targetHigh: high, unit } = one;
  const target = low === high ? `${low}` : `${low}–${high}`;
  const stop = one.stopRule?.sentence ?? "";
  return element(
    "li",
    "item",
    element(
      "header",
      "",
      element("span", "part", BLOCKS[one.block]),
      element("h2", "", catalogue.title(one.rung, one.shadings, one.loadKg)),
      element("p", "dose", `${one.sets} × ${target}`, element("small", "", ` ${unitWord(unit, high)}`)),
    ),
    one.expected && expectation(one.expected, one),
    element("ul", "reasons", ...one.reasons.map((reason) => element("li", "", reason.sentence))),
    element("p", "stop", stop),
    one.cues.length > 0 ? element("p", "cues", one.cues.join(" ")) : undefined,
  );
}

/** What is expected, in figures and as a strip: too hard, in band, too easy. A test reaches its target or does not. */
function expectation(expected: Expectation, { block, unit, restSeconds }: PrescribedItem): HTMLElement {
  const range = expected.interval;
  const could = `${amount(expected.medianUnits)} ${unitWord(unit, 2)}`;
  const from = range ? ` (${amount(range.low)} to ${amount(range.high)})` : "";
  const reached = expected.stops.find((one) => one.stop === Stop.TARGET)?.probability ?? 0;
  const parts: Part[] =
    block === Block.TEST
      ? [{ kind: "hard", word: "not reached", share: 1 - reached }, { kind: "band", word: "reached", share: reached }]
      : [
          { kind: "hard", word: "too hard", share: expected.pHard },
          { kind: "band", word: "in band", share: expected.pBand },
          { kind: "easy", word: "too easy", share: expected.pEasy },
        ];
  const wanted = parts.filter(({ kind }) => kind === "band").map(said).join();
  return element(
    "div",
    "expected",
    strip(parts),
    element("p", "", `could do ${could}${from} · `, element("strong", "", wanted), ` · rest ${time(restSeconds)}`),
  );
}

/** A part of what may happen. */
interface Part {
  kind: "hard" | "band" | "easy";
  word: string;
  share: number;
}

function said({ word, share }: Part): string {
  return `${word} ${chance(share)}`;
}

/** All that may happen, side by side. */
function strip(parts: Part[]): HTMLElement {
  const pieces = parts.map(({ kind, share }) => {
    const piece = element("span", kind);
    piece.style.flexGrow = String(share);
    return piece;
  });
  const made = element("span", "strip", ...pieces);
  made.setAttribute("role", "img");
  made.setAttribute("aria-label", parts.map(said).join(", "));
  return made;
}

/** A titled list, or nothing where there is nothing to say. */
function section(title: string, sentences: string[]): HTMLElement | undefined {
  if (sentences.length === 0) return undefined;
  const lines = sentences.map((sentence) => element("li", "", sentence));
  return element("section", title.toLowerCase().replace(" ", "-"), element("h3", "", title), element("ul", "", ...lines));
}
