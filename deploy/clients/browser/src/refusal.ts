// What the service said when it refused a call, with every field, and calls that are repeated until it is sure.
import { Code, ConnectError } from "@connectrpc/connect";
import { BadRequestSchema, ErrorInfoSchema, RetryInfoSchema } from "./gen/google/rpc/error_details_pb";

/** Match on code and reason, never on the message. */
export interface Refusal {
  /** The name of the gRPC code, such as INVALID_ARGUMENT. */
  code: string;
  /** For people; its wording may change. */
  message: string;
  /** The reason, such as BAD_FIELDS; empty when the error was not made by the service. */
  reason: string;
  /** `nextrung` for errors that the service made. */
  domain: string;
  /** What it is about, such as the name of the resource. */
  metadata: Record<string, string>;
  /** Every bad field, such as `sets[3].hold_seconds`, with what was expected and how to mend it. */
  fields: { field: string; description: string }[];
  /** How long to wait before the next try, when the service says so. */
  retrySeconds: number | undefined;
  /** The id of the call in the service's log: tell it to whoever runs the service. */
  requestId: string;
}

/** Takes the details out of whatever a call threw. */
export function refusalOf(thrown: unknown): Refusal {
  const error = ConnectError.from(thrown);
  const [info] = error.findDetails(ErrorInfoSchema);
  const [retry] = error.findDetails(RetryInfoSchema);
  return {
    code: Code[error.code]!.replace(/(?<=[a-z])(?=[A-Z])/g, "_").toUpperCase(),
    message: error.rawMessage,
    reason: info?.reason ?? "",
    domain: info?.domain ?? "",
    metadata: { ...info?.metadata },
    fields: error
      .findDetails(BadRequestSchema)
      .flatMap((bad) => bad.fieldViolations)
      .map(({ field, description }) => ({ field, description })),
    retrySeconds: retry?.retryDelay && Number(retry.retryDelay.seconds) + retry.retryDelay.nanos / 1e9,
    requestId: error.metadata.get("x-request-id") ?? "",
  };
}

/** Whether the same request may succeed later. A write is sent again with the same requestId. */
export function mayPass(refusal: Refusal): boolean {
  if (refusal.code === "RESOURCE_EXHAUSTED") return refusal.reason !== "MESSAGE_TOO_LARGE";
  return ["UNAVAILABLE", "DEADLINE_EXCEEDED", "ABORTED"].includes(refusal.code) || isLost(refusal);
}

/** A browser does not say why a connection came to nothing; then no answer came from the service. */
function isLost(refusal: Refusal): boolean {
  return refusal.code === "UNKNOWN" && refusal.reason === "";
}

/** Waits between tries, in seconds. */
const PAUSES = [0.2, 0.5, 1, 2];

/** Calls until the service has answered yes or no, or five tries came to nothing. */
export async function sure<Answer>(call: () => Promise<Answer>): Promise<Answer> {
  for (const pause of PAUSES) {
    try {
      return await call();
    } catch (thrown) {
      const refusal = refusalOf(thrown);
      if (!mayPass(refusal)) throw thrown;
      const seconds = Math.max(refusal.retrySeconds ?? 0, pause * (1 + Math.random() / 2));
      await new Promise((go) => setTimeout(go, seconds * 1000));
    }
  }
  return call();
}
