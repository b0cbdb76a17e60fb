"""How a line of the table is written: a good thing to send, and what is changed in it to make it bad."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse

from builds.models import Role
from tests.factories.two_builds import TwoBuilds

__all__ = ["HEAD", "PAGE", "Bad", "Good"]

HEAD = "the form's head"
PAGE = "a page of its own"

Values = Mapping[str, Any]
OfShop = Callable[[TwoBuilds], Values]


@dataclass(frozen=True, slots=True, kw_only=True)
class Good:
    """
    Something the shop takes; a test sends it as it is, so that a bad one is refused for what was changed in it.

    ``data`` is a form, or with ``json`` the body of the API. ``taken`` is the status of the answer; without one it is good
    but for where or how it is sent.
    """

    what: str
    route: str
    fill: OfShop
    data: OfShop
    who: Role | None = Role.MANAGER
    method: str = "post"
    query: str = ""
    json: bool = False
    taken: int | None = 302
    setup: Callable[[TwoBuilds], None] | None = None
    content_type: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)

    def address(self, shop: TwoBuilds) -> str:
        """Return where it is sent."""
        return reverse(self.route, kwargs=dict(self.fill(shop))) + self.query

    def bad(self, *lines: tuple[Any, ...]) -> Iterator["Bad"]:
        """Make a bad input of each line: what, the change, the field, the words, and the status if it is not 422."""
        for what, change, at, words, *status in lines:
            yield Bad(good=self, what=what, change=change, at=at, words=words, status=status[0] if status else 422)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bad:
    """
    One bad input: ``change`` puts other values into the good one, or is the whole body as bytes.

    ``at`` is where the ``words`` are to stand: a field's name, a pointer of a document, the form's head, a page.
    """

    good: Good
    what: str
    change: Values | bytes | Callable[[TwoBuilds], Values]
    at: str
    words: str
    status: int

    def __str__(self) -> str:
        return f"{self.good.what}: {self.what}"

    def body(self, shop: TwoBuilds) -> dict[str, Any] | bytes:
        """Return what is sent."""
        if isinstance(self.change, bytes):
            return self.change
        change = self.change(shop) if callable(self.change) else self.change
        merged = dict(self.good.data(shop)) | dict(change)
        return {name: value for name, value in merged.items() if value is not None}
