"""The log of sets: record, record again, list, correct, withdraw, refuse."""

import concurrent.futures

import grpc

from contract import api
from service_case import MONDAY, SECONDS, ServiceCase, date, request_id

INVALID = grpc.StatusCode.INVALID_ARGUMENT


class Recording(ServiceCase):
    def test_a_batch_is_kept_in_the_order_in_which_it_counts(self):
        athlete = self.new_athlete().name
        later = self.pull_up(1, 6, day=(2025, 3, 5))
        answer = self.record(athlete, later, self.pull_up(2, 4, reps_in_reserve=1, stop=api.STOP_CHOSEN), self.pull_up(1, 5))
        self.assertEqual([one.client_set_id for one in answer.sets][0], later.client_set_id)
        listed = self.listed(athlete)
        self.assertEqual([one.reps for one in listed.sets], [5, 4, 6])
        self.assertEqual(listed.log_position, answer.log_position)
        self.assertTrue(all(one.state == api.SET_STATE_ACTIVE and one.sequence > 0 for one in listed.sets))
        self.assertTrue(all(one.name == f"{athlete}/sets/{one.client_set_id}" for one in listed.sets))

    def test_the_same_request_again_answers_the_same_and_changes_nothing(self):
        athlete, same = self.new_athlete().name, request_id()
        first = self.record(athlete, self.pull_up(1, 5), request=same)
        again = self.record(athlete, self.pull_up(1, 5), request=same)
        self.assertEqual(again, first)
        self.assertEqual(len(self.listed(athlete).sets), 1)
        other = api.RecordSetsRequest(parent=athlete, sets=[self.pull_up(1, 6)], request_id=same)
        refusal = self.refused(self.log.RecordSets, other)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.ALREADY_EXISTS, "REQUEST_ID_REUSED"))

    def test_the_same_request_many_times_at_once_is_recorded_once(self):
        athlete, same = self.new_athlete().name, request_id()
        with concurrent.futures.ThreadPoolExecutor(8) as pool:
            calls = [pool.submit(self.record, athlete, self.pull_up(1, 5), request=same) for _ in range(16)]
            answers = [call.result() for call in calls]
        self.assertTrue(all(answer == answers[0] for answer in answers))
        self.assertEqual(len(self.listed(athlete).sets), 1)

    def test_the_same_set_in_a_new_request_changes_nothing_and_another_under_its_id_is_refused(self):
        athlete = self.new_athlete().name
        first = self.record(athlete, self.pull_up(1, 5))
        again = self.record(athlete, self.pull_up(1, 5))
        self.assertEqual((again.log_position, list(again.sets)), (first.log_position, list(first.sets)))
        other = api.RecordSetsRequest(parent=athlete, sets=[self.pull_up(1, 6)], request_id=request_id())
        refusal = self.refused(self.log.RecordSets, other)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.ALREADY_EXISTS, "SET_ID_REUSED"))

    def test_validate_only_stores_nothing(self):
        athlete = self.new_athlete().name
        answer = self.record(athlete, self.pull_up(1, 5), validate_only=True)
        self.assertEqual((answer.sets[0].sequence, answer.sets[0].reps), (0, 5))
        self.assertEqual(len(self.listed(athlete).sets), 0)

    def test_pages_and_days_select_sets(self):
        athlete = self.new_athlete().name
        days = [(2025, 3, day) for day in range(3, 10)]
        self.record(athlete, *[self.pull_up(number, 5, day=day) for day in days for number in (1, 2, 3)])
        seen, token = [], ""
        while True:
            request = api.ListSetsRequest(parent=athlete, page_size=4, page_token=token)
            page = self.log.ListSets(request, timeout=SECONDS)
            seen += list(page.sets)
            token = page.next_page_token
            if not token:
                break
        self.assertEqual(seen, list(self.listed(athlete).sets))
        self.assertEqual(len(seen), 21)
        some = self.listed(athlete, start_date=date(2025, 3, 4), end_date=date(2025, 3, 5)).sets
        self.assertEqual([one.training_date.day for one in some], [4, 4, 4, 5, 5, 5])

    def test_a_thousand_sets_are_one_batch(self):
        athlete = self.new_athlete().name
        days = [(2024, month, day) for month in range(1, 13) for day in range(1, 22)]
        sets = [self.pull_up(number, 5, day=day) for day in days for number in (1, 2, 3, 4)][:1000]
        self.assertEqual(len(self.record(athlete, *sets).sets), 1000)


class Changing(ServiceCase):
    def test_a_corrected_set_counts_with_its_new_content(self):
        athlete = self.new_athlete().name
        recorded = self.record(athlete, self.pull_up(1, 5))
        replacement = self.pull_up(1, 6, client_set_id="")
        request = api.CorrectSetRequest(
            name=recorded.sets[0].name, replacement=replacement, reason="miscounted", request_id=request_id()
        )
        answer = self.log.CorrectSet(request, timeout=SECONDS)
        self.assertEqual(answer.set.state, api.SET_STATE_CORRECTED)
        self.assertEqual((answer.set.reps, answer.set.change_reason), (6, "miscounted"))
        self.assertEqual((answer.set.name, answer.set.sequence), (recorded.sets[0].name, recorded.sets[0].sequence))
        self.assertGreater(answer.log_position, recorded.log_position)
        self.assertEqual(self.log.CorrectSet(request, timeout=SECONDS), answer)
        self.assertEqual(list(self.listed(athlete).sets), [answer.set])

    def test_a_withdrawn_set_no_longer_counts_and_cannot_be_changed(self):
        athlete = self.new_athlete().name
        name = self.record(athlete, self.pull_up(1, 5), self.pull_up(2, 4)).sets[0].name
        request = api.WithdrawSetRequest(name=name, reason="another athlete's", request_id=request_id())
        answer = self.log.WithdrawSet(request, timeout=SECONDS)
        self.assertEqual(answer.set.state, api.SET_STATE_WITHDRAWN)
        self.assertEqual([one.reps for one in self.listed(athlete).sets], [4])
        self.assertEqual(len(self.listed(athlete, include_withdrawn=True).sets), 2)
        self.assertEqual(self.log.WithdrawSet(request, timeout=SECONDS), answer)
        correct = api.CorrectSetRequest(
            name=name, replacement=self.pull_up(1, 6), reason="late", request_id=request_id()
        )
        refusal = self.refused(self.log.CorrectSet, correct)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.FAILED_PRECONDITION, "SET_WITHDRAWN"))

    def test_an_unknown_set_is_not_found(self):
        name = f"{self.new_athlete().name}/sets/never"
        request = api.WithdrawSetRequest(name=name, reason="why", request_id=request_id())
        refusal = self.refused(self.log.WithdrawSet, request)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.NOT_FOUND, "SET_NOT_FOUND"))


class Refusing(ServiceCase):
    def refusal(self, *sets, athlete: str = ""):
        """The refusal of a batch, after which nothing may have been stored."""
        athlete = athlete or self.new_athlete().name
        refusal = self.refused(
            self.log.RecordSets, api.RecordSetsRequest(parent=athlete, sets=sets, request_id=request_id())
        )
        self.assertEqual(len(self.listed(athlete).sets), 0)
        return refusal

    def test_every_bad_field_of_every_set_is_named(self):
        first = self.pull_up(1, -1, reps_in_reserve=11, pain=12)
        second = self.pull_up(2, 5)
        third = self.pull_up(300, 5, training_date=date(2025, 2, 29), load_kg=1000.0)
        refusal = self.refusal(first, second, third)
        self.assertEqual(refusal.code, INVALID)
        bad = {
            "sets[0].reps",
            "sets[0].reps_in_reserve",
            "sets[0].pain",
            "sets[2].set_number",
            "sets[2].training_date",
            "sets[2].load_kg",
        }
        self.assertEqual(set(refusal.fields), bad)

    def test_an_unknown_rung_is_a_bad_field(self):
        refusal = self.refusal(self.pull_up(1, 5), self.pull_up(2, 5, rung="ladders/pull/rungs/pull-upp"))
        self.assertEqual((refusal.code, list(refusal.fields)), (INVALID, ["sets[1].rung"]))
        self.assertIn("pull-up", refusal.fields["sets[1].rung"])

    def test_a_broken_enum_number_is_a_bad_field(self):
        refusal = self.refusal(self.pull_up(1, 5, stop=99, purpose=-7))
        self.assertEqual((refusal.code, set(refusal.fields)), (INVALID, {"sets[0].stop", "sets[0].purpose"}))

    def test_a_value_that_was_not_given_is_a_bad_field(self):
        refusal = self.refusal(self.pull_up(1, 5, stop=api.STOP_UNSPECIFIED))
        self.assertEqual((refusal.code, list(refusal.fields)), (INVALID, ["sets[0].stop"]))

    def test_the_unit_of_the_rung_is_asked_for(self):
        wrong = self.pull_up(1, 5)
        wrong.hold_seconds = 20
        refusal = self.refusal(wrong)
        self.assertEqual(refusal.code, INVALID)
        self.assertEqual(len(refusal.fields), 1)

    def test_a_target_stop_needs_its_target(self):
        refusal = self.refusal(self.pull_up(1, 5, stop=api.STOP_TARGET))
        self.assertEqual((refusal.code, list(refusal.fields)), (INVALID, ["sets[0].planned_target"]))

    def test_a_number_that_is_none_is_a_bad_field(self):
        refusal = self.refusal(self.pull_up(1, 5, load_kg=float("nan"), body_mass_kg=float("inf")))
        self.assertEqual((refusal.code, set(refusal.fields)), (INVALID, {"sets[0].load_kg", "sets[0].body_mass_kg"}))

    def test_an_oversize_batch_is_refused(self):
        sets = [self.pull_up(1, 5, client_set_id=f"s-{number}") for number in range(1001)]
        refusal = self.refusal(*sets)
        self.assertEqual((refusal.code, list(refusal.fields)), (INVALID, ["sets"]))

    def test_a_thousand_bad_sets_come_back_readable(self):
        sets = [self.pull_up(1, -1, client_set_id=f"s-{number}", note="\N{CAT FACE}") for number in range(1000)]
        refusal = self.refusal(*sets)
        self.assertEqual((refusal.code, refusal.reason), (INVALID, "BAD_FIELDS"))
        *named, rest = refusal.fields
        self.assertEqual(named, [f"sets[{number}].reps" for number in range(len(named))])
        self.assertGreaterEqual(len(named), 20)
        self.assertTrue(refusal.fields[rest].startswith(f"{1000 - len(named)} more"), refusal.fields[rest])

    def test_broken_utf_8_is_a_bad_field(self):
        athlete = self.new_athlete().name
        request = api.RecordSetsRequest(
            parent=athlete, sets=[self.pull_up(1, 5, note="broken")], request_id=request_id()
        )
        call = self.channel.unary_unary(
            "/nextrung.v1.SetLogService/RecordSets",
            request_serializer=lambda request: request.SerializeToString().replace(b"broken", b"br\xff\xfeen"),
            response_deserializer=api.RecordSetsResponse.FromString,
        )
        refusal = self.refused(call, request)
        self.assertEqual((refusal.code, refusal.reason), (INVALID, "BAD_FIELDS"))
        self.assertEqual(list(refusal.fields), ["sets.note"])
        self.assertEqual(len(self.listed(athlete).sets), 0)

    def test_an_empty_batch_is_refused(self):
        refusal = self.refusal()
        self.assertEqual((refusal.code, list(refusal.fields)), (INVALID, ["sets"]))

    def test_an_oversize_message_is_refused(self):
        refusal = self.refusal(self.pull_up(1, 5, note="x" * (8 << 20)))
        self.assertEqual(refusal.code, grpc.StatusCode.RESOURCE_EXHAUSTED)

    def test_an_unknown_athlete_is_not_found(self):
        parent = f"{self.new_roster().name}/athletes/nobody"
        request = api.RecordSetsRequest(parent=parent, sets=[self.pull_up(1, 5, day=MONDAY)], request_id=request_id())
        refusal = self.refused(self.log.RecordSets, request)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.NOT_FOUND, "ATHLETE_NOT_FOUND"))

    def test_a_request_without_an_id_is_refused(self):
        request = api.RecordSetsRequest(parent=self.new_athlete().name, sets=[self.pull_up(1, 5)])
        refusal = self.refused(self.log.RecordSets, request)
        self.assertEqual((refusal.code, list(refusal.fields)), (INVALID, ["request_id"]))
