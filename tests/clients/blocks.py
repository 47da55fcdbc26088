"""The fenced blocks of a page: what is run, and what is shown of the output."""

import dataclasses
import pathlib
import re


@dataclasses.dataclass
class Block:
    """A block that is run, and the lines that the page shows of what it prints; none where it shows nothing."""

    kind: str
    line: int
    text: str
    shown: str | None = None


def blocks(page: pathlib.Path) -> list[Block]:
    """Every block of a page in order. Whatever could hold a command and would not be run is an error: a fence of another kind,
    a fence that is indented or of another sign, an indented block, a command in a sentence that no block has."""
    found: list[Block] = []
    problems: list[str] = []
    text = page.read_text()
    lines = iter(enumerate(text.splitlines(), 1))
    is_after_block, before = False, ""
    prose: list[tuple[int, str]] = []
    for number, line in lines:
        if line.startswith("```"):
            inner: list[str] = []
            for _, more in lines:
                if more.startswith("```"):
                    break
                inner.append(more)
            else:
                problems.append(f"line {number}: the fence does not end")
            _take(found, problems, Block(line.removeprefix("```"), number, "\n".join(inner) + "\n"), is_after_block)
            is_after_block, before = line != "```text", ""
            continue
        if re.match(r"\s*(~~~|```)", line) or (re.match(r"( {4}|\t)", line) and not before.strip()):
            problems.append(f"line {number}: a block that would not be run")
        if line.strip():
            is_after_block = False
            prose.append((number, line))
        before = line
    commands = "\n".join(block.text for block in found)
    for number, line in prose:
        for code in re.findall(r"`([^`]+)`", line):
            if re.match(r"(nextrung|curl|deploy/clients/\S+) ", code) and code not in commands:
                problems.append(f"line {number}: no block of the page has `{code}`")
    if problems:
        raise ValueError(f"{page.name}: " + "; ".join(problems))
    return found


def _take(found: list[Block], problems: list[str], block: Block, is_after_block: bool) -> None:
    if block.kind in ("sh", "python"):
        found.append(block)
    elif block.kind == "text" and is_after_block:
        found[-1].shown = block.text
    elif block.kind == "text":
        problems.append(f"line {block.line}: an output without its command right before it")
    else:
        problems.append(f"line {block.line}: a block of the kind '{block.kind}', which is not run; write sh or python")


def is_shown(shown: str, printed: str) -> bool:
    """Whether output is as a page shows it: a line of three dots stands for any lines, three dots within a line for any text."""
    lines = [".*" if line == "..." else re.escape(line).replace(r"\.\.\.", ".*") for line in shown.rstrip("\n").split("\n")]
    pattern = ""
    for index, line in enumerate(lines):
        if line == ".*":
            pattern += r"(?:[^\n]*\n)*?"
        else:
            pattern += rf"(?-s:{line})" + ("\n" if index < len(lines) else "")
    return re.fullmatch(pattern + r"\n*", printed.rstrip("\n") + "\n") is not None
