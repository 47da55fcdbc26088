#!/usr/bin/env python3
"""Executes the notebook beside this file and writes it with its outputs: execute.py OUT.ipynb."""

import pathlib
import sys

import nbformat
from nbclient import NotebookClient
from traitlets.config import Config

NOTEBOOK = pathlib.Path(__file__).with_name("replay.ipynb")


def executed(seconds: int = 600) -> nbformat.NotebookNode:
    """The notebook with its outputs; an error of a cell is raised. `seconds` is the longest a cell may take."""
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    # Sockets of files: no other user of the machine can listen in or take a port first.
    own = Config({"KernelManager": {"transport": "ipc"}})
    return NotebookClient(notebook, kernel_name="python3", timeout=seconds, config=own).execute()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    nbformat.write(executed(), sys.argv[1])
