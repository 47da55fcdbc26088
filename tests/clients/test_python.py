"""The Python client: its example against the service, and a lost answer."""

import datetime

import hall
from client import Client, Refusal, ask, date, request_id, stream, sure
from google.protobuf import json_format
from hall import DAY, CLIENTS, HallCase
from nextrung import v1
from relay import Relay

WREN = "rosters/climbing-hall/athletes/wren"


class Example(HallCase):
    """What the example prints is what the service has."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        command = [CLIENTS / "python" / "run", "--athlete", "kit", "--date", DAY]
        cls.said = hall.started(command, server=cls.hall.url)
        (kept,) = [line for line in cls.said.splitlines() if line.startswith("kept as ")]
        name = kept.removeprefix("kept as rosters/").replace("/athletes/", "/").replace("/prescriptions/", "/")
        answer = hall.nextrung_json("prescriptions", "show", name, server=cls.hall.url)
        cls.prescription = json_format.ParseDict(answer, v1.Prescription())

    def test_sets_are_kept_once_though_they_were_sent_twice(self):
        self.assertIn("recorded: 9 sets, log position 10\nsent again: the same answer, log position 10\n", self.said)
        listed = hall.nextrung_json("sets", "list", "example/kit", server=self.hall.url)
        self.assertEqual(len(listed["sets"]), 12)

    def test_the_prescription_is_shown_with_every_reason(self):
        prescription = self.prescription
        self.assertTrue(prescription.items and prescription.cautions)
        sentences = [reason.sentence for item in prescription.items for reason in item.reasons]
        sentences += [item.stop_rule.sentence for item in prescription.items]
        sentences += [*prescription.cautions, prescription.headline]
        for sentence in sentences:
            self.assertIn(sentence, self.said)

    def test_every_field_of_an_error_is_shown(self):
        self.assertIn("refused: INVALID_ARGUMENT BAD_FIELDS of nextrung: ", self.said)
        for field in ("set_number", "rung", "purpose", "reps", "stop"):
            self.assertRegex(self.said, rf"\n  sets\[0\]\.{field}: .+\n")
        self.assertIn("told under a request id", self.said)

    def test_a_watcher_is_told_the_change(self):
        first, change = [line for line in self.said.splitlines() if line.startswith("told: ")]
        self.assertEqual(first, f"told: {self.prescription.headline}")
        self.assertTrue(len(change) > len("told: ") and change != first, change)


class Losses(HallCase):
    """An answer that is lost on its way does not double a set."""

    def setUp(self):
        self.relay = Relay(self.hall.url.removeprefix("http://"))
        self.addCleanup(self.relay.close)
        self.client = self.enterContext(Client(self.relay.url))

    def listed(self) -> v1.ListSetsResponse:
        return sure(self.client.sets.ListSets, v1.ListSetsRequest(parent=WREN, page_size=1000))

    @staticmethod
    def recording() -> v1.RecordSetsRequest:
        one = v1.LoggedSet(
            client_set_id=request_id(), training_date=date(datetime.date.fromisoformat(hall.TODAY)), set_number=1,
            rung="ladders/pull/rungs/pull-up", purpose=v1.PURPOSE_WORKING, reps=5, stop=v1.STOP_STRENGTH,
        )
        return v1.RecordSetsRequest(parent=WREN, sets=[one], request_id=request_id())

    def test_a_set_whose_answer_was_lost_is_kept_once(self):
        before, request = self.listed(), self.recording()
        self.relay.lose_next_answer()
        answer = sure(self.client.sets.RecordSets, request)
        after = self.listed()
        self.assertEqual(self.relay.lost, 1)
        self.assertEqual(len(after.sets), len(before.sets) + 1)
        self.assertEqual(answer.log_position, before.log_position + 1)
        self.assertEqual(after.log_position, answer.log_position)

    def test_without_another_try_the_caller_is_told(self):
        self.listed()
        self.relay.lose_next_answer()
        with self.assertRaises(Refusal) as caught:
            ask(self.client.sets.RecordSets, self.recording())
        self.assertTrue(caught.exception.may_pass, caught.exception)

    def test_a_refusal_that_stays_is_not_tried_again(self):
        request = v1.GetAthleteRequest(name=WREN + "x")
        with self.assertRaises(Refusal) as caught:
            sure(self.client.athletes.GetAthlete, request)
        self.assertEqual((caught.exception.reason, caught.exception.metadata), ("ATHLETE_NOT_FOUND", {"name": WREN + "x"}))

    def test_a_stream_refuses_as_a_call_does(self):
        answers = stream(self.client.prescriptions.WatchPrescriptions, v1.WatchPrescriptionsRequest(names=[WREN + "x"]))
        with self.assertRaises(Refusal) as caught:
            next(answers)
        self.assertEqual(caught.exception.reason, "ATHLETE_NOT_FOUND")


