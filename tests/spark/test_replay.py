"""Replays on a cluster against replays of one process."""

import csv
import io
import json
import os
import pathlib
import re
import subprocess
import tempfile
import unittest

from cluster import LOOPBACK, WORKERS, Cluster

ROOT = pathlib.Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "demo"
ATHLETES = 26


def run(*words: object, wanted: int = 0) -> subprocess.CompletedProcess:
    """Runs a program to its end."""
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, timeout=120)
    if done.returncode != wanted:
        raise AssertionError(f"{words} ended with {done.returncode}: {done.stderr[-3000:]}")
    return done


def nextrung(verb: str, *words: object, wanted: int = 0) -> subprocess.CompletedProcess:
    """Runs the binary."""
    return run(os.environ["NEXTRUNG_BINARY"], "replay", verb, *words, wanted=wanted)


def text_of(rows: list[list[str]]) -> str:
    """Rows as a sheet; an empty row is an empty line."""
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n").writerows(rows)
    return text.getvalue()


def mixed_up(rows: list[list[str]]) -> list[list[str]]:
    """The rows with athletes in turn, each one's in their order, empty rows here and there, and notes that hold line breaks,
    quotes and separators. The notes are invented."""
    queues: dict[str, list[list[str]]] = {}
    for row in rows:
        queues.setdefault(row[0], []).append(row)
    found = []
    for turn in range(max(map(len, queues.values()))):
        found += [queue[turn] for queue in queues.values() if turn < len(queue)]
    for number, row in enumerate(found):
        row[-1] = {0: 'felt "light",\nthen slow', 1: "a; b", 2: "\r\n,,\r\n", 3: '"'}.get(number % 11, "")
    return [row for number, row in enumerate(found) for row in ([[], row] if number % 97 == 0 else [row])]


class Replays(unittest.TestCase):
    """One cluster and one simulated roster for all."""

    @classmethod
    def setUpClass(cls):
        cls.folder = pathlib.Path(cls.enterClassContext(tempfile.TemporaryDirectory(prefix="nextrung-spark-")))
        cls.cluster = cls.enterClassContext(Cluster(cls.folder))
        run(os.environ["NEXTRUNG_SIMULATE"], "--data", ROOT / "data", "roster", "--family", "all", "--athletes", ATHLETES,
            "--weeks", "8", "--seed", "5", "--out", cls.folder / "roster")
        cls.athletes = cls.folder / "roster" / "athletes.toml"
        cls.header, *rows = csv.reader(io.StringIO((cls.folder / "roster" / "sets.csv").read_text(), newline=""))
        cls.rows = mixed_up(rows)
        cls.sheet = cls.folder / "roster" / "mixed up.csv"
        cls.sheet.write_text(text_of([cls.header, *cls.rows]), newline="")

    def test_all_listen_on_loopback_alone(self):
        self.assertEqual(self.cluster.listening(), {LOOPBACK})

    def test_demo_roster(self):
        files = ["--athletes", DEMO / "athletes.toml"]
        nextrung("files", "--sets", DEMO / "sets.csv", *files, "--out", self.folder / "demo-one")
        out = self.folder / "demo-many"
        address = f"file://{DEMO / 'sets.csv'}"
        self.submit("--ship", "--sets", address, *files, "--parts", WORKERS, "--out", out)
        self.assert_same(self.folder / "demo-one", out)
        self.assert_on_both_workers()

    def test_simulated_roster(self):
        rules = self.folder / "rules.toml"
        rules.write_text("keep_margin = 0.0\n")
        flags = ["--policy", f"keen={rules}", "--warm-up-days", "20", "--seed", "7", "--to", "2026-02-20"]
        files = ["--athletes", self.athletes, *flags]
        one, many, kept = (self.folder / name for name in ("one", "many", "kept"))
        nextrung("files", "--sets", self.sheet, *files, "--out", one)
        self.submit("--sets", self.sheet, *files, "--parts", "4", "--keep-parts", kept, "--out", many)
        self.assert_same(one, many)
        self.assert_on_both_workers()

        parts = [set(json.loads(path.read_text())["part"]["athletes"]) for path in sorted(kept.glob("score-*.json"))]
        self.assertEqual(len(parts), 4)
        self.assertEqual(sum(map(len, parts)), len(set().union(*parts)), "an athlete stands in one part")
        self.assertEqual(set().union(*parts), {row[0] for row in self.rows if row})

        # The same parts by hand: joined lessons give the figures, a part's own lessons give others.
        learned = sorted(kept.glob("learn-*.json"))
        joined = self.folder / "learned.json"
        nextrung("join-learned", *learned, "--out", joined)
        for name, lessons, is_same in (("all", [joined] * 4, True), ("own", learned, False)):
            found = self.score_by_hand(name, parts, lessons, files, flags)
            self.assertEqual(found == (one / "summary.json").read_bytes(), is_same, f"lessons of {name}")

    def test_an_athlete_in_two_parts_is_refused(self):
        files = ["--athletes", self.athletes, "--no-advice"]
        halves = []
        for half in range(2):
            sheet = self.folder / f"half-{half}.csv"
            sheet.write_text(text_of([self.header, *[row for row in self.rows if row][half * 700 : (half + 1) * 700]]))
            lessons, scored = self.folder / f"half-{half}-learned.json", self.folder / f"half-{half}-scored.json"
            nextrung("learn", "--sets", sheet, *files, "--out", lessons)
            nextrung("score", "--learned", lessons, "--sets", sheet, *files, "--out", scored)
            halves.append(scored)
        done = nextrung("join", *halves, "--no-advice", "--out", self.folder / "halves", wanted=2)
        self.assertRegex(done.stderr, "stands\\s+in\\s+another\\s+part")

    def test_bad_rows_are_named_by_their_place_in_the_sheet(self):
        bad = [list(row) for row in self.rows]
        at = [number for number, row in enumerate(bad) if row][1200:2700:500]
        bad[at[0]][self.header.index("stop")] = "strenth"
        bad[at[1]][self.header.index("training_date")] = "2026-02-30"
        bad[at[2]] = bad[at[2]][:3]
        sheet = self.folder / "bad.csv"
        sheet.write_text(text_of([self.header, *bad]), newline="")
        nothing = self.folder / "nothing"
        nothing.mkdir()
        files = ["--sets", sheet, "--athletes", self.athletes, "--no-advice", "--out"]
        told = json.loads(nextrung("files", "--json", *files, self.folder / "bad-one", wanted=2).stderr)["error"]["fields"]
        rows = sorted(int(re.match(r"row\[(\d+)\]", field["field"])[1]) for field in told)
        self.assertEqual(rows, [number + 2 for number in at])

        said = self.submit(*files, nothing / "bad", "--parts", "4", wanted=2).stdout
        lines = re.findall(r"^  (row\[(\d+)\]\S* .*) \(row (\d+) of the part\)$", said, re.MULTILINE)
        wanted = sorted(f"{field['field']}: {field['description']}" for field in told)
        self.assertEqual(sorted(line for line, _, _ in lines), wanted, said[-3000:])
        self.assertTrue(all(int(row) > int(of_part) for _, row, of_part in lines), lines)
        self.assertRegex(said, r"(?m)^part \d \(\d+ athletes, athlete-\d+ to athlete-\d+; \d+ rows; on \S+\)$")
        self.assertEqual(list(nothing.iterdir()), [])

    def submit(self, *words: object, wanted: int = 0) -> subprocess.CompletedProcess:
        """Runs the job, which must end with a code."""
        done = self.cluster.submit("--binary", os.environ["NEXTRUNG_BINARY"], *words)
        self.assertEqual(done.returncode, wanted, (done.stdout + done.stderr)[-4000:])
        return done

    def assert_same(self, one: pathlib.Path, many: pathlib.Path) -> None:
        """The same files with the same bytes."""
        names = sorted(path.name for path in one.iterdir())
        self.assertIn("summary.json", names)
        self.assertEqual(sorted(path.name for path in many.iterdir()), names)
        for name in names:
            self.assertEqual((one / name).read_bytes() == (many / name).read_bytes(), True, name)

    def assert_on_both_workers(self) -> None:
        """Each of the two readings ran on each of the two workers."""
        tasks = self.cluster.tasks()
        stages = {stage for stage, _ in tasks}
        self.assertEqual(len(stages), 2, tasks)
        for stage in stages:
            self.assertEqual(len({worker for at, worker in tasks if at == stage}), WORKERS, tasks)

    def score_by_hand(self, name: str, parts: list[set[str]], lessons: list, files: list, flags: list) -> bytes:
        """Scores parts one after the other, each with these lessons, and joins them."""
        scored = []
        for number, (athletes, learned) in enumerate(zip(parts, lessons, strict=True)):
            sheet = self.folder / f"{name}-{number}.csv"
            rows = [row for row in self.rows if row and row[0] in athletes]
            sheet.write_text(text_of([self.header, *rows]), newline="")
            scored.append(self.folder / f"{name}-{number}.json")
            nextrung("score", "--learned", learned, "--sets", sheet, *files, "--out", scored[-1])
        hashes = [f"--hash-of={path}" for path in (self.sheet, self.athletes)]
        nextrung("join", *scored, *hashes, *flags, "--out", self.folder / name)
        return (self.folder / name / "summary.json").read_bytes()
