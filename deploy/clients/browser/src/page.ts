// The page: asks for a day of an athlete as its address or its form says, shows the card, and takes sets.
import { toJsonString } from "@bufbuild/protobuf";
import { card } from "./card";
import { Catalogue } from "./catalogue";
import { connect } from "./client";
import { byId } from "./element";
import { dayOf } from "./figure";
import { PrescriptionSchema } from "./gen/nextrung/v1/prescription_pb";
import { notice } from "./notice";
import { refusalOf, sure } from "./refusal";
import { SetForm } from "./set_form";

const form = byId("ask", HTMLFormElement);
const shown = byId("session", HTMLElement);
const sets = new SetForm();

/** Asks for the day that the form says and shows it; nothing is kept by looking. */
async function show(): Promise<void> {
  const { server, athlete, day, key } = Object.fromEntries(new FormData(form)) as Record<string, string>;
  const parent = `rosters/${athlete!.replace("/", "/athletes/")}`;
  const service = connect(server!, key!);
  try {
    const look = { parent, date: dayOf(day!), requestId: crypto.randomUUID(), validateOnly: true };
    const [catalogue, answer] = await Promise.all([
      Catalogue.of(service),
      sure(() => service.prescriptions.prescribe(look)),
    ]);
    const prescription = answer.prescription!;
    shown.replaceChildren(card(prescription, athlete!, catalogue));
    byId("message", HTMLElement).textContent = toJsonString(PrescriptionSchema, prescription, { prettySpaces: 2 });
    document.body.dataset["state"] = "shown";
    await sets.open(service, parent, prescription, catalogue);
  } catch (thrown) {
    shown.replaceChildren(notice(refusalOf(thrown), () => undefined));
    document.body.dataset["state"] = "refused";
  }
}

/** Tomorrow on the wall calendar of whoever looks at the page. */
function tomorrow(): string {
  const day = new Date();
  day.setDate(day.getDate() + 1);
  const two = (part: number) => String(part).padStart(2, "0");
  return `${day.getFullYear()}-${two(day.getMonth() + 1)}-${two(day.getDate())}`;
}

byId("day", HTMLInputElement).value = tomorrow();
for (const [name, value] of new URLSearchParams(location.search)) {
  const field = form.elements.namedItem(name);
  if (field instanceof HTMLInputElement && name !== "key") field.value = value;
}
form.addEventListener("submit", (event) => {
  event.preventDefault();
  void show();
});
if (form.checkValidity()) void show();
