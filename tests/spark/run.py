#!/usr/bin/env python3
"""Tests the job of deploy/spark on a cluster of its own: a standalone master and two workers on loopback.

    run.py --binary PATH --simulate PATH            all of them
    run.py --binary PATH --simulate PATH test_sheet only these modules, classes or tests (as unittest names them)

The figures must be those of one process, byte for byte. Everything started is ended, also after a failure and when this
is asked to end.
"""

import argparse
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
JOB = HERE.parents[1] / "deploy" / "spark"
LONGEST_SECONDS = 1200
sys.path.insert(0, str(HERE.parent))
import suite  # noqa: E402

if __name__ == "__main__":
    suite.end_after(LONGEST_SECONDS)
    arguments = argparse.ArgumentParser(description="Tests of the Spark job against one process.")
    suite.program(arguments, "binary", "nextrung (target/debug/nextrung)")
    suite.program(arguments, "simulate", "simulate (target/debug/simulate)")
    sys.exit(suite.run(arguments, ["binary", "simulate"], [HERE, JOB]))
