"""The shop's own clock: columns hold UTC, days and hours that people read are the shop's."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from builds.models import Shop

__all__ = ["at_local", "day_and_time", "shop_zone"]


def shop_zone() -> ZoneInfo:
    """Return the shop's time zone; UTC before there is a shop."""
    name = Shop.objects.values_list("time_zone", flat=True).first()
    return ZoneInfo(name or "UTC")


def at_local(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """Return the moment at which the shop's clock shows ``clock`` on ``day``."""
    return datetime.combine(day, clock, tzinfo=zone)


def day_and_time(moment: datetime, zone: ZoneInfo) -> str:
    """Return a moment in the shop's words: "Thu 17 Dec 16:00"."""
    return f"{moment.astimezone(zone):%a %-d %b %H:%M}"
