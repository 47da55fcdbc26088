#!/usr/bin/env python3
"""Checks what deploy/ ships, as far as a machine without a container engine or a cluster can.

    run.py --binary PATH            all of it
    run.py --binary PATH test_unit  only these modules, classes or tests (as unittest names them)
"""

import argparse
import os
import pathlib
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent


def main() -> int:
    arguments = argparse.ArgumentParser(description="Checks of deploy/.")
    arguments.add_argument("--binary", type=pathlib.Path, required=True, help="the nextrung binary (target/debug/nextrung)")
    arguments.add_argument("names", nargs="*", help="modules, classes or tests; all when none is given")
    options = arguments.parse_args()
    os.environ["NEXTRUNG_BINARY"] = str(options.binary.resolve())
    sys.path.insert(0, str(HERE))
    loader = unittest.TestLoader()
    suite = loader.loadTestsFromNames(options.names) if options.names else loader.discover(str(HERE))
    if loader.errors or suite.countTestCases() == 0:
        print("\n".join(loader.errors) or "no tests were found", file=sys.stderr)
        return 1
    result = unittest.TextTestRunner(verbosity=2).run(suite)
    if result.skipped or result.unexpectedSuccesses:
        print(f"{len(result.skipped)} checks were skipped: every check must run", file=sys.stderr)
        return 1
    return 0 if result.wasSuccessful() else 1


if __name__ == "__main__":
    sys.exit(main())
