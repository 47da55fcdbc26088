// The connection: a client for each service that the page asks, over gRPC-Web, with the key in every call.
import { createClient, type Client, type Interceptor } from "@connectrpc/connect";
import { createGrpcWebTransport } from "@connectrpc/connect-web";
import { LadderService } from "./gen/nextrung/v1/ladder_service_pb";
import { PrescriptionService } from "./gen/nextrung/v1/prescription_service_pb";
import { SetLogService } from "./gen/nextrung/v1/set_log_service_pb";

/** Longer than the service works on any single answer. */
const LONGEST_MS = 30_000;

/** A client for each service that the page asks. */
export interface Service {
  ladders: Client<typeof LadderService>;
  prescriptions: Client<typeof PrescriptionService>;
  sets: Client<typeof SetLogService>;
}

/** The transport to a service at `url`; `key` is empty where it asks for none. */
export function transport(url: string, key: string) {
  const withKey: Interceptor = (next) => (request) => {
    if (key !== "") request.header.set("authorization", `Bearer ${key}`);
    return next(request);
  };
  return createGrpcWebTransport({ baseUrl: url, interceptors: [withKey], defaultTimeoutMs: LONGEST_MS });
}

/** Nothing is sent before the first call. */
export function connect(url: string, key: string): Service {
  const to = transport(url, key);
  return {
    ladders: createClient(LadderService, to),
    prescriptions: createClient(PrescriptionService, to),
    sets: createClient(SetLogService, to),
  };
}
