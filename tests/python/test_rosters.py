"""Rosters and athletes: create, read, list, change, refuse."""

import grpc
from google.protobuf import field_mask_pb2

from contract import api
from service_case import SECONDS, ServiceCase, date, request_id


class Rosters(ServiceCase):
    def test_a_roster_and_an_athlete_are_kept_as_given(self):
        roster = self.new_roster()
        self.assertEqual(self.rosters.GetRoster(api.GetRosterRequest(name=roster.name), timeout=SECONDS).roster, roster)
        goals = [api.Goal(rung="ladders/pull/rungs/one-arm-pull-up", by_date=date(2026, 1, 1))]
        banned = api.BannedRung(rung="ladders/pull/rungs/archer", reason="elbow")
        limits = api.AthleteLimits(max_pain=3, max_sets_per_session=18, max_minutes=75, banned_rungs=[banned])
        days = [api.WEEKDAY_MONDAY, api.WEEKDAY_THURSDAY]
        athlete = self.new_athlete(goals=goals, limits=limits, available_weekdays=days)
        self.assertEqual(list(athlete.available_weekdays), days)
        self.assertEqual(list(athlete.goals), goals)
        self.assertEqual(athlete.limits, limits)
        self.assertEqual(athlete.name.split("/")[2:], ["athletes", "one"])
        read = self.athletes.GetAthlete(api.GetAthleteRequest(name=athlete.name), timeout=SECONDS).athlete
        self.assertEqual(read, athlete)

    def test_creating_again_with_the_same_request_id_answers_the_same(self):
        request = api.CreateRosterRequest(roster_id="again", roster=api.Roster(title="Again"), request_id=request_id())
        first = self.rosters.CreateRoster(request, timeout=SECONDS)
        self.assertEqual(self.rosters.CreateRoster(request, timeout=SECONDS), first)
        request.roster.title = "Other"
        refusal = self.refused(self.rosters.CreateRoster, request)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.ALREADY_EXISTS, "REQUEST_ID_REUSED"))
        request.request_id = request_id()
        refusal = self.refused(self.rosters.CreateRoster, request)
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.ALREADY_EXISTS, "ROSTER_EXISTS"))

    def test_every_bad_field_of_an_athlete_is_named_at_once(self):
        athlete = api.Athlete(display_name="", birth_date=date(2001, 2, 30), body_mass_kg=7.0, equipment=["Bar!"])
        request = api.CreateAthleteRequest(
            parent=self.new_roster().name, athlete_id="Not A Slug", athlete=athlete, request_id=request_id()
        )
        refusal = self.refused(self.athletes.CreateAthlete, request)
        self.assertEqual(refusal.code, grpc.StatusCode.INVALID_ARGUMENT)
        bad = {"display_name", "birth_date", "body_mass_kg", "equipment[0]"}
        self.assertEqual(set(refusal.fields), {"athlete_id"} | {f"athlete.{field}" for field in bad})
        self.assertTrue(all(len(text) > 10 for text in refusal.fields.values()), refusal.fields)

    def test_an_unknown_roster_is_not_found(self):
        refusal = self.refused(self.rosters.GetRoster, api.GetRosterRequest(name="rosters/nobody"))
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.NOT_FOUND, "ROSTER_NOT_FOUND"))
        refusal = self.refused(self.rosters.GetRoster, api.GetRosterRequest(name="nobody"))
        self.assertEqual((refusal.code, list(refusal.fields)), (grpc.StatusCode.INVALID_ARGUMENT, ["name"]))

    def test_pages_together_are_the_whole_list(self):
        names = [self.new_roster().name for _ in range(5)]
        seen, token = [], ""
        while True:
            page = self.rosters.ListRosters(api.ListRostersRequest(page_size=2, page_token=token), timeout=SECONDS)
            self.assertLessEqual(len(page.rosters), 2)
            seen += [roster.name for roster in page.rosters]
            token = page.next_page_token
            if not token:
                break
        self.assertEqual(seen, sorted(seen))
        self.assertLessEqual(set(names), set(seen))
        self.assertEqual(len(seen), len(set(seen)))

    def test_an_update_changes_the_named_fields_alone(self):
        athlete = self.new_athlete()
        changed = api.Athlete(name=athlete.name, body_mass_kg=71.5, display_name="Not named in the mask")
        request = api.UpdateAthleteRequest(
            athlete=changed, update_mask=field_mask_pb2.FieldMask(paths=["body_mass_kg"]), request_id=request_id()
        )
        after = self.athletes.UpdateAthlete(request, timeout=SECONDS).athlete
        self.assertEqual((after.body_mass_kg, after.display_name), (71.5, athlete.display_name))
        request.update_mask.paths[:] = ["create_time"]
        request.request_id = request_id()
        self.assertEqual(self.refused(self.athletes.UpdateAthlete, request).code, grpc.StatusCode.INVALID_ARGUMENT)
