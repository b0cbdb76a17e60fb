"""A real browser before a real server: a context of its own for each page of the run's one Chromium."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder needs the browser."""
    for item in items:
        if "tests/browser/" in str(item.path):
            item.add_marker(pytest.mark.browser)


@pytest.fixture
def open_as(chromium: Browser, live_server: Any) -> Iterator[Callable[..., Page]]:
    """
    Return a function that opens a page as a person, or as nobody: ``open_as(person, width=390)``.

    Whatever the page says in its console as an error, and every refusal of the content policy, fails the test.
    """
    contexts: list[BrowserContext] = []
    faults: list[str] = []

    def open_page(person: Any, *, width: int = 1440, height: int = 900, **options: Any) -> Page:
        context = chromium.new_context(
            viewport={"width": width, "height": height}, base_url=live_server.url, reduced_motion="reduce", **options
        )
        if person is not None:
            client = Client()
            client.force_login(person)
            cookie = client.cookies[settings.SESSION_COOKIE_NAME]
            context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("console", lambda message: _note(faults, message.type, message.text))
        page.on("pageerror", lambda error: faults.append(str(error)))
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not faults


def _note(faults: list[str], kind: str, text: str) -> None:
    # A refused form or a lost connection is an answer that the tests ask for themselves.
    if kind == "error" and "Failed to load resource" not in text:
        faults.append(text)
