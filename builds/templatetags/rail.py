"""The rail's rooms: only those whose page exists are shown."""

from django import template
from django.http import HttpRequest
from django.template.context import Context
from django.urls import NoReverseMatch, reverse

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


def room_addresses() -> list[tuple[str, str]]:
    """Return word and address of every room that has a page."""
    rooms = []
    for word, name in ROOMS:
        try:
            rooms.append((word, reverse(name)))
        except NoReverseMatch:
            continue
    return rooms


@register.inclusion_tag("_components/rail_rooms.html", takes_context=True)
def rail_rooms(context: Context) -> dict[str, object]:
    """``{% rail_rooms %}``: links to the rooms, the present one marked."""
    request: HttpRequest | None = context.get("request")
    path = request.path if request else ""
    rooms = room_addresses()
    inside = [address for _, address in rooms if path.startswith(address)]
    present = max(inside, key=len) if inside else ""
    return {"rooms": [{"word": word, "address": address, "present": address == present} for word, address in rooms]}
