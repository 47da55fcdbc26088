"""The cluster: a standalone master and two workers of one core each, by Spark's own classes, on loopback alone."""

import atexit
import json
import os
import pathlib
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request

import pyspark

HOME = pathlib.Path(pyspark.__file__).parent
JOB = pathlib.Path(__file__).resolve().parents[2] / "deploy" / "spark" / "replay.py"
LOOPBACK = "127.0.0.1"
WORKERS = 2
MEMORY = "512m"
START_SECONDS = 60
JOB_SECONDS = 150
STOP_SECONDS = 20
# These Java processes live for seconds: the second compiler and a second collector would cost more than they gain.
JAVA = "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC"


class Cluster:
    """Started on entering, ended on leaving; nothing it started is left."""

    def __init__(self, folder: pathlib.Path):
        self.folder = folder
        self.events = folder / "events"
        self.events.mkdir()
        self._started: list[subprocess.Popen] = []
        self._master = ""

    def __enter__(self) -> "Cluster":
        atexit.register(self._stop)  # unittest does not clean up when it is interrupted
        try:
            self._start()
        except BaseException:
            self._stop()
            raise
        return self

    def __exit__(self, *_) -> None:
        self._stop()
        if left := self.processes():
            raise AssertionError(f"still running: {left}")

    def submit(self, *words: object) -> subprocess.CompletedProcess:
        """Runs the job with these words. What it says goes to standard output: spark-submit joins the two."""
        conf = {
            "spark.driver.host": LOOPBACK,
            "spark.driver.bindAddress": LOOPBACK,
            "spark.driver.extraJavaOptions": JAVA,
            "spark.executor.extraJavaOptions": JAVA,
            "spark.ui.enabled": "false",
            "spark.log.level": "WARN",
            "spark.eventLog.enabled": "true",
            "spark.eventLog.dir": f"file://{self.events}",
            "spark.eventLog.compress": "false",
            "spark.eventLog.rolling.enabled": "false",
            # Both workers, before anything is handed out, however long they take to come.
            "spark.scheduler.minRegisteredResourcesRatio": "1",
            "spark.scheduler.maxRegisteredResourcesWaitingTime": f"{JOB_SECONDS}s",
        }
        command = [HOME / "bin" / "spark-submit", "--master", self._master, "--driver-memory", MEMORY]
        command += ["--executor-memory", MEMORY, "--total-executor-cores", WORKERS]
        command += [word for name, value in conf.items() for word in ("--conf", f"{name}={value}")]
        said = self.folder / "driver.log"
        with said.open("w+") as log, (self.folder / "driver.out").open("w+") as out:
            process = self._spawn([*command, JOB, *words], out, log)
            try:
                code = process.wait(JOB_SECONDS)
            except subprocess.TimeoutExpired:
                raise AssertionError(f"no end after {JOB_SECONDS} s: {said.read_text()[-3000:]}") from None
            out.seek(0), log.seek(0)
            return subprocess.CompletedProcess(command, code, out.read(), log.read())

    def tasks(self) -> list[tuple[int, str]]:
        """Stage and worker of each task of the last job that read shuffled rows, by Spark's own log of events."""
        log = max((path for path in self.events.iterdir() if path.is_file()), key=lambda path: path.stat().st_mtime_ns)
        workers, found = {}, []
        for line in log.read_text().splitlines():
            event = json.loads(line)
            if event["Event"] == "SparkListenerExecutorAdded":
                page = event["Executor Info"]["Log Urls"]["stdout"]  # a page of the worker that started it
                workers[event["Executor ID"]] = re.match(r"https?://([^/]+)/", page)[1]
            if event["Event"] == "SparkListenerTaskEnd" and event["Task End Reason"]["Reason"] == "Success":
                if event["Task Metrics"]["Shuffle Read Metrics"]["Total Records Read"] > 0:
                    found.append((event["Stage ID"], workers[event["Task Info"]["Executor ID"]]))
        return found

    def processes(self) -> list[tuple[int, str]]:
        """Every process of the sessions that were started here, children of children too, with its command."""
        sessions, found = {process.pid for process in self._started}, []
        for entry in pathlib.Path("/proc").iterdir():
            try:
                _, state_on = (entry / "stat").read_text().rsplit(")", 1)
                state, _, _, session = state_on.split()[:4]
                if int(session) in sessions and state != "Z":
                    words = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
                    found.append((int(entry.name), words[-200:]))
            except (OSError, ValueError):
                continue  # no process, or one that has just ended
        return found

    def listening(self) -> set[str]:
        """The addresses on which they listen."""
        inodes = set()
        for process, _ in self.processes():
            for file in pathlib.Path(f"/proc/{process}/fd").iterdir():
                try:
                    inodes.add(os.readlink(file))
                except OSError:
                    continue  # closed meanwhile
        found = set()
        for table in ("tcp", "tcp6"):
            for line in pathlib.Path(f"/proc/net/{table}").read_text().splitlines()[1:]:
                _, local, _, state, *rest = line.split()
                if state == "0A" and f"socket:[{rest[5]}]" in inodes:
                    found.add(address_of(local.split(":")[0]))
        return found

    def _start(self) -> None:
        log = self._daemon("master", "master.Master", "--port", "0", "--webui-port", "0")
        self._master = wait_for(log, r"Starting Spark master at (spark://\S+)")
        page = wait_for(log, r"MasterWebUI.* started at (http://\S+)")
        for number in range(WORKERS):
            work = self.folder / f"work-{number}"
            self._daemon(f"worker-{number}", "worker.Worker", "--webui-port", "0", "--cores", "1", "--memory", MEMORY,
                         "--work-dir", work, self._master)
        end = time.monotonic() + START_SECONDS
        while self._alive(page) != WORKERS:
            if time.monotonic() > end:
                logs = "\n".join(path.read_text()[-1500:] for path in sorted(self.folder.glob("*.log")))
                raise AssertionError(f"{WORKERS} workers are not there after {START_SECONDS} s:\n{logs}")
            time.sleep(0.2)

    @staticmethod
    def _alive(page: str) -> int:
        with urllib.request.urlopen(f"{page}/json/", timeout=10) as answer:
            return sum(worker["state"] == "ALIVE" for worker in json.load(answer)["workers"])

    def _daemon(self, name: str, class_name: str, *words: object) -> pathlib.Path:
        log = self.folder / f"{name}.log"
        with log.open("w") as file:
            command = [HOME / "bin" / "spark-class", f"org.apache.spark.deploy.{class_name}", "--host", LOOPBACK]
            self._spawn([*command, *words], file, file)
        return log

    def _spawn(self, command: list[object], out, log) -> subprocess.Popen:
        environment = {name: value for name, value in os.environ.items() if not name.startswith(("SPARK_", "PYSPARK_"))}
        environment |= {
            "SPARK_HOME": str(HOME),
            "SPARK_LOCAL_IP": LOOPBACK,
            "SPARK_LOCAL_DIRS": str(self.folder / "scratch"),
            "SPARK_DAEMON_MEMORY": MEMORY,
            "SPARK_DAEMON_JAVA_OPTS": JAVA,
            "SPARK_MASTER_OPTS": "-Dspark.master.rest.enabled=false",
            "PYSPARK_PYTHON": sys.executable,
            "PYSPARK_DRIVER_PYTHON": sys.executable,
            "PYTHONDONTWRITEBYTECODE": "1",
        }
        process = subprocess.Popen([str(word) for word in command], stdin=subprocess.DEVNULL, stdout=out, stderr=log,
                                   env=environment, start_new_session=True)
        self._started.append(process)
        return process

    def _stop(self) -> None:
        """Asks all to end, workers before the master, and ends what does not."""
        for process in reversed(self._started):
            if process.poll() is None:
                process.terminate()
        end = time.monotonic() + STOP_SECONDS
        for process in self._started:
            try:
                process.wait(max(0.1, end - time.monotonic()))
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        while self.processes() and time.monotonic() < end:
            time.sleep(0.1)
        for number, _ in self.processes():
            try:
                os.kill(number, signal.SIGKILL)
            except ProcessLookupError:
                continue
        end = time.monotonic() + 5
        while self.processes() and time.monotonic() < end:
            time.sleep(0.1)


def wait_for(log: pathlib.Path, pattern: str) -> str:
    """What a daemon writes into its log when it is ready."""
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end:
        if found := re.search(pattern, log.read_text()):
            return found[1]
        time.sleep(0.2)
    raise AssertionError(f"{log.name} does not say {pattern!r} after {START_SECONDS} s: {log.read_text()[-2000:]}")


def address_of(hexadecimal: str) -> str:
    """An address of /proc/net/tcp or tcp6, whose words of four bytes are in this machine's order."""
    words = [bytes.fromhex(hexadecimal[at : at + 8]) for at in range(0, len(hexadecimal), 8)]
    raw = b"".join(word[::-1] if sys.byteorder == "little" else word for word in words)
    text = socket.inet_ntop(socket.AF_INET if len(raw) == 4 else socket.AF_INET6, raw)
    return text.removeprefix("::ffff:")
