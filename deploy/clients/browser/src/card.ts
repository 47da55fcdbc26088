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

/** What is expected, in figures and as a strip: too hard, in band, too easy. */
function expectation(expected: Expectation, { block, unit, restSeconds }: PrescribedItem): HTMLElement {
  const range = expected.interval;
  const could = `${amount(expected.medianUnits)} ${unitWord(unit, 2)}`;
  const from = range ? ` (${amount(range.low)} to ${amount(range.high)})` : "";
  const strip = element("span", "strip");
  const parts: [string, number][] = [["hard", expected.pHard], ["band", expected.pBand], ["easy", expected.pEasy]];
  for (const [kind, share] of parts) {
    const piece = element("span", kind);
    piece.style.flexGrow = String(share);
    strip.append(piece);
  }
  strip.setAttribute("role", "img");
  strip.setAttribute(
    "aria-label",
    `too hard ${chance(expected.pHard)}, in band ${chance(expected.pBand)}, too easy ${chance(expected.pEasy)}`,
  );
  // A test asks whether its target is reached, and more is as good.
  const likely = block === Block.TEST ? `reached ${chance(1 - expected.pHard)}` : `in band ${chance(expected.pBand)}`;
  const rest = ` · rest ${time(restSeconds)}`;
  return element(
    "div",
    "expected",
    strip,
    element("p", "", `could do ${could}${from} · `, element("strong", "", likely), rest),
  );
}

/** A titled list, or nothing where there is nothing to say. */
function section(title: string, sentences: string[]): HTMLElement | undefined {
  if (sentences.length === 0) return undefined;
  const lines = sentences.map((sentence) => element("li", "", sentence));
  return element("section", title.toLowerCase().replace(" ", "-"), element("h3", "", title), element("ul", "", ...lines));
}
