#!/usr/bin/env python3
"""Runs the end-to-end tests of this directory against a built binary.

    run.py --binary PATH            all of them
    run.py test_contract            only these modules, classes or tests (as unittest names them)
"""

import argparse
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
import suite  # noqa: E402

if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description="End-to-end tests with a Python client.")
    suite.program(arguments, "binary", "nextrung (target/debug/nextrung)", is_required=False)
    sys.exit(suite.run(arguments, ["binary"], [HERE]))
