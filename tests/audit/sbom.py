#!/usr/bin/env python3
"""Checks a list of what the program is made of (CycloneDX, JSON) against Cargo.lock.

    sbom.py FILE

Every package that the binary is built from must be in it, nothing else may be, and each with the checksum of Cargo.lock.
"""

import json
import pathlib
import subprocess
import sys
import tomllib

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
PROGRAM = "nextrung-cli"

Package = tuple[str, str]


def locked() -> dict[Package, str | None]:
    """Every package of Cargo.lock with its checksum; our own have none."""
    with (ROOT / "Cargo.lock").open("rb") as file:
        return {(p["name"], p["version"]): p.get("checksum") for p in tomllib.load(file)["package"]}


def built() -> set[Package]:
    """What the program is built from on any system: everything but what only tests need."""
    command = ["cargo", "metadata", "--locked", "--format-version", "1"]
    data = json.loads(subprocess.run(command, cwd=ROOT, capture_output=True, check=True, text=True).stdout)
    named = {package["id"]: (package["name"], package["version"]) for package in data["packages"]}
    needs = {
        node["id"]: [d["pkg"] for d in node["deps"] if any(k["kind"] != "dev" for k in d["dep_kinds"])]
        for node in data["resolve"]["nodes"]
    }
    (start,) = (key for key, (name, _) in named.items() if name == PROGRAM)
    found, left = set(), [start]
    while left:
        key = left.pop()
        if key not in found:
            found.add(key)
            left += needs[key]
    return {named[key] for key in found}


def listed(document: dict) -> dict[Package, str | None]:
    """Every component of the list with its SHA-256."""
    components = [document["metadata"]["component"], *document["components"]]
    sums = lambda c: [h["content"] for h in c.get("hashes", []) if h["alg"] == "SHA-256"]  # noqa: E731
    return {(c["name"], c["version"]): next(iter(sums(c)), None) for c in components}


def problems(found: dict[Package, str | None], wanted: set[Package], lock: dict[Package, str | None]) -> list[str]:
    """What is missing, too much or different."""
    missing = [f"missing: {name} {version}" for name, version in sorted(wanted - found.keys())]
    surplus = [f"not built in: {name} {version}" for name, version in sorted(found.keys() - wanted)]
    other = [
        f"another checksum: {name} {version}"
        for (name, version), checksum in sorted(found.items())
        if (name, version) in lock and checksum != lock[name, version]
    ]
    return missing + surplus + other


def main() -> int:
    document = json.loads(pathlib.Path(sys.argv[1]).read_text())
    found, wanted, lock = listed(document), built(), locked()
    if not wanted <= lock.keys():
        print("Cargo.lock lacks packages that are built", file=sys.stderr)
        return 1
    # A check that cannot fail is none: each kind of fault is planted once.
    some = next(package for package in sorted(wanted) if lock[package])
    for spoilt in ({k: v for k, v in found.items() if k != some}, found | {("wren", "1.0.0"): None}, found | {some: "0"}):
        if not problems(spoilt, wanted, lock):
            print("the check itself finds nothing", file=sys.stderr)
            return 1
    wrong = problems(found, wanted, lock)
    if str(ROOT) in json.dumps(document):
        wrong.append(f"says where it was built: {ROOT}")
    print("\n".join(wrong) or f"{len(found)} components, as in Cargo.lock")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
