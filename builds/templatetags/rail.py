"""The rail's rooms: only those whose page exists are shown."""

from functools import lru_cache

from django import template
from django.http import HttpRequest
from django.template.context import Context
from django.template.loader import render_to_string
from django.urls import NoReverseMatch, get_urlconf, reverse
from django.utils.safestring import SafeString

register = template.Library()

# Word on the rail, and the name of its page. A room whose page is not there yet is left out.
ROOMS = (
    ("Builds", "build-list"),
    ("Bays", "bay-board"),
    ("Yard", "yard"),
    ("Stores", "stores"),
    ("Customers", "customer-list"),
    ("People", "people"),
)


@lru_cache(maxsize=8)
def room_addresses(urlconf: str | None = None) -> tuple[tuple[str, str], ...]:
    """Return word and address of every room that has a page; the same for every request of an urlconf."""
    rooms = []
    for word, name in ROOMS:
        try:
            rooms.append((word, reverse(name, urlconf=urlconf)))
        except NoReverseMatch:
            continue
    return tuple(rooms)


@lru_cache(maxsize=64)
def _drawn_rooms(urlconf: str | None, present: str) -> SafeString:
    """Return the rail's links, drawn once for each room that can be the present one: every page has them."""
    rooms = [
        {"word": word, "address": address, "present": address == present} for word, address in room_addresses(urlconf)
    ]
    return render_to_string("_components/rail_rooms.html", {"rooms": rooms})


@register.simple_tag(takes_context=True)
def rail_rooms(context: Context) -> SafeString:
    """``{% rail_rooms %}``: links to the rooms, the present one marked."""
    request: HttpRequest | None = context.get("request")
    path = request.path if request else ""
    urlconf = get_urlconf()
    inside = [address for _, address in room_addresses(urlconf) if path.startswith(address)]
    return _drawn_rooms(urlconf, max(inside, key=len) if inside else "")
