#!/usr/bin/env python3
"""Runs the reference scripts again and compares what they print with the stored outputs.

    check.py            run every script, compare, exit 1 on any difference
    check.py r01 r10    only the scripts whose names start so

A script runs in a copy of this directory, so a data file it writes is compared too. Numbers are compared at the
tolerance of `RUNS`; everything else (keys, lengths, words, versions) must be equal.
"""

import concurrent.futures
import dataclasses
import json
import math
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
SECONDS = 600


@dataclasses.dataclass(frozen=True)
class Tolerance:
    """Two numbers agree when |a - b| <= absolute + relative * max(|a|, |b|)."""

    relative: float
    absolute: float

    def agree(self, a: float, b: float) -> bool:
        if math.isnan(a) or math.isnan(b):
            return math.isnan(a) and math.isnan(b)
        if math.isinf(a) or math.isinf(b):
            return a == b
        return abs(a - b) <= self.absolute + self.relative * max(abs(a), abs(b))


CLOSE = Tolerance(1e-8, 1e-9)


@dataclasses.dataclass(frozen=True)
class Run:
    """One script, the data files it writes, and where its numbers may differ by more than `CLOSE`."""

    name: str
    writes: tuple[str, ...] = ()
    tolerance: Tolerance = CLOSE
    looser: tuple[tuple[str, Tolerance], ...] = ()

    def at(self, place: str) -> Tolerance:
        return next((wide for start, wide in self.looser if place.startswith(start)), self.tolerance)


# A looser line needs its reason: these places end an iteration at a stated step size, or print three digits.
RUNS = (
    Run("r01_nile", looser=(("/mle_", Tolerance(2e-5, 0.0)),)),  # maximum found by a search
    Run("r02_aft", writes=("rossi.csv", "diabetes.csv", "synthetic_reps.csv"), tolerance=Tolerance(1e-7, 1e-9)),
    Run("r03_ridge_logit", writes=("wdbc5.csv",)),
    Run("r07_scoring", writes=("calib500.csv",)),
    Run("r08_competing"),
    Run("r10_update_golden"),
    Run(
        "r11_logistic_gsm",
        looser=(
            ("/K8", CLOSE),
            ("/K", Tolerance(5e-4, 1e-9)),  # mixtures found by a search; only K8 is used by the project
            ("/vs_golden", Tolerance(2e-2, 1e-9)),  # printed to three digits
        ),
    ),
    Run("r12_tests_meta"),
    Run("r13_failure_slope", tolerance=Tolerance(1e-7, 1e-9)),  # where two searches stop
    Run("r14_score_parts"),
    Run("r16_refit", tolerance=Tolerance(1e-6, 1e-7)),  # where searches stop
    Run("capacity_filter_run"),
    Run("censored_update", tolerance=Tolerance(1e-6, 1e-8)),  # searches over 60 sets in a row
    Run("ep_random_walk_run", tolerance=Tolerance(1e-5, 1e-7)),  # four sweeps of updates of updates
    Run("cause_shares", tolerance=Tolerance(0.0, 2.1e-4)),  # printed to four digits, 4 million draws
)

# Outputs of R are not made again here (R is not needed to build or test). The numbers they share with a
# script that is run are compared: (output of R, output of Python, places in the latter, tolerance).
SHARED_WITH_R = (
    ("r01_nile.R.out", "r01_nile.py.out", "/mle_exact_diffuse/params_eps_eta", Tolerance(1e-4, 0.0)),  # two searches
    ("r04_irt.R.out", "r16_refit.py.out", "/rasch/", Tolerance(2e-5, 1e-5)),  # 25 nodes and a search of theirs
    ("r08_competing.R.out", "r08_competing.py.out", "/AJ_hand/", Tolerance(1e-8, 0.0)),
    ("r02_aft.R.out", "r02_aft.py.out", "/synthetic_own_lognormal/loglik", Tolerance(1e-10, 0.0)),
    ("r02_aft.R.out", "r02_aft.py.out", "/synthetic_own_loglogistic/loglik", Tolerance(1e-10, 0.0)),
    ("r02_aft.R.out", "r02_aft.py.out", "/synthetic_own_lognormal/sigma", Tolerance(1e-7, 0.0)),
    ("r02_aft.R.out", "r02_aft.py.out", "/synthetic_own_loglogistic/sigma", Tolerance(1e-7, 0.0)),
)

NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def number(word: object) -> float | None:
    """The number a JSON value or a printed word stands for, else None. A word such as 1.3.0 is no number."""
    if isinstance(word, bool) or word is None:
        return None
    if isinstance(word, (int, float)):
        return float(word)
    if isinstance(word, str) and NUMBER.fullmatch(word):
        return float(word)
    return None


def leaves(tree: object, place: str = ""):
    """Every leaf of a JSON value with its place, in order; an empty list or object is a leaf too."""
    if isinstance(tree, dict) and tree:
        for key, value in tree.items():
            yield from leaves(value, f"{place}/{key}")
    elif isinstance(tree, list) and tree:
        for index, value in enumerate(tree):
            yield from leaves(value, f"{place}/{index}")
    else:
        yield place, tree


def words(text: str):
    """Every word of a printed text with its line and column; brackets and commas stand alone."""
    for row, line in enumerate(text.splitlines(), 1):
        for column, word in enumerate(re.findall(r'[\[\](),"]|[^\s\[\](),"]+', line), 1):
            yield f"line {row} word {column}", word


def read(text: str):
    """The leaves of an output: of its JSON, if it ends in a JSON object, after the words that stand before it."""
    start = 0 if text.startswith("{") else text.find("\n{") + 1
    if start == 0 and not text.startswith("{"):
        return list(words(text))
    return list(words(text[:start])) + list(leaves(json.loads(text[start:])))


def differences(stored: str, fresh: str, run: Run) -> list[str]:
    """What differs between two outputs, one line each; empty when they agree."""
    old, new = read(stored), read(fresh)
    if not old:
        return ["the stored output is empty"]
    if [place for place, _ in old] != [place for place, _ in new]:
        gone = sorted({place for place, _ in old} - {place for place, _ in new})
        added = sorted({place for place, _ in new} - {place for place, _ in old})
        return [f"structure differs: gone {gone[:5]}, added {added[:5]}, {len(old)} then {len(new)} leaves"]
    found = []
    for (place, a), (_, b) in zip(old, new):
        x, y = number(a), number(b)
        same = type(a) is type(b) and a == b if x is None or y is None else run.at(place).agree(x, y)
        if not same:
            found.append(f"{place}: stored {a}, fresh {b}")
    return found


def missing_from(text: str, place: str, values: list[float], tolerance: Tolerance) -> list[str]:
    """The values that stand nowhere in the text of another program."""
    there = [float(word) for word in NUMBER.findall(text)]
    if not values:
        return [f"nothing stands at {place}"]
    return [f"{place}: {value} is not there" for value in values if not any(tolerance.agree(value, t) for t in there)]


def shared_with_r() -> list[str]:
    """Differences between the stored outputs of R and of Python where both computed the same thing."""
    found = []
    for theirs, ours, start, tolerance in SHARED_WITH_R:
        tree = read((HERE / ours).read_text())
        values = [number(leaf) for place, leaf in tree if place.startswith(start)]
        found += [f"{theirs}: {line}" for line in missing_from((HERE / theirs).read_text(), start, values, tolerance)]
    return found


def execute(run: Run) -> tuple[Run, float, list[str]]:
    """Runs one script in a copy of this directory; its seconds and what differs."""
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="reference-") as place:
        copy = pathlib.Path(place) / "reference"
        shutil.copytree(HERE, copy, ignore=shutil.ignore_patterns("__pycache__"))
        for name in run.writes:
            (copy / name).unlink()
        environment = dict(os.environ, OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1", PYTHONDONTWRITEBYTECODE="1")
        command = [sys.executable, f"{run.name}.py"]
        try:
            done = subprocess.run(command, cwd=copy, env=environment, capture_output=True, text=True, timeout=SECONDS)
        except subprocess.TimeoutExpired:
            return run, time.monotonic() - begun, [f"not done after {SECONDS} s"]
        if done.returncode != 0:
            return run, time.monotonic() - begun, [f"ended with {done.returncode}: {done.stderr.strip()[-800:]}"]
        found = differences((HERE / f"{run.name}.py.out").read_text(), done.stdout, run)
        for name in run.writes:
            stored, fresh = (HERE / name).read_text(), copy / name
            lines = differences(stored, fresh.read_text(), run) if fresh.exists() else ["not written"]
            found += [f"{name}: {line}" for line in lines]
    return run, time.monotonic() - begun, found


def report(name: str, seconds: float, found: list[str]) -> None:
    print(f"  {'differs' if found else 'agrees '}  {name}  ({seconds:.1f} s)", flush=True)
    for line in found[:12]:
        print(f"           {line}")
    if len(found) > 12:
        print(f"           and {len(found) - 12} more")


def main(chosen: list[str]) -> int:
    runs = [run for run in RUNS if not chosen or any(run.name.startswith(start) for start in chosen)]
    if not runs:
        print(f"no script starts with {chosen}; there are {[run.name for run in RUNS]}", file=sys.stderr)
        return 2
    failed = []
    with concurrent.futures.ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        for run, seconds, found in pool.map(execute, runs):
            report(run.name, seconds, found)
            failed += [run.name] if found else []
    if not chosen:
        found = shared_with_r()
        report("outputs of R and of Python", 0.0, found)
        failed += ["outputs of R"] if found else []
    print(f"reference: {len(runs) + (not chosen) - len(failed)} agree, {len(failed)} differ", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
