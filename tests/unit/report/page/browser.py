"""A real browser without a window for the report pages, and what its pages say and ask for."""

from __future__ import annotations

import dataclasses
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium")
FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
WIDTH, HEIGHT = 1280, 900
AGREE = 1e-6
"""Relative; asked of the page's arithmetic.  It agrees with the program's to 1e-11 in fact."""
STICKS_OUT = """() => [
  ...document.querySelectorAll('.plot > *, table, select, figure > svg')
].filter((e) => e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.outerHTML)"""
FITS = f"""async (width) => {{
  for (let k = 0; k < 2; k++) await new Promise(requestAnimationFrame);
  return innerWidth === width
    && document.documentElement.scrollWidth <= width && ({STICKS_OUT})().length === 0;
}}"""

needs_browser = pytest.mark.skipif(
    CHROMIUM is None, reason="no chromium on this machine; .ci/setup installs Debian's"
)


@dataclasses.dataclass
class Opened:
    """A page in the browser, its file, and what it said and asked for."""

    page: Any
    path: Path
    said: list[str]
    requests: list[str]

    def assert_alone(self) -> None:
        """Assert that it said nothing and asked for nothing but its own file."""
        assert self.said == []
        assert [u for u in self.requests if not u.startswith("data:")] == [self.path.as_uri()]

    def assert_fits(self, width: int) -> None:
        """Assert that nothing sticks out of a window of that width, once figures are laid out."""
        from playwright.sync_api import TimeoutError as TooLate

        self.page.set_viewport_size({"width": width, "height": HEIGHT})
        try:
            self.page.wait_for_function(FITS, arg=width, timeout=10_000)
        except TooLate:
            assert self.page.evaluate(STICKS_OUT) == []
            raise


@contextmanager
def started() -> Iterator[Any]:
    """Start the browser for the block."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


def open_page(browser: Any, path: Path, ready: str) -> Opened:
    """Open a file and wait until a JavaScript expression is true in it.

    Motion is asked to be reduced, as a reader can: a place read off the page stays there.
    """
    page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT}, reduced_motion="reduce")
    opened = Opened(page, path, [], [])
    page.on(
        "console",
        lambda m: opened.said.append(m.text) if m.type in ("error", "warning") else None,
    )
    page.on("pageerror", lambda error: opened.said.append(str(error)))
    page.on("request", lambda request: opened.requests.append(request.url))
    page.goto(path.as_uri())
    page.wait_for_function(ready)
    return opened
