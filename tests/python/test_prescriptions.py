"""Prescriptions: made from the log, kept as issued, explained from the same state, careful first."""

from contract import api
from service_case import SECONDS, ServiceCase, date, request_id

DAY = (2025, 3, 12)
HISTORY = (((2025, 3, 3), (5, 5, 4)), ((2025, 3, 6), (5, 5, 5)), ((2025, 3, 9), (6, 5, 5)))


class Prescribing(ServiceCase):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        answer = cls.ladders.ListLadders(api.ListLaddersRequest(page_size=1000), timeout=SECONDS)
        cls.rungs = {rung.name: rung for ladder in answer.ladders for rung in ladder.rungs}

    def trained_athlete(self, **more):
        """An athlete with a week of pull-ups near five."""
        athlete = self.new_athlete(goals=[api.Goal(rung="ladders/pull/rungs/one-arm-pull-up")], **more).name
        sets = [self.pull_up(n, reps, day=day) for day, counts in HISTORY for n, reps in enumerate(counts, 1)]
        self.record(athlete, *sets)
        return athlete

    def prescribe(self, athlete: str, day=DAY, request: str = "", validate_only: bool = False):
        request = api.PrescribeRequest(
            parent=athlete, date=date(*day), request_id=request or request_id(), validate_only=validate_only
        )
        return self.prescriptions.Prescribe(request, timeout=SECONDS).prescription

    def test_a_prescription_is_whole(self):
        athlete = self.trained_athlete()
        made = self.prescribe(athlete)
        self.assertTrue(made.name.startswith(f"{athlete}/prescriptions/"))
        self.assertEqual((made.date, made.log_position), (date(*DAY), self.listed(athlete).log_position))
        self.assertIn(made.kind, (api.PRESCRIPTION_KIND_TRAINING, api.PRESCRIPTION_KIND_TEST))
        self.assertTrue(made.items and made.headline and made.cautions and made.model_version and made.policy_version)
        for item in made.items:
            rung = self.rungs[item.rung]
            self.assertEqual(item.unit, rung.unit)
            self.assertTrue(1 <= item.target_low <= item.target_high and item.sets >= 1, item)
            self.assertTrue(item.reasons and all(reason.sentence for reason in item.reasons), item)
            self.assertLessEqual(set(item.shadings), set(rung.shadings))
            expected = item.expected
            self.assertAlmostEqual(expected.p_band + expected.p_easy + expected.p_hard, 1.0, places=6)
            self.assertAlmostEqual(sum(stop.probability for stop in expected.stops), 1.0, places=6)

    def test_the_working_rung_is_near_what_was_shown(self):
        athlete = self.trained_athlete()
        kinds = api.EstimateCapacityRequest(name=athlete, date=date(*DAY), ladders=["ladders/pull"])
        capacity = self.capacities.EstimateCapacity(kinds, timeout=SECONDS)
        (pull_up,) = [rung for rung in capacity.rungs if rung.rung == "ladders/pull/rungs/pull-up"]
        self.assertTrue(4.0 < pull_up.median_units < 8.0, pull_up)
        wide = next(one for one in pull_up.intervals if one.level == 0.95)
        self.assertTrue(wide.low < pull_up.median_units < wide.high)

    def test_the_same_request_again_gives_the_same_prescription(self):
        athlete, same = self.trained_athlete(), request_id()
        first = self.prescribe(athlete, request=same)
        self.assertEqual(self.prescribe(athlete, request=same), first)
        get = api.GetPrescriptionRequest(name=first.name)
        self.assertEqual(self.prescriptions.GetPrescription(get, timeout=SECONDS).prescription, first)
        listing = api.ListPrescriptionsRequest(parent=athlete)
        listed = self.prescriptions.ListPrescriptions(listing, timeout=SECONDS).prescriptions
        self.assertEqual(list(listed), [first])

    def test_validate_only_keeps_nothing(self):
        athlete = self.trained_athlete()
        self.assertEqual(self.prescribe(athlete, validate_only=True).name, "")
        listing = api.ListPrescriptionsRequest(parent=athlete)
        self.assertEqual(len(self.prescriptions.ListPrescriptions(listing, timeout=SECONDS).prescriptions), 0)

    def test_why_answers_from_the_state_of_then(self):
        athlete = self.trained_athlete()
        made = self.prescribe(athlete)
        explain = api.ExplainPrescriptionRequest(name=made.name)
        why = self.prescriptions.ExplainPrescription(explain, timeout=SECONDS).explanation
        self.assertEqual((why.prescription, why.log_position), (made, made.log_position))
        self.assertEqual([item.item_index for item in why.items], list(range(len(made.items))))
        for item, prescribed in zip(why.items, made.items):
            chosen = [candidate for candidate in item.candidates if candidate.chosen]
            self.assertEqual([candidate.rung for candidate in chosen], [prescribed.rung])
            self.assertTrue(item.sentences)
        self.record(athlete, self.pull_up(9, 12, day=(2025, 3, 10)))
        again = self.prescriptions.ExplainPrescription(explain, timeout=SECONDS).explanation
        self.assertEqual(again.SerializeToString(deterministic=True), why.SerializeToString(deterministic=True))

    def test_sets_of_the_day_and_later_do_not_count(self):
        athlete = self.trained_athlete()
        before = self.prescribe(athlete)
        self.record(athlete, self.pull_up(1, 1, day=DAY), self.pull_up(1, 20, day=(2025, 3, 13)))
        after = self.prescribe(athlete)
        self.assertEqual(list(after.items), list(before.items))

    def test_nothing_known_gives_a_test_session(self):
        self.assertEqual(self.prescribe(self.new_athlete().name).kind, api.PRESCRIPTION_KIND_TEST)

    def test_pain_over_the_limit_holds_back_and_is_named(self):
        athlete = self.trained_athlete(limits=api.AthleteLimits(max_pain=4))
        self.record(athlete, self.pull_up(1, 3, day=(2025, 3, 11), stop=api.STOP_PAIN, pain=7))
        made = self.prescribe(athlete)
        held = {back.rung for back in made.hold_backs if back.kind == api.HOLD_BACK_KIND_PAIN}
        self.assertIn("ladders/pull/rungs/pull-up", held)
        self.assertNotIn("ladders/pull/rungs/pull-up", [item.rung for item in made.items])
        self.assertTrue(all(back.detail and back.opened_by for back in made.hold_backs))

    def test_inverted_work_waits_for_its_clearance(self):
        for athlete in (self.trained_athlete(), self.new_athlete().name):
            for item in self.prescribe(athlete).items:
                self.assertFalse(self.rungs[item.rung].inverted, item.rung)

    def test_missing_equipment_is_not_prescribed(self):
        for item in self.prescribe(self.new_athlete(equipment=[]).name).items:
            self.assertEqual(list(self.rungs[item.rung].equipment), [], item.rung)

    def test_a_banned_rung_is_held_back_with_the_coachs_reason(self):
        banned = api.BannedRung(rung="ladders/pull/rungs/pull-up", reason="sore elbow, ask me")
        made = self.prescribe(self.trained_athlete(limits=api.AthleteLimits(banned_rungs=[banned])))
        (held,) = [back for back in made.hold_backs if back.rung == banned.rung]
        self.assertEqual(held.kind, api.HOLD_BACK_KIND_BANNED)
        self.assertIn("sore elbow", held.detail + held.opened_by)
        self.assertNotIn(banned.rung, [item.rung for item in made.items])

    def test_a_bad_date_is_a_bad_field(self):
        request = api.PrescribeRequest(parent=self.new_athlete().name, date=date(1980, 1, 1), request_id=request_id())
        self.assertEqual(list(self.refused(self.prescriptions.Prescribe, request).fields), ["date"])
