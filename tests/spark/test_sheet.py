"""The walk over a sheet that the job does before Spark's more forgiving reader."""

import array
import json
import pathlib
import tempfile
import unittest

import replay

HEADER = "athlete,reps,note"


class Walks(unittest.TestCase):
    """A sheet's form, and where it is none."""

    def walk(self, content: str | bytes) -> replay.Form:
        """The form of a sheet of this content."""
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder, "sets.csv")
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
            return replay.walk(path)

    def assert_refused(self, content: str | bytes, *words: str) -> None:
        """No sheet: the trouble names all of this."""
        with self.assertRaises(replay.Trouble) as caught:
            self.walk(content)
        for word in words:
            self.assertIn(word, str(caught.exception))

    def test_rows_are_counted_as_a_spreadsheet_shows_them(self):
        for line_break in ("\n", "\r\n", "\r"):
            lines = ["", HEADER, 'wren,1,"two\nlines, and ""quotes"""', "", "", "wren,2,", ",,", "wren,3,"]
            form = self.walk("\ufeff" + line_break.join(lines))
            self.assertEqual((form.separator, form.header), (",", ["athlete", "reps", "note"]))
            self.assertEqual((form.header_record, form.records), (0, 5))
            self.assertEqual([form.row(record) for record in range(5)], [2, 3, 6, 7, 8])

    def test_the_first_row_with_words_is_the_header(self):
        form = self.walk(f",,\n{HEADER}\nwren,1,\n")
        self.assertEqual((form.header_record, form.records), (1, 3))

    def test_the_first_line_decides_the_separator(self):
        form = self.walk(HEADER.replace(",", ";") + "\nwren;1;a,b,c,d\n")
        self.assertEqual((form.separator, form.records), (";", 2))

    def test_quotes_that_readers_take_differently_are_refused(self):
        for row in ('wren,1,"open', 'wren,1,5" high', 'wren,"1"x,', 'wren,1, "late"'):
            self.assert_refused(f"{HEADER}\nwren,1,\n{row}\nwren,2,\n", "row[3]", "quote")

    def test_what_is_no_text_and_what_is_empty_is_refused(self):
        self.assert_refused(f"{HEADER}\nwren,1,caf\u00e9\n".encode("latin-1"), "row[2]", "UTF-8")
        for content in ("", "\n\n", ",,\n"):
            self.assert_refused(content, "expected a header row")


class Failures(unittest.TestCase):
    """What parts say, in the rows of the sheet."""

    form = replay.Form(",", ["athlete"], 0, 100, [10])

    def part(self, number: int, code: int, said: str, records: list[int]) -> replay.Outcome:
        """A part that failed."""
        return replay.Outcome(number, "here", "a", "b", 2, len(records), b"", code, said, array.array("q", records))

    def test_each_problem_is_told_at_its_row_of_the_sheet(self):
        said = json.dumps({"error": {"message": "", "fields": [
            {"field": "row[2].stop", "description": "found x"}, {"field": "row[4]", "description": "found 2 cells"},
        ]}})
        trouble = replay.failures([self.part(3, 2, said, [7, 9, 50])], self.form, "sets.csv")
        lines = str(trouble).splitlines()
        self.assertEqual(lines[0], "sets.csv has problems in 2 rows")
        self.assertEqual(lines[1], "part 3 (2 athletes, a to b; 3 rows; on here)")
        self.assertEqual(lines[2], "  row[8].stop: found x (row 2 of the part)")
        self.assertEqual(lines[3], "  row[52]: found 2 cells (row 4 of the part)")
        self.assertEqual(trouble.code, 2)

    def test_what_is_no_answer_of_the_binary_is_told_as_it_is(self):
        trouble = replay.failures([self.part(0, 127, "no such loader", [1])], self.form, "sets.csv")
        self.assertIn("  no such loader", str(trouble))
        self.assertEqual(trouble.code, 127)
        self.assertIsNone(replay.failures([self.part(0, 0, "", [1])], self.form, "sets.csv"))
