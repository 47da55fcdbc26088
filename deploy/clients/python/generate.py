#!/usr/bin/env python3
"""Compiles the contract into a Python package: generate.py FOLDER writes FOLDER/nextrung/v1.

`from nextrung import v1` then has every message, enum, value and stub under its own name.
"""

import pathlib
import sys

import grpc_tools.protoc

PROTO = pathlib.Path(__file__).resolve().parents[3] / "proto"


def generate(folder: pathlib.Path) -> None:
    """Compiles every file of the contract; any warning of the compiler is an error."""
    files = sorted((PROTO / "nextrung" / "v1").glob("*.proto"))
    package = folder / "nextrung" / "v1"
    package.mkdir(parents=True, exist_ok=True)
    well_known = pathlib.Path(grpc_tools.protoc.__file__).parent / "_proto"
    places = [f"--proto_path={PROTO}", f"--proto_path={well_known}"]
    outputs = [f"--python_out={folder}", f"--pyi_out={folder}", f"--grpc_python_out={folder}"]
    status = grpc_tools.protoc.main(["protoc", "--fatal_warnings", *places, *outputs, *map(str, files)])
    if status != 0 or not files:
        raise RuntimeError(f"the {len(files)} files of {PROTO} did not compile: protoc ended with {status}")
    modules = [f"{file.stem}{suffix}" for file in files for suffix in ("_pb2", "_pb2_grpc")]
    lines = [f"from nextrung.v1.{module} import *" for module in modules]
    (package / "__init__.py").write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    generate(pathlib.Path(sys.argv[1]))
