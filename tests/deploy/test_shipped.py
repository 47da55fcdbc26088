"""The helper's own figures, and the page of settings."""

import unittest

import shipped


class Figures(unittest.TestCase):
    def test_times_after_the_drain_are_those_of_the_code(self):
        self.assertEqual(shipped.LAST_SECONDS, shipped.last_seconds_of_the_code())

    def test_times_are_read(self):
        self.assertEqual(shipped.seconds("1m 5s"), 65)
        self.assertEqual(shipped.seconds("0s"), 0)
        for bad in ("5ms", "5", "", "soon"):
            if bad:
                with self.assertRaises(ValueError):
                    shipped.seconds(bad)

    def test_every_setting_has_a_place_on_the_page(self):
        page = (shipped.DEPLOY / "SETTINGS.md").read_text()
        for key in shipped.settings():
            self.assertIn(f"\n## `{key}`\n", page)
