"""The running binary: starts it on a free loopback port, waits until it is ready, stops it."""

import os
import pathlib
import queue
import re
import subprocess
import threading

import grpc

from contract import ROOT

DATA = ROOT / "data"
LADDERS = DATA / "ladders"
START_SECONDS = 30
STOP_SECONDS = 20


def binary() -> pathlib.Path:
    """The binary under test, as run.py was told."""
    path = pathlib.Path(os.environ.get("NEXTRUNG_BINARY", ROOT / "target" / "debug" / "nextrung"))
    if not path.is_file():
        raise FileNotFoundError(f"{path} is missing; build it with: cargo build --package nextrung-cli")
    return path


class Service:
    """One process of `nextrung serve` on one database file."""

    def __init__(self, database: pathlib.Path):
        self.database = database
        self.log = database.with_suffix(".log")
        self.address = ""
        self._start()

    def _start(self) -> None:
        command = [binary(), "serve", "--listen", "127.0.0.1:0", "--metrics-listen", "none", "--database", self.database]
        command += ["--data", DATA]
        environment = {name: value for name, value in os.environ.items() if not name.startswith("NEXTRUNG_")}
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                list(map(str, command)), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=log, text=True,
                env=environment,
            )
        lines: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._read, args=(self._process.stdout, lines), daemon=True).start()
        try:
            first = lines.get(timeout=START_SECONDS)
        except queue.Empty:
            first = ""
        ready = re.fullmatch(r"listening on (127\.0\.0\.1:\d+)\n", first)
        if not ready:
            self.kill()
            raise RuntimeError(f"not ready: printed {first!r}, then: {self.log.read_text()[-2000:]}")
        self.address = ready.group(1)

    @staticmethod
    def _read(stream, lines: queue.Queue) -> None:
        """Reads on after the first line too, so that the pipe never fills; an empty line stands for the end."""
        for line in stream:
            lines.put(line)
        lines.put("")
        stream.close()

    def channel(self) -> grpc.Channel:
        """A new plain connection."""
        return grpc.insecure_channel(self.address)

    def stop(self) -> int:
        """Asks it to end (SIGTERM) and gives its exit code; a process that does not end is killed and an error."""
        self._process.terminate()
        try:
            return self._process.wait(STOP_SECONDS)
        except subprocess.TimeoutExpired:
            self.kill()
            said = self.log.read_text()[-2000:]
            raise RuntimeError(f"still running {STOP_SECONDS} s after SIGTERM: {said}") from None

    def kill(self) -> None:
        """Ends it at once, as a crash would."""
        self._process.kill()
        self._process.wait()

    def start_again(self) -> None:
        """Starts it anew on the same database, on another port."""
        self._start()
