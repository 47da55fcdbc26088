"""What every run.py of these tests does: finds the tests of its folder, runs them, and counts one that is skipped as a failure."""

import argparse
import os
import pathlib
import signal
import sys
import unittest


def end_after(seconds: int) -> None:
    """Has the tests end after so many seconds, and when the process is asked to."""

    def end(number: int, _) -> None:
        # unittest takes every other exception for a failed test and goes on with the next.
        raise KeyboardInterrupt(f"ended by {signal.Signals(number).name}")

    for number in (signal.SIGTERM, signal.SIGALRM):
        signal.signal(number, end)
    signal.alarm(seconds)


def program(arguments: argparse.ArgumentParser, name: str, built: str, is_required: bool = True) -> None:
    """Asks for a built program; the tests find it in NEXTRUNG_<NAME>."""
    arguments.add_argument(f"--{name}", type=pathlib.Path, required=is_required, help=f"the program {built}")


def run(arguments: argparse.ArgumentParser, programs: list[str], folders: list[pathlib.Path]) -> int:
    """Runs the tests of the first folder; the modules of all of them can be imported."""
    arguments.add_argument("names", nargs="*", help="modules, classes or tests; all when none is given")
    options = arguments.parse_args()
    for name in programs:
        if path := getattr(options, name):
            os.environ[f"NEXTRUNG_{name.upper()}"] = str(path.resolve())
    sys.path[:0] = [str(folder) for folder in folders]
    loader = unittest.TestLoader()
    suite = loader.loadTestsFromNames(options.names) if options.names else loader.discover(str(folders[0]))
    if loader.errors or suite.countTestCases() == 0:
        print("\n".join(loader.errors) or "no tests were found", file=sys.stderr)
        return 1
    result = unittest.TextTestRunner(verbosity=2).run(suite)
    if result.skipped or result.unexpectedSuccesses:
        print(f"{len(result.skipped)} tests were skipped: every test must run", file=sys.stderr)
        return 1
    return 0 if result.wasSuccessful() else 1
