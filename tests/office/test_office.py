"""Workbooks of the program in an office program: what it opens, shows, prints and saves."""

import csv
import itertools
import json
import os
import pathlib
import re
import shutil
import tempfile
import unittest

import office

# Every sheet of a workbook as a file of its own, comma, quote, UTF-8.
CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
NOTE = '=HYPERLINK("http://127.0.0.1/","x")'
MAP = """[defaults]
purpose = "working"
stop = "other"

[columns]
date = "Date"
athlete = "Who"
exercise = "What"
reps = "Reps"
"""


class Office(unittest.TestCase):
    """One service, one folder, each conversion made once."""

    @classmethod
    def setUpClass(cls):
        cls.folder = pathlib.Path(os.environ.get("NEXTRUNG_KEEP") or tempfile.mkdtemp(prefix="nextrung-office-"))
        cls.folder.mkdir(parents=True, exist_ok=True)
        cls.addClassCleanup(lambda: os.environ.get("NEXTRUNG_KEEP") or shutil.rmtree(cls.folder))
        cls.service = office.Service(cls.folder)
        cls.addClassCleanup(cls.service.stop)
        cls.service.run("record", "climbing-hall/wren", "--date", office.TODAY, "--set", "1", "--rung", "pull/pull-up", "--reps", "4", "--stop", "strength", "--note", NOTE)
        cls.service.run("workbook", "write", "--roster", "climbing-hall", "-o", cls.folder / "out", "--date", "2026-11-23")
        cls.kept()
        cls.wren = cls.folder / "out" / "wren.xlsx"
        cls.overview = cls.folder / "out" / "roster overview.xlsx"
        office.convert("pdf", [cls.wren, cls.overview, cls.log], cls.folder / "pdf")
        office.convert(CSV, [cls.wren, cls.log], cls.folder / "csv")

    @classmethod
    def kept(cls):
        """A workbook made by the office program itself, kept twice, and once more after that program saved it anew."""
        rows = [["Date", "Who", "What", "Reps", "Mine"], ["2026-11-22", "siskin", "pull/pull-up", "5", "=1+1"]]
        source = cls.folder / "source" / "log.csv"
        source.parent.mkdir(exist_ok=True)
        with source.open("w", newline="") as text:
            csv.writer(text).writerows(rows)
        office.convert("xlsx", [source], cls.folder / "keep")
        cls.log = cls.folder / "keep" / "log.xlsx"
        (cls.folder / "map.toml").write_text(MAP)
        cls.before = office.parts(cls.log)
        cls.told = [cls.keep() for _ in range(2)]
        cls.after = office.parts(cls.log)

    @classmethod
    def keep(cls):
        done = cls.service.run("workbook", "keep", cls.folder / "keep", "--roster", "climbing-hall", "--map", cls.folder / "map.toml", "--once", "--date", "2026-11-23", "--json", check=False)
        return json.loads(done.stdout)

    def sheet(self, workbook: pathlib.Path, name: str) -> list[list[str]]:
        with (self.folder / "csv" / f"{workbook.stem}-{name}.csv").open(newline="") as text:
            return list(csv.reader(text))

    def test_an_athletes_workbook_prints_what_the_program_says(self):
        text = office.words(self.folder / "pdf" / "wren.pdf")
        made = json.loads(self.service.run("prescribe", "climbing-hall/wren", "--date", "2026-11-23", "--dry-run", "--json").stdout)
        for sentence in [made["headline"], *made["cautions"], made["items"][0]["reasons"][0]["sentence"]]:
            self.assertIn(" ".join(sentence.split()[:5]), text)
        for part in ["Next session of Wren", "The week of Wren", "What could be done", "median and 80 % range", NOTE]:
            self.assertIn(part, text)
        self.assertNotIn("#NAME?", text)
        self.assertNotIn("Err:", text)

    def test_the_log_comes_out_cell_by_cell(self):
        rows = self.sheet(self.wren, "Log")
        listed = json.loads(self.service.run("sets", "list", "climbing-hall/wren", "--json").stdout)["sets"]
        self.assertTrue(rows[1][0].startswith("Written by nextrung from the log"), rows[1])
        self.assertEqual(len(rows), 3 + len(listed))
        head = rows[2]
        listed.sort(key=lambda logged: [logged["trainingDate"][part] for part in ("year", "month", "day")], reverse=True)
        for row, logged in zip(rows[3:], listed, strict=True):
            cells = dict(zip(head, row, strict=True))
            day = logged["trainingDate"]
            self.assertEqual(cells["date"], f"{day['year']:04}-{day['month']:02}-{day['day']:02}")
            done = logged.get("reps", logged.get("holdSeconds", logged.get("loweringSeconds")))
            self.assertEqual(cells["reps"] or cells["seconds"], str(done or 0))
            self.assertEqual(cells["note"], logged.get("note", ""))
        self.assertEqual(rows[3][head.index("note")], NOTE, "a text, not what the formula would show")

    def test_capacities_come_out_as_numbers_that_the_program_says(self):
        estimate = json.loads(self.service.run("capacity", "climbing-hall/wren", "--date", "2026-11-23", "--json").stdout)
        medians = {f"{rung['medianUnits']:.1f}" for rung in estimate["rungs"]}
        rows = [row for row in self.sheet(self.wren, "Capacity") if len(row) > 4 and re.fullmatch(r"\d+(-\d+)?", row[4])]
        shown = [f"{float(row[1]):.1f}" for row in rows]
        self.assertGreater(len(shown), 10)
        self.assertLessEqual(set(shown), medians)

    def test_no_chart_is_cut_and_every_rung_has_its_label(self):
        rows = self.sheet(self.wren, "Capacity")
        pages = office.pages_of(self.folder / "pdf" / "wren.pdf")
        starts = [number for number, row in enumerate(rows) if row[0] == "rung"]
        self.assertGreater(len(starts), 5)
        for start in starts:
            title, unit = rows[start - 1][0].rsplit(": ", 1)
            names = [row[0] for row in itertools.takewhile(lambda row: row[0], rows[start + 1 :])]
            page = next(page for page in pages if f"{unit.capitalize()} on {title}: median" in page)
            for name in names:
                self.assertGreaterEqual(page.count(name), 2, f"{name} stands in the table and at its bar: {page}")

    def test_a_session_is_one_page_and_the_week_the_next(self):
        pages = office.pages_of(self.folder / "pdf" / "wren.pdf")
        self.assertIn("Next session Page 1 of", pages[0])
        self.assertIn("Week Page 2 of", pages[1])

    def test_an_overview_names_everybody(self):
        text = office.words(self.folder / "pdf" / "roster overview.pdf")
        listed = json.loads(self.service.run("athlete", "list", "climbing-hall", "--json").stdout)["athletes"]
        self.assertGreater(len(listed), 3)
        for athlete in listed:
            self.assertIn(athlete["displayName"], text)
        self.assertIn("no session: held back", text)

    def test_pages_are_one_wide(self):
        for name, most in [("wren", 40), ("roster overview", 6), ("log", 5)]:
            count = len(office.pages_of(self.folder / "pdf" / f"{name}.pdf"))
            self.assertLessEqual(count, most, name)

    def test_a_kept_workbook_has_our_sheet_and_all_of_theirs(self):
        self.assertIn("1 set, new; next session written", self.told[0]["status"])
        self.assertIn("1 set, not new; next session as before", self.told[1]["status"])
        lists = {"[Content_Types].xml", "xl/_rels/workbook.xml.rels", "xl/workbook.xml"}
        self.assertEqual(set(self.after) - set(self.before), {"xl/worksheets/nextrung1.xml"})
        for name, content in self.before.items():
            self.assertEqual(content == self.after[name], name not in lists, name)
        text = office.words(self.folder / "pdf" / "log.pdf")
        for part in ["Written by nextrung", "Next session of Siskin", "pull/pull-up"]:
            self.assertIn(part, text)
        self.assertEqual(self.sheet(self.log, "log")[1][:4], ["2026-11-22", "siskin", "pull/pull-up", "5"])

    def test_our_sheet_is_ours_after_the_office_program_saved_it(self):
        saved = self.folder / "saved"
        office.convert("xlsx", [self.log], saved)
        self.assertNotEqual(office.parts(saved / "log.xlsx"), self.after)
        shutil.copy(saved / "log.xlsx", self.log)
        bytes_before = self.log.read_bytes()
        self.assertIn("1 set, not new; next session as before", self.keep()["status"])
        self.assertEqual(self.log.read_bytes(), bytes_before, "nothing to write")


if __name__ == "__main__":
    unittest.main()
