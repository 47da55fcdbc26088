#!/usr/bin/env python3
"""Draws what the demo prints as a picture (SVG): the text as it is, bold and faint as in a terminal.

    CLICOLOR_FORCE=1 cargo run --release -- demo | python3 data/demo/picture.py > data/demo/demo-output.svg
"""

import re
import sys
from xml.sax.saxutils import escape

COLUMNS = 100
ADVANCE = 7.83  # width of a character at 13 px in most monospaced fonts
LINE = 18
MARGIN = 22
PAPER, INK, FAINT = "#fcfcfa", "#1d2126", "#767c84"
FONTS = "ui-monospace, 'SF Mono', Menlo, Consolas, 'DejaVu Sans Mono', 'Liberation Mono', monospace"
SIGN = re.compile(r"\x1b\[(\d*)m")
WORDS = re.compile(r"\S+(?: \S+)*")
STYLES = {"": "", "0": "", "1": "b", "2": "f"}


def runs(line: str, style: str) -> tuple[list[tuple[str, str]], str]:
    """The text of a line by style, and the style it ends with."""
    found, at = [], 0
    for sign in SIGN.finditer(line):
        found.append((style, line[at : sign.start()]))
        style, at = STYLES[sign.group(1)], sign.end()
    found.append((style, line[at:]))
    return [(name, text) for name, text in found if text], style


def drawn(line: list[tuple[str, str]], top: float) -> str:
    """A line of text; words more than one blank apart start at their own column, whatever the font."""
    parts, column = [], 0
    for style, text in line:
        kind = f' class="{style}"' if style else ""
        for words in WORDS.finditer(text):
            left = MARGIN + ADVANCE * (column + words.start())
            width = ADVANCE * len(words.group())
            place = f'x="{left:.1f}" y="{top:.1f}" textLength="{width:.1f}" lengthAdjust="spacingAndGlyphs"'
            parts.append(f"<text {place}{kind}>{escape(words.group())}</text>")
        column += len(text)
    return "".join(parts)


def main() -> None:
    printed = sys.stdin.read().rstrip("\n")
    if not printed:
        sys.exit("nothing to draw: pipe the demo's output in")
    lines, style = [], ""
    for line in printed.split("\n"):
        found, style = runs(line, style)
        lines.append(found)
    width = round(2 * MARGIN + COLUMNS * ADVANCE)
    height = 2 * MARGIN + LINE * len(lines)
    print(f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" role="img">')
    print("<title>What the demo prints</title>")
    print(
        f'<style>text {{ font: 13px {FONTS}; fill: {INK} }} '
        f".b {{ font-weight: 700 }} .f {{ fill: {FAINT} }}</style>"
    )
    print(f'<rect width="{width}" height="{height}" rx="6" fill="{PAPER}" stroke="#d9dbd7"/>')
    for number, line in enumerate(lines):
        if line:
            print(drawn(line, MARGIN + LINE * (number + 0.75)))
    print("</svg>")


if __name__ == "__main__":
    main()
