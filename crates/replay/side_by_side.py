"""Side by side in one run: the filter of a replay against a plain Python one, and the hazard regression against scikit-learn.

    cargo build --release -p nextrung-replay --bin simulate --example hazard_fit
    tests/run reference        # makes the environment with numpy and scikit-learn
    target/venv/reference-*/bin/python crates/replay/side_by_side.py [ROWS] [ATHLETES]

Both regressions get the same person-period rows, standardised, with the same ridge (scikit-learn's C is one over it). The plain
filter is `tests/reference/capacity_filter.py`: one ability, three rungs, by quadrature, against one-ability pulls here.
Nothing is asserted: what is printed is what was measured.
"""
import pathlib
import subprocess
import sys
import tempfile
import time

import numpy as np
from sklearn.linear_model import LogisticRegression

ROOT = pathlib.Path(__file__).resolve().parents[2]
RELEASE = ROOT / "target" / "release"
sys.path.insert(0, str(ROOT / "tests" / "reference"))
from capacity_filter import Filter  # noqa: E402


def plain_filter(sets):
    """Sets a second of the plain filter, on invented sets three days a week."""
    dice = np.random.default_rng(1)
    rungs, reps, fails = dice.integers(0, 3, sets), dice.integers(1, 8, sets), dice.random(sets) < 0.4
    plain = Filter([0.0, 0.35, 0.7])
    plain.m[0] = 1.6
    begun = time.perf_counter()
    for number in range(sets):
        if number % 9 == 0:
            plain.advance(float(number // 9 * 7 // 3))
        plain.p_ge(int(rungs[number]), np.arange(1, 9))
        plain.observe(int(rungs[number]), int(reps[number]), bool(fails[number]))
    return sets / (time.perf_counter() - begun)


def sklearn_fit(path):
    """Seconds of scikit-learn's fit of the rows in a file, and how many there are."""
    table = np.loadtxt(path, delimiter=",")
    values, failed = table[:, :-1], table[:, -1].astype(int)
    spread = values.std(axis=0)
    values = (values - values.mean(axis=0)) / np.where(spread > 0, spread, 1.0)
    begun = time.perf_counter()
    LogisticRegression(C=1.0, tol=1e-8, max_iter=10_000).fit(values, failed)
    return time.perf_counter() - begun, len(failed)


def main():
    rows = sys.argv[1] if len(sys.argv) > 1 else "100000"
    athletes = sys.argv[2] if len(sys.argv) > 2 else "200"
    print(subprocess.run([RELEASE / "simulate", "replay-speed", "--athletes", athletes, "--data", ROOT / "data"],
                         check=True, capture_output=True, text=True).stdout)
    print(f"plain Python filter, predictions of eight counts: {plain_filter(4000):.0f} sets a second\n")
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "rows.csv"
        told = subprocess.run([RELEASE / "examples" / "hazard_fit", rows, path], check=True, capture_output=True, text=True)
        print(next(line for line in told.stdout.splitlines() if line.startswith("fit:")))
        seconds, count = sklearn_fit(path)
        print(f"scikit-learn on the same {count} rows: {seconds:.2f} s")


if __name__ == "__main__":
    main()
