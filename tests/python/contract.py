"""The contract as a Python client sees it: proto/nextrung/v1 compiled with grpcio-tools into a throwaway directory."""

import atexit
import importlib
import pathlib
import sys
import tempfile
import types

import grpc_tools.protoc

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROTO = ROOT / "proto"
FILES = sorted((PROTO / "nextrung" / "v1").glob("*.proto"))


def compile_into(directory: str) -> None:
    """Compiles every file of the contract; any warning of the compiler is an error."""
    well_known = pathlib.Path(grpc_tools.protoc.__file__).parent / "_proto"
    places = [f"--proto_path={PROTO}", f"--proto_path={well_known}"]
    outputs = [f"--python_out={directory}", f"--grpc_python_out={directory}"]
    status = grpc_tools.protoc.main(["protoc", "--fatal_warnings", *places, *outputs, *map(str, FILES)])
    if status != 0 or not FILES:
        raise RuntimeError(f"the {len(FILES)} files of the contract did not compile: protoc ended with {status}")


def load() -> types.SimpleNamespace:
    """All messages, enums, values and client stubs of the contract under their own names."""
    directory = tempfile.TemporaryDirectory(prefix="nextrung-contract-")
    atexit.register(directory.cleanup)
    compile_into(directory.name)
    sys.path.insert(0, directory.name)
    names: dict[str, object] = {}
    for file in FILES:
        for suffix in ("_pb2", "_pb2_grpc"):
            module = importlib.import_module(f"nextrung.v1.{file.stem}{suffix}")
            names.update({name: value for name, value in vars(module).items() if not name.startswith("_")})
    return types.SimpleNamespace(**names)


api = load()
