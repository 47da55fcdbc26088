"""The comparison of check.py must see a planted drift: each test changes one thing and expects it to be named."""

import pathlib
import unittest

import check

STORED = '{"version": "1.2.0", "fit": {"loglik": -702.030222286, "coef": ["1.74932883607", null, true]}, "none": []}'
RUN = check.Run("example", looser=(("/fit/coef", check.Tolerance(1e-3, 0.0)),))


def found(fresh: str) -> list[str]:
    return check.differences(STORED, fresh, RUN)


class Comparison(unittest.TestCase):
    def test_equal_outputs_agree(self):
        self.assertEqual(found(STORED), [])

    def test_a_difference_inside_the_tolerance_agrees(self):
        self.assertEqual(found(STORED.replace("-702.030222286", "-702.030222287")), [])

    def test_a_number_that_drifted_is_named(self):
        drifted = found(STORED.replace("-702.030222286", "-702.0303"))
        self.assertEqual(drifted, ["/fit/loglik: stored -702.030222286, fresh -702.0303"])

    def test_a_number_printed_as_text_is_compared_as_a_number(self):
        self.assertEqual(found(STORED.replace("1.74932883607", "1.7494")), [])
        self.assertEqual(len(found(STORED.replace("1.74932883607", "1.76"))), 1)

    def test_a_looser_place_does_not_loosen_another(self):
        self.assertEqual(len(found(STORED.replace("-702.030222286", "-702.1"))), 1)

    def test_a_version_is_a_word(self):
        self.assertEqual(len(found(STORED.replace("1.2.0", "1.2.1"))), 1)

    def test_true_is_not_one(self):
        self.assertEqual(len(found(STORED.replace("true", "1"))), 1)

    def test_null_is_not_zero(self):
        self.assertEqual(len(found(STORED.replace("null", "0"))), 1)

    def test_not_a_number_agrees_only_with_itself(self):
        nan = STORED.replace("-702.030222286", "NaN")
        self.assertEqual(check.differences(nan, nan, RUN), [])
        self.assertEqual(len(found(nan)), 1)
        self.assertEqual(len(found(STORED.replace("-702.030222286", "-Infinity"))), 1)

    def test_a_lost_key_is_named(self):
        lost = found(STORED.replace('"version": "1.2.0", ', ""))
        self.assertEqual(len(lost), 1)
        self.assertIn("/version", lost[0])

    def test_another_length_is_named(self):
        self.assertIn("structure", found(STORED.replace("null, ", ""))[0])
        self.assertIn("structure", found(STORED.replace("[]", "[1]"))[0])

    def test_an_empty_stored_output_never_agrees(self):
        self.assertEqual(len(check.differences("", "", RUN)), 1)


class PrintedText(unittest.TestCase):
    run_ = check.Run("example", tolerance=check.Tolerance(0.0, 1e-3))

    def test_words_before_an_object_are_compared_too(self):
        self.assertEqual(check.differences('max 1.0\n{"a": 1}', 'max 1.0005\n{"a": 1}', self.run_), [])
        self.assertEqual(len(check.differences('max 1.0\n{"a": 1}', 'max 1.1\n{"a": 1}', self.run_)), 1)
        self.assertEqual(len(check.differences('max 1.0\n{"a": 1}', 'max 1.0\n{"a": 2}', self.run_)), 1)

    def test_words_and_numbers_of_a_table_are_compared(self):
        line = "naive total mass 1.16113 [0.6438 0.2809]"
        self.assertEqual(check.differences(line, line.replace("1.16113", "1.16114"), self.run_), [])
        self.assertEqual(len(check.differences(line, line.replace("0.2809", "0.29"), self.run_)), 1)
        self.assertEqual(len(check.differences(line, line.replace("naive", "plain"), self.run_)), 1)


class OtherProgram(unittest.TestCase):
    def test_a_value_that_stands_nowhere_is_named(self):
        close = check.Tolerance(1e-8, 0.0)
        self.assertEqual(check.missing_from("loglik -702.030222286 scale .33", "/x", [-702.030222286, 0.33], close), [])
        self.assertEqual(len(check.missing_from("loglik -702.030222286", "/x", [-702.1], close)), 1)
        self.assertEqual(len(check.missing_from("loglik -702.030222286", "/x", [], close)), 1)


class Coverage(unittest.TestCase):
    def test_every_stored_output_is_checked(self):
        here = pathlib.Path(check.__file__).parent
        python = {path.name.removesuffix(".py.out") for path in here.glob("*.py.out")}
        self.assertEqual(python, {run.name for run in check.RUNS})
        self.assertEqual({theirs for theirs, *_ in check.SHARED_WITH_R}, {path.name for path in here.glob("*.R.out")})

    def test_a_script_that_fails_is_named(self):
        _, _, lines = check.execute(check.Run("no_such_script"))
        self.assertIn("ended with 2", lines[0])


if __name__ == "__main__":
    unittest.main()
