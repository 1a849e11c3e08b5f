"""A real browser for tests of pages: the system's Chromium, driven by Playwright."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest

__all__ = ["WatchedPage", "browser_page"]

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
"""What the system may call it."""
ARGUMENTS = (
    "--no-sandbox",  # a container's root may not make one
    "--disable-gpu",
    "--use-angle=swiftshader",  # WebGL without a graphics card
    "--enable-unsafe-swiftshader",
    "--no-first-run",
    # nothing of its own on the network
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@dataclass(frozen=True)
class WatchedPage:
    """A page, and what went wrong in it so far."""

    page: Any
    """Playwright's `Page`."""
    errors: list[str] = field(default_factory=list)
    """Errors on the console and exceptions that nothing caught, in order."""
    requests: list[str] = field(default_factory=list)
    """Addresses that were asked for, in order."""


@contextmanager
def browser_page(
    *, width: int = 1280, height: int = 800, offline: bool = False, touch: bool = False
) -> Iterator[WatchedPage]:
    """A fresh page of that size (CSS pixels); its browser is closed afterwards.

    Where there is no browser, or no Playwright, the test is skipped with the reason; under `CI`,
    where everything must be there, it fails.
    """
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _missing("Playwright for Python is not installed")
    program = next((path for path in map(shutil.which, NAMES) if path), None)
    if program is None:
        _missing(f"no browser is installed (looked for {', '.join(NAMES)})")
    with _playwright(sync_playwright) as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(ARGUMENTS))
        try:
            context = browser.new_context(
                viewport={"width": width, "height": height}, has_touch=touch
            )
            context.set_offline(offline)
            watched = WatchedPage(context.new_page())
            watched.page.on("console", lambda message: _note(message, watched.errors))
            watched.page.on("pageerror", lambda error: watched.errors.append(str(error)))
            watched.page.on("request", lambda request: watched.requests.append(request.url))
            yield watched
        finally:
            browser.close()


@contextmanager
def _playwright(start: Callable[[], Any]) -> Iterator[Any]:
    """Playwright, which runs but once: pages that are open at one time share it."""
    if not _running:
        _running.append(start().start())
    _running.append(_running[0])
    try:
        yield _running[0]
    finally:
        _running.pop()
        if len(_running) == 1:
            _running.pop().stop()


_running: list[Any] = []
"""Playwright, once for itself and once for each page that is open."""


def _note(message: Any, errors: list[str]) -> None:
    if message.type == "error":
        errors.append(message.text)


def _missing(why: str) -> None:
    if os.environ.get("CI"):
        pytest.fail(f"{why}, and CI must run the tests in a browser")
    pytest.skip(why)
