"""Every error of the contract reaches every client with its fields intact."""

import dataclasses
import pathlib
import re
import subprocess
import tempfile
import unittest
import urllib.parse

import hall
import refused
from browser import BrowserCase
from client import Client, Refusal, ask, stream
from hall import CLIENTS, Hall, nextrung
from nextrung import v1
from refused import Case

# What is not made here, and why: the rest of the reasons must be.
NOT_MADE = {
    "DATABASE_UNREACHABLE": "needs a PostgreSQL database that goes away",
    "DEADLINE_EXCEEDED": "a client's own deadline runs out first",
    "DISK_FULL": "needs a disk without room; tests/faults has it",
    "INTERNAL": "needs a fault of the service",
    "KEY_EXPIRED": "told like KEY_REVOKED, after a day",
    "LOG_MOVED": "needs others who write all the time",
    "MESSAGE_LATE": "no client sends half a message",
    "NOT_SWEPT": "needs another program in the database's file",
    "STOPPING": "needs a service that is ending",
    "VERSION_NOT_AVAILABLE": "needs ladders of another version",
}


def reasons_of_the_contract() -> set[str]:
    """The reasons in the table of proto/README.md."""
    text = (hall.ROOT / "proto" / "README.md").read_text().split("\n## Errors\n")[1].split("\n## ")[0]
    rows = [line.split("|") for line in text.splitlines() if re.match(r"\| [A-Z]", line)]
    return {word for row in rows for word in re.findall(r"[A-Z][A-Z_]+", row[2])}


class Scene:
    """Two services on the demo's logs, one of which asks for keys, and the calls that each refuses."""

    def __init__(self, folder: pathlib.Path, settings: tuple[str, ...] = ()):
        self._open, self._closed = folder / "open", folder / "closed"
        for place in (self._open, self._closed):
            place.mkdir()
            nextrung("demo", "--keep", str(place))
        self.halls: list[Hall] = []
        self._watching: list = []
        self.settings = settings
        self.cases: dict[str, list[Case]] = {}
        self._by_python: dict[tuple[str, str, str], Refusal] = {}

    def start(self) -> None:
        """Starts both and makes what the cases need."""
        watchers, points = ("--limits-watchers", "1"), ("--limits-key-points", "1", "--limits-key-burst", "250")
        self.halls.append(Hall(self._open, "demo.db", (*self.settings, *watchers)))
        url = self.halls[0].url
        self.cases[url] = refused.without_keys(url)
        watcher = Client(url)
        watch = stream(watcher.prescriptions.WatchPrescriptions, v1.WatchPrescriptionsRequest(names=[refused.WREN]))
        next(watch)
        self._watching += [watch, watcher]
        keys, ids = self._keys()
        self.halls.append(Hall(self._closed, "demo.db", (*self.settings, "--keys", "true", *points)))
        url = self.halls[1].url
        self.cases[url] = refused.with_keys(keys, ids)

    def _keys(self) -> tuple[dict[str, str], dict[str, str]]:
        keys, ids = {}, {}
        database = ("--database", str(self._closed / "demo.db"))
        for name, role in (("coach", "coach"), ("analyst", "analyst"), ("revoked", "coach"), ("busy", "analyst")):
            said = nextrung("key", "make", role, "--of", "climbing-hall", "--title", name, *database)
            (keys[name],) = re.findall(r"\bnextrung-[0-9a-f]{16}-[0-9a-f]{64}\b", said)
            ids[name] = re.search(r"\b[0-9a-f]{16}\b", said).group(0)
        nextrung("key", "revoke", ids["revoked"], *database)
        return keys, ids

    def by_python(self, url: str, case: Case) -> Refusal:
        """What the Python client makes of a case, asked for once."""
        key = (url, case.path, case.reason)
        if key not in self._by_python:
            self._by_python[key] = case.by_python(url)
        return self._by_python[key]

    def tire(self) -> None:
        """Spends what the busy key may spend: a point comes back each second, and the case asks for 200 of them."""
        url, cases = list(self.cases.items())[1]
        (busy,) = [case for case in cases if case.waits]
        with Client(url, busy.key) as client:
            try:
                while True:
                    ask(client.rosters.GetRoster, v1.GetRosterRequest(name=refused.ROSTER))
            except Refusal as refusal:
                assert refusal.reason == busy.reason, refusal

    def end(self) -> None:
        """Ends everything."""
        if self._watching:
            self._watching[0].close()
            self._watching[1].__exit__()
        for one in self.halls:
            one.end()


class Refusing(unittest.TestCase):
    """What clients must make of the cases."""

    scene: Scene

    def holds(self, case: Case, found: Refusal) -> None:
        """Holds a refusal as a client has it against the case and against the bytes as the Python client has them."""
        with self.subTest(case.path, reason=case.reason):
            self.assertEqual((found.code, found.reason, found.domain), (case.code, case.reason, "nextrung"))
            self.assertEqual(set(found.metadata), set(case.metadata))
            for name, value in case.metadata.items():
                self.assertTrue(found.metadata[name] if value == "" else found.metadata[name] == value, found.metadata)
            self.assertEqual(sorted(field for field, _ in found.fields), sorted(case.fields))
            self.assertTrue(all(description for _, description in found.fields))
            self.assertTrue(found.message and found.request_id, found)
            self.assertEqual(found.retry_seconds is not None, case.waits)
            self.assertTrue(not case.waits or 0 < found.retry_seconds < 600, found)

    def same(self, case: Case, url: str, found: Refusal) -> None:
        """Holds it against what the Python client has of the same call, in every field that does not change by the call."""
        with self.subTest(case.path, reason=case.reason):
            other = self.scene.by_python(url, case)
            alike = dict(request_id="", retry_seconds=None)
            if case.waits:
                alike["message"] = ""
            self.assertEqual(dataclasses.replace(found, **alike), dataclasses.replace(other, **alike))


class OfPythonAndJava(Refusing):
    """Clients that speak gRPC."""

    @classmethod
    def setUpClass(cls):
        place = tempfile.TemporaryDirectory(prefix="nextrung-clients-")
        cls.addClassCleanup(place.cleanup)
        cls.folder = pathlib.Path(place.name)
        cls.scene = Scene(cls.folder)
        cls.addClassCleanup(cls.scene.end)
        cls.scene.start()

    def test_every_reason_is_made_or_said_why_not(self):
        made = {case.reason for cases in self.scene.cases.values() for case in cases}
        self.assertEqual(made & set(NOT_MADE), set())
        self.assertEqual(made | set(NOT_MADE), reasons_of_the_contract())

    def test_python_has_every_field(self):
        for url, cases in self.scene.cases.items():
            self.scene.tire()
            for case in cases:
                self.holds(case, self.scene.by_python(url, case))

    def test_java_has_every_field(self):
        classes = hall.started([CLIENTS / "android" / "build"]).strip()
        door = tempfile.mkdtemp(dir=self.folder)
        probe = hall.ROOT / "tests" / "clients" / "android" / "Probe.java"
        hall.started(["javac", "--release", "11", "-classpath", classes, "-d", door, probe])
        for url, cases in self.scene.cases.items():
            self.scene.tire()
            lines = "".join(f"{case.as_line()}\n" for case in cases)
            command = ["java", "-classpath", f"{door}:{classes}", "probe.Probe", url]
            told = subprocess.run(command, input=lines, capture_output=True, text=True, check=True, timeout=300).stdout
            self.assertEqual(len(told.splitlines()), len(cases), told)
            for case, line in zip(cases, told.splitlines()):
                self.assertTrue(line, f"{case.path} was not refused")
                found = self._refusal(line)
                self.holds(case, found)
                self.same(case, url, found)

    @staticmethod
    def _refusal(line: str) -> Refusal:
        told = urllib.parse.parse_qsl(line, keep_blank_values=True, strict_parsing=True)
        one = dict(told)
        wait = int(one["retry_millis"])
        return Refusal(
            one["code"], one["message"], one["reason"], one["domain"],
            {name.removeprefix("metadata "): value for name, value in told if name.startswith("metadata ")},
            [(name.removeprefix("field "), value) for name, value in told if name.startswith("field ")],
            wait / 1000 if wait >= 0 else None, one["request_id"],
        )


class OfBrowsers(Refusing, BrowserCase):
    """The page's client, which speaks gRPC-Web from another origin."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        place = cls.folder / "refusals"
        place.mkdir()
        cls.scene = Scene(place, cls.settings)
        cls.addClassCleanup(cls.scene.end)
        cls.scene.start()

    def test_a_browser_has_every_field(self):
        page = self.page()
        page.goto(f"{self.origin}/door.html")
        page.add_script_tag(url=f"{self.origin}/refusals.js", type="module")
        page.wait_for_function("globalThis.refused !== undefined")
        for url, cases in self.scene.cases.items():
            self.scene.tire()
            for case in cases:
                told = page.evaluate("([url, one]) => refused(url, one)", [url, case.as_json()])
                found = Refusal(
                    told["code"], told["message"], told["reason"], told["domain"], told["metadata"],
                    [(one["field"], one["description"]) for one in told["fields"]],
                    told.get("retrySeconds"), told["requestId"],
                )
                self.holds(case, found)
                self.same(case, url, found)
