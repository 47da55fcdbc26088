"""A reader at a page: a shell in which its blocks are run in order, with further terminals for what does not end."""

import contextlib
import io
import os
import pathlib
import signal
import socket
import subprocess
import threading
import unittest.mock

import hall
from blocks import Block
from hall import ROOT

# Commands that go on until they are ended, each in a terminal of its own; the first line says that they are ready.
ENDLESS = ("nextrung serve", "deploy/clients/browser/run")
# Where pages say that the service and the page for browsers are. They are given ports of their own, so that tests disturb
# nobody.
SERVICE, PAGE = "127.0.0.1:7878", "127.0.0.1:8080"
LONGEST_SECONDS = 240


def free_addresses() -> tuple[str, str]:
    """Two addresses on which nobody listens."""
    with socket.create_server(("127.0.0.1", 0)) as one, socket.create_server(("127.0.0.1", 0)) as other:
        return tuple(f"127.0.0.1:{listener.getsockname()[1]}" for listener in (one, other))


class Terminal:
    """A folder with the repository's own beside the page's files, the program in PATH, and a shell that keeps its variables."""

    def __init__(self, folder: pathlib.Path):
        self._folder = folder
        self._address, self._page = free_addresses()
        for name in ("data", "deploy", "proto"):
            (folder / name).symlink_to(ROOT / name)
        programs = folder / ".programs"
        programs.mkdir()
        (programs / "nextrung").symlink_to(hall.binary())
        self._variables = hall.clean() | {
            "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}",
            "NEXTRUNG_SERVER": f"http://{self._address}",
        }
        self._started: list[subprocess.Popen] = []
        self._names: dict = {"__name__": "page"}
        self._shell = self._open("exec 2>&1; set -euo pipefail\n")
        self._end = "end of block"

    def _open(self, first: str, **variables: str) -> subprocess.Popen:
        shell = subprocess.Popen(
            ["bash", "--noprofile", "--norc"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            text=True, cwd=self._folder, env=self._variables | variables, start_new_session=True,
        )
        self._started.append(shell)
        shell.stdin.write(first)
        shell.stdin.flush()
        return shell

    def run(self, block: Block) -> str:
        """What a block prints; an error when a command of it fails."""
        text = block.text.replace(SERVICE, self._address).replace(PAGE, self._page)
        return self._run(block, text).replace(self._address, SERVICE).replace(self._page, PAGE)

    def _run(self, block: Block, text: str) -> str:
        if block.kind == "python":
            return self._python(text)
        if text.startswith(ENDLESS):
            return self._endless(text)
        self._shell.stdin.write(f"{text}\nprintf '\\n%s\\n' '{self._end}'\n")
        self._shell.stdin.flush()
        watchdog = threading.Timer(LONGEST_SECONDS, os.killpg, (self._shell.pid, signal.SIGKILL))
        watchdog.start()
        printed = ""
        for line in self._shell.stdout:
            if line == f"{self._end}\n":
                watchdog.cancel()
                return printed.removesuffix("\n")
            printed += line
        watchdog.cancel()
        raise RuntimeError(f"line {block.line}: a command failed, or took too long: {block.text}{printed}")

    def _endless(self, text: str) -> str:
        """Starts a command that goes on; gives its first line."""
        variables = {"NEXTRUNG_LISTEN": self._address, "NEXTRUNG_METRICS_LISTEN": "none"}
        shell = self._open(f"exec 2>/dev/null; exec {text}", **variables)
        watchdog = threading.Timer(LONGEST_SECONDS, os.killpg, (shell.pid, signal.SIGKILL))
        watchdog.start()
        first = shell.stdout.readline()
        watchdog.cancel()
        if not first:
            raise RuntimeError(f"it ended at once: {text}")
        return first

    def _python(self, text: str) -> str:
        """Runs Python as a program would that has the client in its path."""
        printed = io.StringIO()
        server = {"NEXTRUNG_SERVER": self._variables["NEXTRUNG_SERVER"]}
        with unittest.mock.patch.dict(os.environ, server), contextlib.redirect_stdout(printed):
            exec(compile(text, "<page>", "exec"), self._names)
        return printed.getvalue()

    def close(self) -> None:
        """Ends everything that was started."""
        for shell in reversed(self._started):
            with contextlib.suppress(ProcessLookupError):
                os.killpg(shell.pid, signal.SIGKILL)
            shell.wait()
            shell.stdin.close()
            shell.stdout.close()
