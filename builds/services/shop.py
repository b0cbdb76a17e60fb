"""The shop's own row, and its bays."""

from datetime import datetime
from zoneinfo import available_timezones

from django.db import transaction

from builds.errors import BadInput
from builds.models import Bay, BayPlace, Person, Shop
from builds.services.actors import act_as

__all__ = ["add_bay", "open_shop"]


def open_shop(*, name: str, time_zone: str, currency: str = "USD", at: datetime, **more: object) -> Shop:
    """Write the shop's row, once. Raises BadInput."""
    fields = {}
    if not name.strip():
        fields["name"] = "Give the shop's name."
    if time_zone not in available_timezones():
        fields["time_zone"] = f"{time_zone!r} is no time zone; write it like America/New_York."
    if fields:
        raise BadInput(fields)
    shop, _ = Shop.objects.update_or_create(
        only_row=True, defaults={"name": name.strip(), "time_zone": time_zone, "currency": currency, **more}
    )
    return shop


def add_bay(*, name: str, features: str, places: int, by: Person) -> Bay:
    """Add a bay with room for ``places`` vehicles. Raises BadInput."""
    if not name.strip() or Bay.objects.filter(name=name.strip()).exists():
        raise BadInput({"name": "Give the bay a name of its own."})
    if not 1 <= places <= 8:
        raise BadInput({"places": "A bay has from 1 to 8 places."})
    with transaction.atomic():
        act_as(by)
        bay = Bay.objects.create(name=name.strip(), features=features.strip(), line=Bay.objects.count() + 1)
        BayPlace.objects.bulk_create(BayPlace(bay=bay, number=number) for number in range(1, places + 1))
    return bay
