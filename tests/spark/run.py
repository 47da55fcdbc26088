#!/usr/bin/env python3
"""Tests the job of deploy/spark on a cluster of its own: a standalone master and two workers on loopback.

    run.py --binary PATH --simulate PATH            all of them
    run.py --binary PATH --simulate PATH test_sheet only these modules, classes or tests (as unittest names them)

The figures must be those of one process, byte for byte. Everything started is ended, also after a failure and when this
is asked to end.
"""

import argparse
import os
import pathlib
import signal
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent
JOB = HERE.parents[1] / "deploy" / "spark"
LONGEST_SECONDS = 600


def end(number: int, _) -> None:
    """Ends the tests; unittest takes every other exception for a failed test and goes on with the next."""
    raise KeyboardInterrupt(f"ended by {signal.Signals(number).name}")


def main() -> int:
    """Runs the tests; one that is skipped is a failure."""
    arguments = argparse.ArgumentParser(description="Tests of the Spark job against one process.")
    for name in ("binary", "simulate"):
        arguments.add_argument(f"--{name}", type=pathlib.Path, required=True, help=f"the built program {name}")
    arguments.add_argument("names", nargs="*", help="modules, classes or tests; all when none is given")
    options = arguments.parse_args()
    os.environ["NEXTRUNG_BINARY"] = str(options.binary.resolve())
    os.environ["NEXTRUNG_SIMULATE"] = str(options.simulate.resolve())
    for number in (signal.SIGTERM, signal.SIGALRM):
        signal.signal(number, end)
    signal.alarm(LONGEST_SECONDS)
    sys.path[:0] = [str(HERE), str(JOB)]
    loader = unittest.TestLoader()
    suite = loader.loadTestsFromNames(options.names) if options.names else loader.discover(str(HERE))
    if loader.errors or suite.countTestCases() == 0:
        print("\n".join(loader.errors) or "no tests were found", file=sys.stderr)
        return 1
    result = unittest.TextTestRunner(verbosity=2).run(suite)
    if result.skipped or result.unexpectedSuccesses:
        print(f"{len(result.skipped)} tests were skipped: every test must run", file=sys.stderr)
        return 1
    return 0 if result.wasSuccessful() else 1


if __name__ == "__main__":
    sys.exit(main())
