#!/usr/bin/env python3
"""Opens the workbooks that the program writes in a real office program, and looks at what it made of them.

    run.py --binary PATH            all of it
    run.py --binary PATH --keep DIR leave the workbooks and pages there, to be looked at
"""

import argparse
import os
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
import suite  # noqa: E402

if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description="Workbooks in an office program.")
    suite.program(arguments, "binary", "nextrung (target/debug/nextrung)")
    arguments.add_argument("--keep", type=pathlib.Path, help="a folder for the workbooks and pages")
    if keep := arguments.parse_known_args()[0].keep:
        os.environ["NEXTRUNG_KEEP"] = str(keep.resolve())
    sys.exit(suite.run(arguments, ["binary"], [HERE]))
