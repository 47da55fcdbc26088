"""The systemd unit: its exposure score, its syntax, its times and settings."""

import configparser
import pathlib
import re
import shutil
import subprocess
import tempfile
import unittest

import shipped

UNIT = shipped.DEPLOY / "systemd" / "nextrung.service"
# `systemd-analyze security` goes from 0 (nothing is exposed) to 10; seen with systemd 252: 1.1.
MOST_EXPOSED = 1.2


def exposure(unit: pathlib.Path) -> float:
    command = ["systemd-analyze", "security", "--offline=true", "--no-pager", str(unit)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return float(re.search(r"Overall exposure level for \S+: ([\d.]+)", done.stdout).group(1))


def lines() -> configparser.ConfigParser:
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str
    parser.read(UNIT)
    return parser


class Unit(unittest.TestCase):
    def test_little_is_exposed(self):
        self.assertLessEqual(exposure(UNIT), MOST_EXPOSED)

    def test_a_laxer_unit_scores_worse(self):
        with tempfile.TemporaryDirectory() as folder:
            lax = pathlib.Path(folder) / UNIT.name
            kept = [line for line in UNIT.read_text().splitlines() if not line.startswith(("ProtectSystem", "DynamicUser"))]
            lax.write_text("\n".join(kept))
            self.assertGreater(exposure(lax), MOST_EXPOSED)

    def test_systemd_understands_every_line(self):
        with tempfile.TemporaryDirectory() as folder:
            # The program's own place is not filled on a machine that only tests.
            text = UNIT.read_text().replace("/usr/bin/nextrung", shutil.which("true"))
            unit = pathlib.Path(folder) / UNIT.name
            unit.write_text(text)
            command = ["systemd-analyze", "verify", "--man=no", str(unit)]
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            self.assertNotIn(UNIT.name, done.stdout + done.stderr)
            unit.write_text(text.replace("ProtectHome=", "ProtectHouse="))
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            self.assertIn("ProtectHouse", done.stderr)

    def test_its_settings_are_sound_and_its_stop_is_waited_for(self):
        service = lines()["Service"]
        self.assertEqual(service["Restart"], "on-failure", "a store that stopped for good ends the program with code 4")
        config = service["ExecStart"].split(" --config ")[1]
        self.assertEqual(config, "/etc/nextrung/nextrung.toml")
        settings = shipped.settings(UNIT.with_name("nextrung.toml"))
        self.assertTrue(settings["database"].startswith("/var/lib/" + service["StateDirectory"] + "/"))
        self.assertGreater(shipped.seconds(service["TimeoutStopSec"]), shipped.longest_stop(settings))
        self.assertTrue(settings["listen"].startswith("127.0.0.1:"), "IPAddressAllow lets localhost in alone")
