// A door for the tests: makes any call of the contract and tells what the page's own code takes out of its refusal.
import { fromJson, type DescMethod, type DescMethodStreaming, type DescMethodUnary, type JsonValue } from "@bufbuild/protobuf";
import { transport } from "./client";
import * as athletes from "./gen/nextrung/v1/athlete_service_pb";
import * as capacities from "./gen/nextrung/v1/capacity_service_pb";
import * as ladders from "./gen/nextrung/v1/ladder_service_pb";
import * as prescriptions from "./gen/nextrung/v1/prescription_service_pb";
import * as replays from "./gen/nextrung/v1/replay_service_pb";
import * as rosters from "./gen/nextrung/v1/roster_service_pb";
import * as sets from "./gen/nextrung/v1/set_log_service_pb";
import { refusalOf, type Refusal } from "./refusal";

const SERVICES = [
  athletes.AthleteService,
  capacities.CapacityService,
  ladders.LadderService,
  prescriptions.PrescriptionService,
  replays.ReplayService,
  rosters.RosterService,
  sets.SetLogService,
];

/** A replay may take long before it refuses. */
const NO_LIMIT = 0;

interface Case {
  service: string;
  method: string;
  key: string;
  request: JsonValue;
}

/** The method of a case; one that the contract does not have is asked for as if it had it, with the request of another. */
function methodOf({ service, method }: Case): DescMethod {
  const found = SERVICES.find((one) => one.name === service)!;
  const known = found.methods.find((one) => one.name === method);
  return known ?? Object.create(found.methods.find((one) => one.name === "GetRoster")!, { name: { value: method } });
}

async function refused(url: string, one: Case): Promise<Refusal | undefined> {
  const method = methodOf(one);
  const request = fromJson(method.input, one.request);
  const to = transport(url, one.key);
  try {
    if (method.methodKind === "server_streaming") {
      const messages = (async function* () {
        yield request;
      })();
      const answers = await to.stream(method as DescMethodStreaming, undefined, NO_LIMIT, undefined, messages);
      for await (const _ of answers.message) continue;
    } else {
      await to.unary(method as DescMethodUnary, undefined, undefined, undefined, request);
    }
  } catch (thrown) {
    return refusalOf(thrown);
  }
  return undefined;
}

Object.assign(globalThis, { refused });
