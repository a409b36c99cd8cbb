"""A real browser without a screen, for pages that are opened in one.

Needs Debian's ``chromium`` and ``chromium-driver`` (or the like) and selenium; where they are
missing a test is skipped, unless ``NAMEFIRST_CI`` is set, where it fails. Pictures go to
``NAMEFIRST_PICTURES`` if that is set.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

_BROWSERS = ("chromium", "chromium-browser", "google-chrome")
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextlib.contextmanager
def browser(width: int = 1280, height: int = 900) -> Iterator[Any]:
    """A selenium driver of a fresh Chromium; ended when the block ends."""
    program = next(filter(None, map(shutil.which, _BROWSERS)), None)
    driver = shutil.which("chromedriver")
    if (program is None or driver is None) and "NAMEFIRST_CI" not in os.environ:
        pytest.skip("needs chromium and chromium-driver")
    assert program is not None
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = program
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        for flag in (*_FLAGS, f"--user-data-dir={profile}", f"--window-size={width},{height}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        opened = webdriver.Chrome(options=options, service=Service(driver))
        try:
            yield opened
        finally:
            opened.quit()


def picture(opened: Any, folder: Path, name: str) -> Path:
    """A picture of what the browser shows."""
    place = Path(os.environ.get("NAMEFIRST_PICTURES", folder))
    place.mkdir(parents=True, exist_ok=True)
    path = place / f"{name}.png"
    opened.save_screenshot(str(path))
    return path
