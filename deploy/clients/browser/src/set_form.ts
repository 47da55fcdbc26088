// The form that records one set. The set has its id until it is kept, and the request until something is changed, so that
// sending it again after a lost answer does no harm.
import type { MessageInitShape } from "@bufbuild/protobuf";
import type { Catalogue } from "./catalogue";
import type { Service } from "./client";
import { byId, element } from "./element";
import { dayWords, unitWord } from "./figure";
import type { Date as Day } from "./gen/nextrung/v1/date_pb";
import { Block, type PrescribedItem, type Prescription } from "./gen/nextrung/v1/prescription_pb";
import { Purpose, type LoggedSet, type LoggedSetSchema } from "./gen/nextrung/v1/set_log_pb";
import { Stop } from "./gen/nextrung/v1/stop_pb";
import { Unit } from "./gen/nextrung/v1/unit_pb";
import { notice } from "./notice";
import { refusalOf, sure } from "./refusal";

const PURPOSES: Record<Block, Purpose> = {
  [Block.UNSPECIFIED]: Purpose.FREE,
  [Block.BALANCE_PRACTICE]: Purpose.PRACTICE,
  [Block.ATTEMPT]: Purpose.ATTEMPT,
  [Block.WORKING]: Purpose.WORKING,
  [Block.TEST]: Purpose.TEST,
};

/** The fields of the page by the fields of a set in the contract. */
const FIELDS: Record<string, string> = {
  rung: "rung",
  reps: "done",
  hold_seconds: "done",
  lowering_seconds: "done",
  stop: "stop",
  planned_target: "target",
  pain: "pain",
  note: "note",
};

/** The form for the sets of one day of one athlete. */
export class SetForm {
  readonly #form = byId("set-form", HTMLFormElement);
  readonly #rung = byId("rung", HTMLSelectElement);
  readonly #stop = byId("stop", HTMLSelectElement);
  readonly #answer = byId("set-answer", HTMLElement);
  readonly #sets = byId("sets", HTMLElement);
  #ids = newIds();
  #day: { service: Service; athlete: string; prescription: Prescription; catalogue: Catalogue } | undefined;

  constructor() {
    this.#form.addEventListener("submit", (event) => {
      event.preventDefault();
      void this.#send();
    });
    this.#rung.addEventListener("change", () => this.#propose());
    this.#form.addEventListener("input", () => (this.#ids.request = crypto.randomUUID()));
  }

  /** Takes the form to a day of an athlete. */
  async open(service: Service, athlete: string, prescription: Prescription, catalogue: Catalogue): Promise<void> {
    this.#day = { service, athlete, prescription, catalogue };
    this.#rung.replaceChildren(
      ...prescription.items.map((item, index) => {
        const option = element("option", "", catalogue.title(item.rung, item.shadings, item.loadKg));
        option.value = String(index);
        return option;
      }),
    );
    this.#form.hidden = prescription.items.length === 0;
    this.#answer.replaceChildren();
    this.#unsayStop();
    this.#propose();
    await this.#list();
  }

  /** Fills in what was planned for the chosen item. */
  #propose(): void {
    const item = this.#item();
    if (item === undefined) return;
    byId("target", HTMLInputElement).value = String(item.targetHigh);
    byId("unit", HTMLElement).textContent = unitWord(item.unit, 2);
  }

  /** How a set ended is said for each anew: nothing is proposed, and what was not said is refused. */
  #unsayStop(): void {
    this.#stop.value = "UNSPECIFIED";
  }

  #item(): PrescribedItem | undefined {
    return this.#day?.prescription.items[Number(this.#rung.value)];
  }

  async #send(): Promise<void> {
    const item = this.#item();
    if (this.#day === undefined || item === undefined) return;
    const { service, athlete, prescription } = this.#day;
    this.#mark([]);
    try {
      const setNumber = nextNumber(await this.#recorded(), this.#ids.set);
      const one = { ...this.#content(item), clientSetId: this.#ids.set, trainingDate: prescription.date!, setNumber };
      const request = { parent: athlete, sets: [one], requestId: this.#ids.request };
      const answer = await sure(() => service.sets.recordSets(request));
      this.#ids = newIds();
      this.#unsayStop();
      const number = answer.sets[0]?.setNumber ?? 0;
      const words = `Recorded: set ${number} of ${dayWords(prescription.date!)}, log position ${answer.logPosition}.`;
      this.#answer.replaceChildren(element("p", "done", words));
      await this.#list();
    } catch (thrown) {
      const refusal = refusalOf(thrown);
      const bad = refusal.fields.map(({ field }) => FIELDS[field.replace(/^sets\[0\]\./, "")]);
      this.#mark(bad.filter((id) => id !== undefined));
      this.#answer.replaceChildren(notice(refusal, label));
    }
  }

  /** What the form has, as a set of the contract; an empty field is not sent. */
  #content(item: PrescribedItem): MessageInitShape<typeof LoggedSetSchema> {
    const { done, stop, target, pain, note } = Object.fromEntries(new FormData(this.#form)) as Record<string, string>;
    const kinds = { [Unit.HOLD_SECONDS]: "holdSeconds", [Unit.LOWERING_SECONDS]: "loweringSeconds" } as const;
    const kind = item.unit === Unit.HOLD_SECONDS || item.unit === Unit.LOWERING_SECONDS ? kinds[item.unit] : "reps";
    return {
      rung: item.rung,
      shadings: item.shadings,
      loadKg: item.loadKg,
      purpose: PURPOSES[item.block],
      stop: Stop[stop as keyof typeof Stop],
      note: note ?? "",
      ...(done ? { done: { case: kind, value: Number(done) } } : {}),
      ...(target ? { plannedTarget: Number(target) } : {}),
      ...(pain ? { pain: Number(pain) } : {}),
    };
  }

  /** Marks the fields that were bad. */
  #mark(ids: string[]): void {
    for (const field of this.#form.querySelectorAll<HTMLElement>("input, select")) {
      field.setAttribute("aria-invalid", String(ids.includes(field.id)));
    }
  }

  /** The sets of the day that are kept. */
  async #recorded(): Promise<LoggedSet[]> {
    const { service, athlete, prescription } = this.#day!;
    const day: Day = prescription.date!;
    const request = { parent: athlete, startDate: day, endDate: day, pageSize: 1000 };
    return (await sure(() => service.sets.listSets(request))).sets;
  }

  async #list(): Promise<void> {
    const { catalogue } = this.#day!;
    const lines = (await this.#recorded()).map((one) => {
      const done = `${one.done.value} ${one.done.case === "reps" ? unitWord(Unit.REPS, one.done.value) : "s"}`;
      return element("li", "", `${catalogue.title(one.rung, one.shadings, one.loadKg)}: ${done}, ended by ${stopWord(one.stop)}`);
    });
    this.#sets.replaceChildren(...lines);
  }
}

/** What the page calls a field of the contract, such as `sets[0].reps`. */
function label(field: string): string | undefined {
  const id = FIELDS[field.replace(/^sets\[0\]\./, "")];
  return document.querySelector(`label[for="${id}"]`)?.firstChild?.textContent?.trim();
}

/** The place of a set in its session: behind all others, or where it is already if it was kept after all. */
function nextNumber(recorded: LoggedSet[], id: string): number {
  const kept = recorded.find((one) => one.clientSetId === id);
  return kept?.setNumber ?? Math.max(0, ...recorded.map((one) => one.setNumber)) + 1;
}

function stopWord(stop: Stop): string {
  return Stop[stop].toLowerCase();
}

function newIds(): { set: string; request: string } {
  return { set: `page-${crypto.randomUUID()}`, request: crypto.randomUUID() };
}
