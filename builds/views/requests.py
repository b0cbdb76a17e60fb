"""A request as the middlewares hand it on, once it is known who asks: what types alone cannot see."""

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from builds.models import Person

__all__ = ["ShopRequest"]


class ShopRequest(HttpRequest):
    """A request of a signed-in person, for views that have checked their right; ``htmx`` tells a fragment from a page."""

    user: Person
    htmx: HtmxDetails
    events_origin: str
