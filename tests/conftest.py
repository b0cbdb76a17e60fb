"""What tests in several folders share: one Chromium for the run, since one process can drive only one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

CHROMIUM = "/usr/bin/chromium"
FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking"
    " --disable-component-update --disable-sync"
)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The browser of the run."""
    from playwright.sync_api import sync_playwright  # here, so that tests without a browser do not wait for it

    # Playwright's own loop runs in this thread, and Django would refuse its queries there; only tests do both in one.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS.split())
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
