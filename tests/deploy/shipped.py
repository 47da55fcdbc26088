"""What deploy/ ships, and the binary that reads its settings."""

import json
import os
import pathlib
import re
import subprocess

import yaml

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
DEPLOY = ROOT / "deploy"

# Seconds that a stop may take after drain.notice and drain.limit: the last writes (LAST_WRITES in crates/server) and the
# last spans (LAST_SPANS), as their files say.
LAST_SECONDS = 15 + 5


def binary() -> pathlib.Path:
    """The binary under test, as run.py was told."""
    return pathlib.Path(os.environ["NEXTRUNG_BINARY"])


def documents(path: pathlib.Path) -> list[dict]:
    """Every document of a YAML file."""
    with path.open() as text:
        return [document for document in yaml.safe_load_all(text) if document is not None]


def last_seconds_of_the_code() -> int:
    """The same as LAST_SECONDS, read from the code."""
    total = 0
    for name, constant in (("server.rs", "LAST_WRITES"), ("journal.rs", "LAST_SPANS")):
        text = (ROOT / "crates/server/src" / name).read_text()
        total += int(re.search(rf"const {constant}: Duration = Duration::from_secs\((\d+)\)", text).group(1))
    return total


def settings(file: pathlib.Path | None = None, variables: dict[str, str] | None = None) -> dict[str, str]:
    """The settings in force, by key; an error with what is wrong when there are bad ones."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("NEXTRUNG_")}
    command = [str(binary()), "serve", "--show-config", "--json"] + (["--config", str(file)] if file else [])
    done = subprocess.run(command, env=clean | (variables or {}), capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise ValueError(done.stderr)
    return {entry["key"]: entry["value"] for entry in json.loads(done.stdout)}


def seconds(text: str) -> int:
    """A time such as 1m 5s in whole seconds."""
    units = {"h": 3600, "m": 60, "s": 1}
    parts = re.findall(r"(\d+)([hms])(?![a-z])", text)
    if "".join(number + unit for number, unit in parts) != text.replace(" ", ""):
        raise ValueError(text)
    return sum(int(number) * units[unit] for number, unit in parts)


def longest_stop(of: dict[str, str]) -> int:
    """Seconds that a service with these settings may take to stop."""
    return seconds(of["drain.notice"]) + seconds(of["drain.limit"]) + LAST_SECONDS
