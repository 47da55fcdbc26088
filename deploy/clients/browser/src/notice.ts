// What a refused call said, for a person: what to mend by field, and what to tell whoever runs the service.
import { element } from "./element";
import type { Refusal } from "./refusal";

/** A notice of a refusal. `labels` has what the page calls a field of the contract. */
export function notice(refusal: Refusal, labels: (field: string) => string | undefined): HTMLElement {
  const { code, reason, message, metadata, fields, requestId } = refusal;
  const about = Object.entries(metadata).map(([name, value]) => `${name}: ${value}`);
  return element(
    "div",
    "notice",
    element("p", "code", [code, reason].filter((word) => word !== "").join(" · ")),
    fields.length === 0 ? element("p", "message", message) : undefined,
    about.length === 0 ? undefined : element("p", "about", about.join(", ")),
    element(
      "dl",
      "fields",
      ...fields.flatMap(({ field, description }) => [
        element("dt", "", labels(field) ?? field, element("code", "", field)),
        element("dd", "", description),
      ]),
    ),
    requestId === "" ? undefined : element("p", "request", `request ${requestId}`),
  );
}
