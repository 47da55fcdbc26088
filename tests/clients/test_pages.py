"""Every command of every page is run, in order, and prints what the page shows."""

import pathlib
import tempfile
import unittest

import blocks
from hall import CLIENTS, ROOT
from terminal import Terminal

PAGES = [*sorted((ROOT / "deploy" / "docs").glob("*.md")), CLIENTS / "README.md"]


class Pages(unittest.TestCase):
    def read(self, page: pathlib.Path) -> None:
        """Does what a reader of a page does, from the first block to the last."""
        found = blocks.blocks(page)
        self.assertTrue(found, f"{page.name} has no commands")
        with tempfile.TemporaryDirectory(prefix="nextrung-page-") as folder:
            terminal = Terminal(pathlib.Path(folder))
            self.addCleanup(terminal.close)
            for block in found:
                printed = terminal.run(block)
                if block.shown is not None:
                    told = f"{page.name}, line {block.line}:\n{block.text}printed\n{printed}\nand not as shown\n{block.shown}"
                    self.assertTrue(blocks.is_shown(block.shown, printed), told)
            terminal.close()

    def test_app_developers(self):
        self.read(ROOT / "deploy" / "docs" / "app-developers.md")

    def test_coaches(self):
        self.read(ROOT / "deploy" / "docs" / "coaches.md")

    def test_analysts(self):
        self.read(ROOT / "deploy" / "docs" / "analysts.md")

    def test_clients(self):
        self.read(CLIENTS / "README.md")

    def test_no_page_is_left_out(self):
        read = {"app-developers.md", "coaches.md", "analysts.md", "README.md"}
        self.assertEqual({page.name for page in PAGES}, read)


class Blocks(unittest.TestCase):
    """A block that is not run cannot be written."""

    def of(self, text: str) -> list[blocks.Block]:
        with tempfile.TemporaryDirectory() as folder:
            page = pathlib.Path(folder) / "page.md"
            page.write_text(text)
            return blocks.blocks(page)

    def test_blocks_are_found_with_what_is_shown(self):
        found = self.of("# A page\n\n```sh\nnextrung demo\n```\nprints\n\n```python\nprint(1)\n```\n```text\n1\n```\n")
        told = [(block.kind, block.text, block.shown) for block in found]
        self.assertEqual(told, [("sh", "nextrung demo\n", None), ("python", "print(1)\n", "1\n")])

    def test_what_would_not_be_run_is_refused(self):
        for text in (
            "```\nnextrung demo\n```\n", "```bash\nnextrung demo\n```\n", "```console\n$ nextrung demo\n```\n",
            "~~~sh\nnextrung demo\n~~~\n", "- one\n\n  ```sh\n  nextrung demo\n  ```\n", "So:\n\n    nextrung demo\n",
            "So:\n\n\tnextrung demo\n", "```sh\nnextrung demo\n", "```text\nlistening\n```\n",
            "```sh\nnextrung demo\n```\nSays:\n```text\nx\n```\n", "Say `nextrung serve --keys true`.\n```sh\ntrue\n```\n",
        ):
            with self.subTest(text), self.assertRaises(ValueError):
                self.of(text)

    def test_output_is_held_against_what_is_shown(self):
        printed = "one 1.5\ntwo\nthree\n"
        for shown in ("one 1.5\ntwo\nthree\n", "...\nthree\n", "one ...\n...\nthree\n", "one 1.5\n...\n", "...\ntwo\n...\n"):
            self.assertTrue(blocks.is_shown(shown, printed), shown)
        for shown in ("one 1.5\n", "two\n...\n", "one 1x5\n...\n", "...\nfour\n", "one 1.5\ntwo\nthree\nfour\n", "one ...\nthree\n"):
            self.assertFalse(blocks.is_shown(shown, printed), shown)


class Running(unittest.TestCase):
    """A command that fails fails its page."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="nextrung-page-")
        self.addCleanup(folder.cleanup)
        self.terminal = Terminal(pathlib.Path(folder.name))
        self.addCleanup(self.terminal.close)

    def test_variables_and_files_stay(self):
        self.terminal.run(blocks.Block("sh", 1, "x=3; echo 4 > y\n"))
        self.assertEqual(self.terminal.run(blocks.Block("sh", 2, "echo $x; cat y\n")), "3\n4\n")

    def test_a_failure_is_told(self):
        for text in ("false\n", "nextrung nothing\n", "false | true\n", "echo $unset\n"):
            terminal = Terminal(pathlib.Path(self.enterContext(tempfile.TemporaryDirectory())))
            self.addCleanup(terminal.close)
            with self.subTest(text), self.assertRaises(RuntimeError):
                terminal.run(blocks.Block("sh", 1, text))
        with self.assertRaises(RuntimeError):
            self.terminal.run(blocks.Block("sh", 1, "nextrung serve --no-such-setting\n"))
