"""The page, built and served on loopback, in Chromium without a window."""

import functools
import http.server
import os
import shutil
import threading

import hall
from hall import CLIENTS, HallCase
from playwright.sync_api import Page, expect, sync_playwright

# Nothing of Chromium's own goes out; the sandbox needs rights that a container may lack.
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]
# A page may have to ask again, and the machine may be busy.
expect.set_options(timeout=30_000)


def chromium() -> str:
    """Where Chromium is."""
    path = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not path:
        raise FileNotFoundError("Chromium is missing. Debian: apt-get install chromium; CHROMIUM names it elsewhere.")
    return path


@functools.cache
def built() -> str:
    """The folder with the page and the tests' door beside it."""
    return hall.started([CLIENTS / "browser" / "build", hall.ROOT / "tests" / "clients" / "refusals.ts"]).strip()


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_) -> None:
        """Says nothing."""


class BrowserCase(HallCase):
    """Every class of tests has a service that allows the page's origin, the page at `origin`, and a browser."""

    @classmethod
    def setUpClass(cls):
        handler = functools.partial(_Quiet, directory=built())
        server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        cls.addClassCleanup(server.server_close)
        cls.addClassCleanup(server.shutdown)
        cls.origin = f"http://127.0.0.1:{server.server_port}"
        cls.settings = (*cls.settings, *cls.allowing(cls.origin))
        super().setUpClass()
        playwright = sync_playwright().start()
        cls.addClassCleanup(playwright.stop)
        cls.browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        cls.addClassCleanup(cls.browser.close)

    @staticmethod
    def allowing(origin: str) -> tuple[str, ...]:
        """The setting with which pages of an origin may ask."""
        return ("--web-origins", origin)

    def page(self, **more) -> Page:
        """A new page; an error of its script fails the test."""
        context = self.browser.new_context(**more)
        self.addCleanup(context.close)
        page = context.new_page()
        self.faults: list[str] = []
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.addCleanup(lambda: self.assertEqual(self.faults, []))
        return page
