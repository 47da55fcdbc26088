"""A running service for a test: on a database of its own or on the demo's, on a free port, with the day fixed."""

import json
import os
import pathlib
import re
import subprocess
import tempfile
import threading
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
CLIENTS = ROOT / "deploy" / "clients"
# The day after the last one of the demo's logs, and the day that is prescribed for.
TODAY = "2026-11-22"
DAY = "2026-11-23"
LONGEST_SECONDS = 120


def binary() -> pathlib.Path:
    """The binary under test, as run.py was told."""
    return pathlib.Path(os.environ["NEXTRUNG_BINARY"])


def made() -> pathlib.Path:
    """The folder for everything that is generated or built."""
    return pathlib.Path(os.environ["CLIENTS_BUILD"])


def clean() -> dict[str, str]:
    """The environment without settings of a service or of a client."""
    return {name: value for name, value in os.environ.items() if not name.startswith("NEXTRUNG_")}


class Hall:
    """One process of `nextrung serve`; `url` is where it listens."""

    def __init__(self, folder: pathlib.Path, database: str = "hall.db", settings: tuple[str, ...] = ()):
        self._log = folder / "serve.log"
        command = [binary(), "serve", "--listen", "127.0.0.1:0", "--metrics-listen", "none", "--today", TODAY]
        command += ["--database", folder / database, *settings]
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                list(map(str, command)), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=log, text=True, env=clean()
            )
        watchdog = threading.Timer(LONGEST_SECONDS, self._process.kill)
        watchdog.start()
        first = self._process.stdout.readline()
        watchdog.cancel()
        ready = re.fullmatch(r"listening on (127\.0\.0\.1:\d+)\n", first)
        if not ready:
            self.end()
            raise RuntimeError(f"not ready: printed {first!r}, then: {self._log.read_text()[-2000:]}")
        self.url = f"http://{ready.group(1)}"

    def end(self) -> None:
        """Ends it at once."""
        self._process.kill()
        self._process.wait()
        self._process.stdout.close()

    def said(self) -> str:
        """Its log."""
        return self._log.read_text()


def nextrung(*arguments: str, server: str = "", cwd: pathlib.Path | None = None, key: str = "") -> str:
    """What the command line prints; an error with what it said when it fails."""
    variables = clean() | ({"NEXTRUNG_SERVER": server} if server else {}) | ({"NEXTRUNG_KEY": key} if key else {})
    command = [str(binary()), *arguments]
    done = subprocess.run(
        command, env=variables, cwd=cwd, capture_output=True, text=True, check=False, timeout=LONGEST_SECONDS
    )
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)} ended with {done.returncode}: {done.stderr}{done.stdout}")
    return done.stdout


def nextrung_json(*arguments: str, server: str) -> dict:
    """What the command line answers, as JSON."""
    return json.loads(nextrung(*arguments, "--json", server=server))


def started(command: list, server: str = "", **more) -> str:
    """What a program prints that must end well."""
    variables = clean() | ({"NEXTRUNG_SERVER": server} if server else {})
    done = subprocess.run(
        list(map(str, command)), env=variables, capture_output=True, text=True, check=False, timeout=LONGEST_SECONDS, **more
    )
    if done.returncode != 0:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stderr[-4000:]}{done.stdout[-4000:]}")
    return done.stdout


class HallCase(unittest.TestCase):
    """Every class of tests has a service of its own on the demo's half year of logs."""

    settings: tuple[str, ...] = ()

    @classmethod
    def setUpClass(cls):
        place = tempfile.TemporaryDirectory(prefix="nextrung-clients-")
        cls.addClassCleanup(place.cleanup)
        cls.folder = pathlib.Path(place.name)
        nextrung("demo", "--keep", str(cls.folder))
        cls.hall = Hall(cls.folder, "demo.db", cls.settings)
        cls.addClassCleanup(cls.hall.end)
