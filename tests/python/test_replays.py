"""A replay as another language reads it: progress, rows and the summary last; cancelling it; why there is nothing to score."""

import grpc

from contract import api
from service_case import SECONDS, ServiceCase


class Replaying(ServiceCase):
    def replays(self):
        return api.ReplayServiceStub(self.channel)

    def test_progress_and_rows_come_first_and_the_summary_last(self):
        athlete = self.new_athlete().name
        roster = athlete.rsplit("/athletes/", 1)[0]
        days = [(2025, 3, day) for day in (3, 5, 7, 10, 12, 14)]
        self.record(athlete, *[self.pull_up(n, reps, day=day) for day in days for n, reps in ((1, 5), (2, 5), (3, 4))])
        ask = api.ReplayRosterRequest(name=roster, with_advice=True, with_rows=True)
        pieces = list(self.replays().ReplayRoster(ask, timeout=SECONDS))
        kinds = [piece.WhichOneof("piece") for piece in pieces]
        self.assertEqual((kinds[0], kinds[-1], kinds.count("summary")), ("progress", "summary", 1))
        progress = [piece.progress for piece in pieces if piece.WhichOneof("piece") == "progress"]
        self.assertEqual({one.reading for one in progress}, {api.REPLAY_READING_LEARNING, api.REPLAY_READING_SCORING})
        self.assertEqual((progress[-1].athletes, progress[-1].total_athletes, progress[-1].sets), (1, 1, 18))
        summary = pieces[-1].summary
        self.assertEqual((summary.counts.sets, summary.counts.sets_scored), (18, 18))
        self.assertEqual([figures.name for figures in summary.forecasters][:2], ["service", "climatology"])
        self.assertEqual([figures.name for figures in summary.advisers], ["service", "two-for-two", "rep-band"])
        self.assertTrue(summary.conclusions and summary.manifest.log.sha256)
        rows = [row for piece in pieces for row in piece.rows.rows]
        self.assertEqual(len(rows), 18 * len(summary.forecasters))
        scores = [row.log_score for row in rows if row.forecaster == "service"]
        self.assertAlmostEqual(sum(scores) / len(scores), summary.forecasters[0].log_score, places=9)

    def test_a_cancelled_replay_leaves_the_service_up(self):
        athlete = self.new_athlete().name
        roster = athlete.rsplit("/athletes/", 1)[0]
        self.record(athlete, self.pull_up(1, 5))
        telling = self.replays().ReplayRoster(api.ReplayRosterRequest(name=roster), timeout=SECONDS)
        self.assertEqual(next(telling).WhichOneof("piece"), "progress")
        telling.cancel()
        self.assertEqual(len(self.listed(athlete).sets), 1)

    def test_where_nothing_is_left_to_score_the_counts_say_why(self):
        athlete = self.new_athlete().name
        roster = athlete.rsplit("/athletes/", 1)[0]
        self.record(athlete, self.pull_up(1, 5))
        selection = api.ReplaySelection(ladders=["ladders/row"])
        with self.assertRaises(grpc.RpcError) as caught:
            list(self.replays().ReplayRoster(api.ReplayRosterRequest(name=roster, selection=selection), timeout=SECONDS))
        self.assertEqual(caught.exception.code(), grpc.StatusCode.FAILED_PRECONDITION)
        self.assertIn("of 1 sets read, 1 on a ladder not asked for", caught.exception.details())
