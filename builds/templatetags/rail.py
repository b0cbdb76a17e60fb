"""The rail's rooms: only those whose page exists, and which the person may enter, are shown."""

from functools import lru_cache

from django import template
from django.http import HttpRequest
from django.template.context import Context
from django.template.loader import render_to_string
from django.urls import NoReverseMatch, get_urlconf, reverse
from django.utils.safestring import SafeString

from builds.permissions import Action, may

register = template.Library()

# Word on the rail, the name of its page, and what one must be allowed to do to enter where not everybody may.
# A room whose page is not there yet is left out.
ROOMS = (
    ("Builds", "build-list", None),
    ("Bays", "bay-board", None),
    ("Yard", "yard", None),
    ("Stores", "stores", None),
    ("Customers", "customer-list", None),
    ("People", "people", Action.EDIT_PEOPLE),
)


@lru_cache(maxsize=8)
def room_addresses(urlconf: str | None = None) -> tuple[tuple[str, str, Action | None], ...]:
    """Return word, address and right of every room that has a page; the same for every request of an urlconf."""
    rooms = []
    for word, name, right in ROOMS:
        try:
            rooms.append((word, reverse(name, urlconf=urlconf), right))
        except NoReverseMatch:
            continue
    return tuple(rooms)


@lru_cache(maxsize=64)
def _drawn_rooms(urlconf: str | None, present: str, rights: frozenset[Action]) -> SafeString:
    """Return the rail's links, drawn once for each present room and set of rights: every page has them."""
    rooms = [
        {"word": word, "address": address, "present": address == present}
        for word, address, right in room_addresses(urlconf)
        if right is None or right in rights
    ]
    return render_to_string("_components/rail_rooms.html", {"rooms": rooms})


@register.simple_tag(takes_context=True)
def rail_rooms(context: Context) -> SafeString:
    """``{% rail_rooms %}``: links to the rooms one may enter, the present one marked."""
    request: HttpRequest | None = context.get("request")
    path = request.path if request else ""
    urlconf = get_urlconf()
    rooms = room_addresses(urlconf)
    inside = [address for _, address, _ in rooms if path.startswith(address)]
    person = getattr(request, "user", None)
    rights = frozenset(right for _, _, right in rooms if right is not None and person and may(person, right))
    return _drawn_rooms(urlconf, max(inside, key=len) if inside else "", rights)
