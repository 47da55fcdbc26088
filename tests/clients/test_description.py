"""What is asked as the OpenAPI description says is answered as it says, by requests that schemathesis makes up and by sound ones."""

import copy

import hypothesis
import schemathesis
from hypothesis import strategies

import description
import hall
from hall import ROOT, HallCase

# For each operation, each way of making up: as described, and unlike it.
EXAMPLES = 4
SEED = 1
ROSTER, ATHLETE, SET = "climbing-hall", "wren", "7f0c52b8"
LADDER = (ROOT / "data" / "ladders" / "pull.toml").read_text()
DAY = {"year": 2026, "month": 11, "day": 23}
PATH = {"roster": ROSTER, "athlete": ATHLETE, "set": SET, "ladder": "pull"}
# Streams that go on until their reader leaves.
ENDLESS = "WatchPrescriptions"


def dated(*names: str) -> dict:
    """Dates as a query has them."""
    return {f"{name}.{part}": value for name in names for part, value in DAY.items()}


ONE = {
    "clientSetId": SET, "trainingDate": DAY, "setNumber": 1, "rung": "ladders/pull/rungs/pull-up", "purpose": "PURPOSE_WORKING", "reps": 5,
    "stop": "STOP_STRENGTH",
}
# A sound call of every operation, in an order in which each finds what it names: what stands in its query, and its body.
SOUND = {
    "ListRosters": ({}, None),
    "CreateRoster": ({"rosterId": "pier", "requestId": "r-1"}, {"title": "Pier"}),
    "UpdateRoster": ({"updateMask": "title", "requestId": "r-2"}, {"title": "Hall"}),
    "GetRoster": ({}, None),
    "CreateAthlete": ({"athleteId": "newcomer", "requestId": "r-3"}, {"displayName": "Newcomer", "bodyMassKg": 70}),
    "UpdateAthlete": ({"updateMask": "displayName", "requestId": "r-4"}, {"displayName": "Wren"}),
    "GetAthlete": ({}, None),
    "ListAthletes": ({"pageSize": 2}, None),
    "RecordSets": ({}, {"sets": [ONE], "requestId": "r-5"}),
    "CorrectSet": ({}, {"replacement": {**ONE, "reps": 6}, "reason": "miscounted", "requestId": "r-6"}),
    "WithdrawSet": ({}, {"reason": "not mine", "requestId": "r-7"}),
    "ListSets": ({"includeWithdrawn": "true", **dated("startDate", "endDate")}, None),
    "Prescribe": ({}, {"date": DAY, "requestId": "r-8"}),
    "ListPrescriptions": (dated("startDate", "endDate"), None),
    "GetPrescription": ({}, None),
    "ExplainPrescription": ({}, None),
    "SupposePrescription": ({}, {"date": DAY, "pauseDays": 7}),
    "PlanWeek": (dated("startDate"), None),
    "EstimateCapacity": ({**dated("date"), "ladders": "ladders/pull"}, None),
    "EstimateTrend": (dated("endDate"), None),
    "EstimateForecast": ({**dated("date"), "weeks": 2}, None),
    "ReviewLimiters": (dated("endDate"), None),
    "ReviewGates": (dated("date"), None),
    "ListLadders": ({}, None),
    "GetLadder": ({}, None),
    "CheckLadder": ({}, {"fileName": "pull.toml", "content": LADDER}),
    "ReplayRoster": ({}, {"selection": {"athletes": [f"rosters/{ROSTER}/athletes/{ATHLETE}"]}, "seed": "1"}),
    "ExportAthlete": ({}, None),
    "ListAccesses": ({}, None),
    "ListAccesses_1": ({}, None),
    "EraseAthlete": ({}, {"confirmation": f"rosters/{ROSTER}/athletes/newcomer", "requestId": "r-9"}),
}


class Described(HallCase):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.served = description.served(cls.hall.url)
        cls.described = description.Description(cls.served, cls.hall.url)
        cls.operations = cls.described.operations()

    def sound(self, name: str, path: dict, described=None) -> object:
        """The answer to the sound call of an operation."""
        query, body = SOUND[name]
        operation = (described or self.described).operations()[name]
        of_path = {part: value for part, value in path.items() if f"{{{part}}}" in operation.path}
        case = operation.Case(path_parameters=of_path, query=query, **({} if body is None else {"body": body, "media_type": "application/json"}))
        return (described or self.described).ask(name, case)

    def test_a_sound_call_of_every_operation_is_done(self):
        self.assertEqual(set(SOUND) | {ENDLESS}, set(self.operations))
        path = PATH
        for name in SOUND:
            path = {**path, "athlete": "newcomer"} if name == "EraseAthlete" else path
            with self.subTest(name):
                answer = self.sound(name, path)
                self.assertEqual(answer.status_code, 200, answer.content)
                if name == "Prescribe":
                    made = answer.json()["prescription"]["name"]
                    path = {**path, "prescription": made.rpartition("/")[2]}

    def test_whatever_is_made_up_is_answered_as_described(self):
        for name, operation in self.operations.items():
            if name == ENDLESS:
                continue
            # Any text may stand in a path: where there is nothing else, nothing is unlike the description.
            is_of_path = not operation.query and not operation.body
            for mode in [schemathesis.GenerationMode.POSITIVE] if is_of_path else schemathesis.GenerationMode:
                with self.subTest(f"{name} {mode.value}"):
                    self.made_up(name, operation, mode)
        told = {status for statuses in self.described.seen.values() for status in statuses}
        self.assertTrue({200, 400} <= told, self.described.seen)

    def made_up(self, name: str, operation: schemathesis.APIOperation, mode: schemathesis.GenerationMode) -> None:
        """Calls of an operation with as much made up as can be: all of it, and what its sound call does not need."""
        query, _ = SOUND[name]
        known = {part: PATH.get(part, "p") for part in ("roster", "athlete", "set", "ladder") if f"{{{part}}}" in operation.path}
        # Nobody waits for a millisecond: what comes of that is told by other tests.
        wait = {"grpc-timeout": "30S"}
        whole = operation.as_strategy(generation_mode=mode, headers=wait)
        partly = operation.as_strategy(generation_mode=mode, headers=wait, path_parameters=known, query=query)

        @hypothesis.seed(SEED)
        @hypothesis.settings(
            max_examples=EXAMPLES, deadline=None, database=None, phases=[hypothesis.Phase.generate],
            suppress_health_check=list(hypothesis.HealthCheck),
        )
        @hypothesis.given(case=strategies.one_of(whole, partly))
        def ask(case):
            answer = self.described.ask(name, case)
            if mode is schemathesis.GenerationMode.NEGATIVE:
                self.assertGreaterEqual(answer.status_code, 400, f"taken, though unlike the description: {case}")

        ask()

    def test_what_goes_on_tells_by_lines(self):
        answer = description.requests.get(
            f"{self.hall.url}/v1/prescriptions:watch", params={"names": f"rosters/{ROSTER}/athletes/{ATHLETE}"}, stream=True, timeout=60
        )
        self.addCleanup(answer.close)
        first = next(answer.iter_lines())
        self.described.lines(ENDLESS, f"{first.decode()}\n")

    def test_a_description_that_is_not_of_the_service_is_seen(self):
        def changed(change) -> description.Description:
            other = copy.deepcopy(self.served)
            change(other)
            return description.Description(other, self.hall.url)

        def titles_are_numbers(other):
            other["components"]["schemas"]["Roster"]["properties"]["title"] = {"type": "integer"}

        def rosters_have_no_title(other):
            del other["components"]["schemas"]["Roster"]["properties"]["title"]

        def rosters_are_text(other):
            answer = other["paths"]["/v1/rosters/{roster}"]["get"]["responses"]["200"]
            answer["content"] = {"text/plain": {"schema": {"type": "string"}}}

        seen = (schemathesis.core.failures.FailureGroup, description.jsonschema_rs.ValidationError)
        for change in (titles_are_numbers, rosters_have_no_title, rosters_are_text):
            with self.subTest(change.__name__), self.assertRaises(seen):
                self.sound("GetRoster", PATH, changed(change))

        def nothing_is_missing(other):
            del other["paths"]["/v1/rosters/{roster}"]["get"]["responses"]["404"]

        with self.assertRaises(schemathesis.core.failures.FailureGroup):
            self.sound("GetRoster", {"roster": "nowhere"}, changed(nothing_is_missing))

        def errors_have_no_reason(other):
            del other["components"]["schemas"]["ErrorInfo"]["properties"]["reason"]

        def details_are_of_bad_fields(other):
            other["components"]["schemas"]["ErrorDetail"]["oneOf"] = [{"$ref": "#/components/schemas/BadRequest"}]

        for change in (errors_have_no_reason, details_are_of_bad_fields):
            with self.subTest(change.__name__), self.assertRaises(seen):
                self.sound("GetRoster", {"roster": "nowhere"}, changed(change))

        def exports_have_no_end(other):
            del other["components"]["schemas"]["ExportAthleteResponse"]["properties"]["end"]

        with self.assertRaises(description.jsonschema_rs.ValidationError):
            self.sound("ExportAthlete", PATH, changed(exports_have_no_end))


class Guarded(HallCase):
    settings = ("--keys", "true")

    def test_whoever_has_no_key_is_told_as_described(self):
        described = description.Description(description.served(self.hall.url), self.hall.url)
        for name, operation in described.operations().items():
            with self.subTest(name):
                body = {} if SOUND.get(name, ({}, None))[1] is None else {"body": {}, "media_type": "application/json"}
                case = operation.Case(path_parameters={**PATH, "prescription": "p"}, **body)
                self.assertEqual(described.ask(name, case).status_code, 401)
