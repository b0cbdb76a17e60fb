"""What tests in several folders share: one Chromium for the run, since one process can drive only one."""

from __future__ import annotations

import gc
import os
from collections import Counter
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


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """
    Put files with slow tests first, those with fewer tests before those with more.

    A file stays with one process; one that begins last with a test of two minutes would have the other wait for it.
    """
    tests, slow = Counter(item.path for item in items), Counter(item.path for item in items if is_slow(item))
    items.sort(key=lambda item: (not slow[item.path], tests[item.path] if slow[item.path] else 0))


def is_slow(item: pytest.Item) -> bool:
    return item.get_closest_marker("slow") is not None


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


def pytest_collection_finish() -> None:
    """What is collected stays until the end: the garbage collector need not walk over it after every few hundred objects."""
    gc.collect()
    gc.freeze()
