"""Calls that the service refuses, each with what the contract's page says of it, for every client to make."""

import base64
import dataclasses
import datetime

import grpc
import hall
from client import Client, Refusal, ask, date, request_id, stream, sure
from google.protobuf import json_format
from google.protobuf.message import Message
from nextrung import v1

ROSTER = "rosters/climbing-hall"
WREN = f"{ROSTER}/athletes/wren"
PULL_UP = "ladders/pull/rungs/pull-up"


@dataclasses.dataclass
class Case:
    """A call that is refused, and with what."""

    service: str
    method: str
    request: Message
    code: str
    reason: str
    metadata: dict[str, str] = dataclasses.field(default_factory=dict)
    fields: tuple[str, ...] = ()
    key: str = ""
    waits: bool = False

    @property
    def path(self) -> str:
        """The method as HTTP/2 has it, without the first slash."""
        return f"nextrung.v1.{self.service}/{self.method}"

    def as_line(self) -> str:
        """For a client of bytes: path, key and the request in base64."""
        request = base64.b64encode(self.request.SerializeToString()).decode()
        return f"{self.path}\t{self.key}\t{request}"

    def as_json(self) -> dict:
        """For a client of JSON."""
        request = json_format.MessageToDict(self.request)
        return {"service": self.service, "method": self.method, "key": self.key, "request": request}

    def by_python(self, url: str) -> Refusal:
        """What the Python client makes of it."""
        with Client(url, self.key) as client:
            stubs = {
                "AthleteService": client.athletes,
                "CapacityService": client.capacities,
                "LadderService": client.ladders,
                "PrescriptionService": client.prescriptions,
                "ReplayService": client.replays,
                "RosterService": client.rosters,
                "SetLogService": client.sets,
            }
            method = getattr(stubs[self.service], self.method, None) or grpc.insecure_channel(
                url.removeprefix("http://")
            ).unary_unary(f"/{self.path}", request_serializer=lambda message: message.SerializeToString())
            try:
                if isinstance(method, grpc.UnaryStreamMultiCallable):
                    list(stream(method, self.request))
                else:
                    ask(method, self.request)
            except Refusal as refusal:
                return refusal
        raise AssertionError(f"{self.path} was not refused")


def a_set(client_set_id: str, **fields) -> v1.LoggedSet:
    """A set of pull-ups of the last day."""
    known = dict(
        client_set_id=client_set_id,
        training_date=date(datetime.date.fromisoformat(hall.TODAY)),
        set_number=1,
        rung=PULL_UP,
        purpose=v1.PURPOSE_WORKING,
        reps=5,
        stop=v1.STOP_STRENGTH,
    )
    return v1.LoggedSet(**(known | fields))


def recording(*sets: v1.LoggedSet, parent: str = WREN) -> v1.RecordSetsRequest:
    """A request to record them, for the first athlete of the demo unless another is named."""
    return v1.RecordSetsRequest(parent=parent, sets=sets, request_id=request_id())


def without_keys(url: str) -> list[Case]:
    """Cases of a service that asks for no key; what they need is made first."""
    nobody, nowhere, reused = f"{ROSTER}/athletes/nobody", "rosters/nowhere", request_id()
    aimless, withdrawn = f"{ROSTER}/athletes/aimless", f"{WREN}/sets/withdrawn"

    def roster(title: str, id_of_request: str) -> v1.CreateRosterRequest:
        return v1.CreateRosterRequest(roster_id="other", roster=v1.Roster(title=title), request_id=id_of_request)

    def athlete(athlete_id: str, parent: str = ROSTER) -> v1.CreateAthleteRequest:
        new = v1.Athlete(display_name="Aimless")
        return v1.CreateAthleteRequest(parent=parent, athlete_id=athlete_id, athlete=new, request_id=request_id())

    def withdrawal(name: str) -> v1.WithdrawSetRequest:
        return v1.WithdrawSetRequest(name=name, reason="miscounted", request_id=request_id())

    with Client(url) as client:
        sure(client.rosters.CreateRoster, roster("Other", reused))
        sure(client.athletes.CreateAthlete, athlete("aimless"))
        sure(client.athletes.CreateAthlete, athlete("one", "rosters/other"))
        sure(client.sets.RecordSets, recording(a_set("only"), parent="rosters/other/athletes/one"))
        sure(client.sets.RecordSets, recording(a_set("withdrawn")))
        sure(client.sets.WithdrawSet, withdrawal(withdrawn))
    bad = a_set("bad", set_number=0, rung=PULL_UP + "x", reps=400, stop=v1.STOP_UNSPECIFIED)
    worse = a_set("worse", hold_seconds=3, note="n" * 1001, pain=11)
    fields = ["sets[0].set_number", "sets[0].rung", "sets[0].reps", "sets[0].stop", "sets[1].hold_seconds"]
    fields += ["sets[1].note", "sets[1].pain"]
    day = v1.Date(year=2026, month=11, day=22)
    selection = v1.ReplaySelection(athletes=[f"{nobody}-1", f"{nobody}-2"])
    long_ago = v1.ReplaySelection(end_date=v1.Date(year=2001, month=1, day=1))
    bad_request, not_found, exists = "INVALID_ARGUMENT", "NOT_FOUND", "ALREADY_EXISTS"

    def about(name: str) -> dict[str, str]:
        return {"name": name}

    return [
        Case("SetLogService", "RecordSets", recording(bad, worse), bad_request, "BAD_FIELDS", fields=tuple(fields)),
        Case("SetLogService", "ListSets", v1.ListSetsRequest(parent=WREN, page_token="x"), bad_request, "BAD_PAGE_TOKEN"),
        Case("RosterService", "GetRoster", v1.GetRosterRequest(name=nowhere), not_found, "ROSTER_NOT_FOUND", about(nowhere)),
        Case("AthleteService", "GetAthlete", v1.GetAthleteRequest(name=nobody), not_found, "ATHLETE_NOT_FOUND", about(nobody)),
        Case(
            "AthleteService", "ExportAthlete", v1.ExportAthleteRequest(name=nobody), not_found, "ATHLETE_NOT_FOUND",
            about(nobody),
        ),
        Case(
            "ReplayService", "ReplayRoster", v1.ReplayRosterRequest(name=ROSTER, selection=selection), not_found,
            "ATHLETE_NOT_FOUND", {"name": f"{nobody}-1", "names": f"{nobody}-1,{nobody}-2"},
        ),
        Case(
            "LadderService", "GetLadder", v1.GetLadderRequest(name="ladders/none"), not_found, "LADDER_NOT_FOUND",
            about("ladders/none"),
        ),
        Case("SetLogService", "WithdrawSet", withdrawal(f"{WREN}/sets/none"), not_found, "SET_NOT_FOUND", about(f"{WREN}/sets/none")),
        Case(
            "PrescriptionService", "GetPrescription", v1.GetPrescriptionRequest(name=f"{WREN}/prescriptions/none"),
            not_found, "PRESCRIPTION_NOT_FOUND", about(f"{WREN}/prescriptions/none"),
        ),
        Case("RosterService", "CreateRoster", roster("Other", request_id()), exists, "ROSTER_EXISTS", about("rosters/other")),
        Case("AthleteService", "CreateAthlete", athlete("aimless"), exists, "ATHLETE_EXISTS", about(aimless)),
        Case("RosterService", "CreateRoster", roster("Another", reused), exists, "REQUEST_ID_REUSED", {"request_id": reused}),
        Case(
            "SetLogService", "RecordSets", recording(a_set("wren-2026-05-25-01"), a_set("wren-2026-05-25-02")), exists,
            "SET_ID_REUSED", {"client_set_ids": "wren-2026-05-25-01,wren-2026-05-25-02"},
        ),
        Case("SetLogService", "WithdrawSet", withdrawal(withdrawn), "FAILED_PRECONDITION", "SET_WITHDRAWN", about(withdrawn)),
        Case(
            "CapacityService", "EstimateForecast", v1.EstimateForecastRequest(name=aimless, date=day),
            "FAILED_PRECONDITION", "NO_GOAL", about(aimless),
        ),
        Case(
            "ReplayService", "ReplayRoster", v1.ReplayRosterRequest(name="rosters/other", selection=long_ago),
            "FAILED_PRECONDITION", "NOTHING_TO_SCORE", {"why": ""},
        ),
        Case("RosterService", "Nothing", v1.GetRosterRequest(name=ROSTER), "UNIMPLEMENTED", "METHOD_UNKNOWN"),
        Case(
            "SetLogService", "RecordSets", recording(a_set("long", note="n" * 5_000_000)), "RESOURCE_EXHAUSTED",
            "MESSAGE_TOO_LARGE",
        ),
        Case(
            "PrescriptionService", "WatchPrescriptions", v1.WatchPrescriptionsRequest(names=[WREN]),
            "RESOURCE_EXHAUSTED", "TOO_BUSY",
        ),
    ]


def with_keys(keys: dict[str, str], ids: dict[str, str]) -> list[Case]:
    """Cases of a service that asks for keys. Of `keys` the one named `revoked` was revoked and `busy` has nothing left; `ids`
    has what the service calls them."""
    roster, recorded = v1.GetRosterRequest(name=ROSTER), recording(a_set("never"))
    replay = v1.ReplayRosterRequest(name=ROSTER)
    name, log = ("RosterService", "GetRoster"), ("SetLogService", "RecordSets")
    unknown, denied = "UNAUTHENTICATED", "PERMISSION_DENIED"
    elsewhere = v1.GetRosterRequest(name="rosters/elsewhere")
    return [
        Case(*name, roster, unknown, "KEY_MISSING"),
        Case(*name, roster, unknown, "KEY_UNKNOWN", key=keys["coach"][:-4] + "aaaa"),
        Case(*name, roster, unknown, "KEY_REVOKED", {"key": ids["revoked"]}, key=keys["revoked"]),
        Case(*log, recorded, denied, "ROLE_MISSING", {"role": "analyst", "roles": ""}, key=keys["analyst"]),
        Case(*name, elsewhere, denied, "OUT_OF_REACH", {"name": "rosters/elsewhere"}, key=keys["coach"]),
        Case("ReplayService", "ReplayRoster", replay, "RESOURCE_EXHAUSTED", "KEY_TOO_BUSY", key=keys["busy"], waits=True),
    ]
