#!/usr/bin/env python3
"""Checks what deploy/ ships, as far as a machine without a container engine or a cluster can.

    run.py --binary PATH            all of it
    run.py --binary PATH test_unit  only these modules, classes or tests (as unittest names them)
"""

import argparse
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
import suite  # noqa: E402

if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description="Checks of deploy/.")
    suite.program(arguments, "binary", "nextrung (target/debug/nextrung)")
    sys.exit(suite.run(arguments, ["binary"], [HERE]))
