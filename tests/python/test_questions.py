"""The coach's questions as another language asks them: each is answered from the log and keeps nothing."""

import grpc

from contract import api
from service_case import SECONDS, ServiceCase, date

GOAL = "ladders/pull/rungs/one-arm-pull-up"
PULL_UP = "ladders/pull/rungs/pull-up"
LAST = (2025, 3, 28)
NEXT = (2025, 3, 31)


class Asking(ServiceCase):
    def trained_athlete(self):
        """An athlete with four weeks of pull-ups near five, three days a week."""
        athlete = self.new_athlete(goals=[api.Goal(rung=GOAL)]).name
        days = [(2025, 3, day) for day in (3, 5, 7, 10, 12, 14, 17, 19, 21, 24, 26, 28)]
        self.record(athlete, *[self.pull_up(n, reps, day=day) for day in days for n, reps in ((1, 5), (2, 5), (3, 4))])
        return athlete

    def test_what_if_is_what_recording_gives(self):
        athlete = self.trained_athlete()
        before = self.listed(athlete)
        more = [self.pull_up(number, 11, day=(2025, 3, 30)) for number in (1, 2, 3)]
        ask = api.SupposePrescriptionRequest(parent=athlete, date=date(*NEXT), sets=more)
        found = self.prescriptions.SupposePrescription(ask, timeout=SECONDS)
        self.assertEqual(self.listed(athlete), before)
        self.record(athlete, *more)
        look = api.PrescribeRequest(parent=athlete, date=date(*NEXT), request_id="look", validate_only=True)
        made = self.prescriptions.Prescribe(look, timeout=SECONDS).prescription
        self.assertEqual(list(made.items), list(found.supposed.items))
        self.assertNotEqual(list(found.as_is.items), list(found.supposed.items))

    def test_a_week_is_planned_and_planned_again(self):
        athlete = self.trained_athlete()
        ask = api.PlanWeekRequest(parent=athlete, start_date=date(*NEXT))
        plan = self.prescriptions.PlanWeek(ask, timeout=SECONDS).plan
        self.assertEqual([day.date.day for day in plan.days], [31, 1, 2, 3, 4, 5, 6])
        self.assertTrue(plan.wishes and plan.sentences and plan.cautions)
        again = api.PlanWeekRequest(parent=athlete, start_date=date(*NEXT), from_date=date(2025, 4, 2))
        plan = self.prescriptions.PlanWeek(again, timeout=SECONDS).plan
        self.assertEqual([day.is_past for day in plan.days], [True, True] + 5 * [False])

    def test_reviews_trends_and_forecasts_are_answered(self):
        athlete = self.trained_athlete()
        reviews = api.ReviewServiceStub(self.channel)
        ask = api.ReviewLimitersRequest(name=athlete, end_date=date(*LAST), start_date=date(2025, 3, 3))
        review = reviews.ReviewLimiters(ask, timeout=SECONDS).review
        self.assertEqual(len(review.findings), 5)
        self.assertAlmostEqual(sum(finding.probability_first for finding in review.findings), 1.0, places=6)
        gates = reviews.ReviewGates(api.ReviewGatesRequest(name=athlete, date=date(*LAST)), timeout=SECONDS).review
        self.assertTrue(gates.gates and gates.rung == GOAL)
        ask = api.EstimateTrendRequest(name=athlete, end_date=date(*LAST), rungs=[PULL_UP])
        (trend,) = self.capacities.EstimateTrend(ask, timeout=SECONDS).rungs
        self.assertEqual((len(trend.points), trend.failures[0].failures), (12, 36))
        ask = api.EstimateForecastRequest(name=athlete, date=date(*LAST), weeks=8)
        forecast = self.capacities.EstimateForecast(ask, timeout=SECONDS).forecast
        chances = [week.chance_by_then for week in forecast.lines[0].weeks]
        self.assertEqual((len(chances), sorted(chances)), (8, chances))

    def test_a_watcher_is_told_of_a_change(self):
        athlete = self.trained_athlete()
        ask = api.WatchPrescriptionsRequest(names=[athlete], date=date(*NEXT))
        telling = self.prescriptions.WatchPrescriptions(ask, timeout=SECONDS)
        self.assertEqual(next(telling).change, "")
        self.record(athlete, self.pull_up(1, 3, day=(2025, 3, 30), stop=api.STOP_PAIN, pain=7))
        told = next(telling)
        self.assertEqual((told.athlete, told.prescription.kind), (athlete, api.PRESCRIPTION_KIND_HELD_BACK))
        telling.cancel()

    def test_questions_about_nobody_or_nothing_are_refused(self):
        reviews = api.ReviewServiceStub(self.channel)
        aimless = self.new_athlete().name
        ask = api.ReviewLimitersRequest(name=aimless, end_date=date(*LAST))
        refusal = self.refused(reviews.ReviewLimiters, ask)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.FAILED_PRECONDITION, "NO_GOAL"))
        ask = api.EstimateForecastRequest(name=aimless, date=date(2025, 2, 30), rung="ladders/pull/rungs/x", weeks=99)
        self.assertIn("date", self.refused(self.capacities.EstimateForecast, ask).fields)
        nobody = api.PlanWeekRequest(parent=aimless + "x", start_date=date(*NEXT))
        self.assertEqual(self.refused(self.prescriptions.PlanWeek, nobody).reason, "ATHLETE_NOT_FOUND")
