"""A request as the middlewares hand it on, once it is known who asks: what types alone cannot see."""

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from builds.models import Person

__all__ = ["ShopRequest", "named_edit"]


class ShopRequest(HttpRequest):
    """A request of a signed-in person, for views that have checked their right; ``htmx`` tells a fragment from a page."""

    user: Person
    htmx: HtmxDetails
    events_origin: str


def named_edit(request: HttpRequest) -> int | None:
    """Return the design version of the edit that a form to undo names, ``None`` where it names none."""
    text = request.POST.get("edit", "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None
