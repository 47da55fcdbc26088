"""Ladders: list, get, and the check of a ladder file."""

import grpc

from contract import api
from service import LADDERS
from service_case import SECONDS, ServiceCase


class Ladders(ServiceCase):
    def all_ladders(self):
        return list(self.ladders.ListLadders(api.ListLaddersRequest(page_size=1000), timeout=SECONDS).ladders)

    def check(self, content: str):
        request = api.CheckLadderRequest(file_name="pull.toml", content=content)
        return self.ladders.CheckLadder(request, timeout=SECONDS)

    def test_every_ladder_file_is_listed(self):
        ladders = self.all_ladders()
        names = [ladder.name for ladder in ladders]
        self.assertEqual(names, sorted(f"ladders/{path.stem}" for path in LADDERS.glob("*.toml")))
        self.assertTrue(all(rung.cues and rung.demands for ladder in ladders for rung in ladder.rungs))

    def test_every_number_of_a_demand_has_its_source(self):
        demands = [demand for ladder in self.all_ladders() for rung in ladder.rungs for demand in rung.demands]
        self.assertGreaterEqual(len(demands), 100)
        self.assertTrue(all(demand.source and demand.basis for demand in demands))

    def test_a_ladder_is_the_same_alone_as_in_the_list(self):
        for ladder in self.all_ladders():
            answer = self.ladders.GetLadder(api.GetLadderRequest(name=ladder.name), timeout=SECONDS)
            self.assertEqual(answer.ladder, ladder)

    def test_an_unknown_ladder_is_not_found(self):
        refusal = self.refused(self.ladders.GetLadder, api.GetLadderRequest(name="ladders/nothing"))
        self.assertEqual((refusal.code, refusal.reason), (grpc.StatusCode.NOT_FOUND, "LADDER_NOT_FOUND"))

    def test_pages_together_are_the_whole_list(self):
        seen, token = [], ""
        while True:
            request = api.ListLaddersRequest(page_size=5, page_token=token)
            page = self.ladders.ListLadders(request, timeout=SECONDS)
            seen += list(page.ladders)
            token = page.next_page_token
            if not token:
                break
        self.assertEqual(seen, self.all_ladders())
        bad = self.refused(self.ladders.ListLadders, api.ListLaddersRequest(page_size=-1, page_token="no token"))
        self.assertEqual(bad.code, grpc.StatusCode.INVALID_ARGUMENT)

    def test_a_sound_file_is_valid(self):
        answer = self.check((LADDERS / "pull.toml").read_text())
        self.assertEqual((answer.valid, list(answer.problems)), (True, []))

    def test_every_problem_of_a_file_is_named_with_its_line(self):
        text = (LADDERS / "pull.toml").read_text()
        lines = text.splitlines()
        version = next(number for number, line in enumerate(lines, 1) if line.startswith("version"))
        unit = next(number for number, line in enumerate(lines, 1) if line.startswith("unit"))
        lines[version - 1] = "version = 0"
        lines[unit - 1] = 'unit = "hold-secnds"'
        answer = self.check("\n".join(lines))
        self.assertFalse(answer.valid)
        self.assertEqual([problem.line for problem in answer.problems], [version, unit])
        for problem in answer.problems:
            self.assertEqual(problem.file_name, "pull.toml")
            self.assertTrue(problem.key and problem.found and problem.expected, problem)
        self.assertIn("hold-seconds", answer.problems[1].suggestion + answer.problems[1].expected)

    def test_a_text_that_is_no_toml_is_an_answer(self):
        answer = self.check('id = "pull\n')
        self.assertFalse(answer.valid)
        self.assertEqual((answer.problems[0].line, answer.problems[0].key), (1, ""))

    def test_an_oversize_file_is_refused(self):
        request = api.CheckLadderRequest(file_name="a.toml", content="#" * ((1 << 20) + 1))
        refusal = self.refused(self.ladders.CheckLadder, request)
        self.assertEqual((refusal.code, list(refusal.fields)), (grpc.StatusCode.INVALID_ARGUMENT, ["content"]))
