#!/usr/bin/env python3
"""Tests the clients of deploy/clients, the notebook and the pages of deploy/docs against the running binary.

    run.py --binary PATH               all of them
    run.py --binary PATH test_browser  only these modules, classes or tests (as unittest names them)

Everything that is generated or built goes below CLIENTS_BUILD. Everything started is ended, also after a failure.
"""

import argparse
import os
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[1]
PYTHON_CLIENT = ROOT / "deploy" / "clients" / "python"
LONGEST_SECONDS = 1800
sys.path.insert(0, str(HERE.parent))
import suite  # noqa: E402

if __name__ == "__main__":
    suite.end_after(LONGEST_SECONDS)
    os.environ.setdefault("CLIENTS_BUILD", str(ROOT / "target" / "clients"))
    sys.path.insert(0, str(PYTHON_CLIENT))
    from generate import generate

    stubs = pathlib.Path(os.environ["CLIENTS_BUILD"]) / "python"
    generate(stubs)
    arguments = argparse.ArgumentParser(description="Tests of the clients, the notebook and the pages.")
    suite.program(arguments, "binary", "nextrung (target/debug/nextrung)")
    sys.exit(suite.run(arguments, ["binary"], [HERE, PYTHON_CLIENT, stubs]))
