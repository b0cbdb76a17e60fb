"""
Progress of a render in real pages, and its cancelling.

The renderer tells its layout page by page through a logger, once for every pass; how many pages there are is known after
the first. While it writes it tells nothing, so each page is wrapped in one that says when it is painted.
"""

import logging
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

__all__ = ["PageProgress", "RenderCancelled", "RenderFault", "counted_pages", "no_fault_passed_over", "told_progress"]

_LAYOUT_PAGE = re.compile(r"Step 5 - Creating layout - Page (\d+)")


class RenderCancelled(Exception):
    """Somebody cancelled the render, or another attempt took it over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageProgress:
    """How far a render is: words for a person, the page it is at, and how many there are once that is known."""

    words: str
    page: int
    pages: int | None


class _LayoutListener(logging.Handler):
    """Turns the renderer's log lines into progress; what ``tell`` raises goes through the renderer and ends it."""

    def __init__(self, tell: Callable[[PageProgress], None]) -> None:
        super().__init__(level=logging.INFO)
        self._tell = tell
        self._highest = 0
        self._pages: int | None = None

    def emit(self, record: logging.LogRecord) -> None:
        found = _LAYOUT_PAGE.match(record.getMessage())
        if found is None:
            return
        page = int(found[1])
        if page == 1 and self._highest:
            self._pages = self._highest  # the second pass begins: the first one counted them
        self._highest = max(self._highest, page)
        words = f"Laying out page {page} of {self._pages}" if self._pages else f"Laying out page {page}"
        self._tell(PageProgress(words=words, page=page, pages=self._pages))


class RenderFault(Exception):
    """The renderer went on without something it should have drawn; the message is its own."""


class _FaultListener(logging.Handler):
    """Keeps what the renderer reports as errors: it goes on without the thing, which a packet may not."""

    def __init__(self) -> None:
        super().__init__(level=logging.ERROR)
        self.faults: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.faults.append(record.getMessage())


@contextmanager
def no_fault_passed_over() -> Iterator[None]:
    """Raise RenderFault at the end if the renderer reported an error on the way."""
    logger = logging.getLogger("weasyprint")
    listener = _FaultListener()
    before = logger.disabled
    logger.addHandler(listener)
    logger.disabled = False
    try:
        yield
    finally:
        logger.removeHandler(listener)
        logger.disabled = before
    if listener.faults:
        raise RenderFault(listener.faults[0])


@contextmanager
def told_progress(tell: Callable[[PageProgress], None]) -> Iterator[None]:
    """Call ``tell`` at every page that is laid out; it may raise RenderCancelled."""
    logger = logging.getLogger("weasyprint.progress")
    listener = _LayoutListener(tell)
    before = logger.level, logger.propagate, logger.disabled
    logger.addHandler(listener)
    logger.setLevel(logging.INFO)
    logger.propagate, logger.disabled = False, False
    try:
        yield
    finally:
        logger.removeHandler(listener)
        logger.level, logger.propagate, logger.disabled = before
        logger.setLevel(before[0])


class _CountedPage:
    """A page that says when it is painted, and is the page itself in everything else."""

    def __init__(self, page: Any, told: Callable[[], None]) -> None:
        self._page = page
        self._told = told

    def __getattr__(self, name: str) -> Any:
        return getattr(self._page, name)

    def paint(self, *given: Any, **named: Any) -> Any:
        self._told()
        return self._page.paint(*given, **named)


def counted_pages(pages: list[Any], tell: Callable[[PageProgress], None]) -> list[Any]:
    """Return the pages of a document so that ``tell`` hears of each when it is painted; it may raise RenderCancelled."""

    def told(number: int) -> Callable[[], None]:
        words = f"Writing page {number} of {len(pages)}"
        return lambda: tell(PageProgress(words=words, page=number, pages=len(pages)))

    return [_CountedPage(page, told(number)) for number, page in enumerate(pages, start=1)]
