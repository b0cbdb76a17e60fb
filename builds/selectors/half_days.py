"""
The working week in half days, Monday to Saturday: what a plan is moved by.

A moment is turned into the half day it falls in and back, on the shop's own clock. The hours are common practice and the
same for every shop until shifts are data.
"""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

__all__ = ["NOON", "SHIFT_END", "SHIFT_START", "WORKING_DAYS", "moved_end", "moved_start", "quarter_of"]

SHIFT_START, NOON, SHIFT_END = time(7), time(12), time(17)
WORKING_DAYS = 6  # Monday to Saturday
_MONDAY = date(2001, 1, 1)  # any Monday will do to count from


def moved_start(moment: datetime, half_days: int, zone: ZoneInfo) -> datetime:
    """Return the start of the half day that lies ``half_days`` after the one ``moment`` falls in."""
    return _start_of(_index_of_start(moment.astimezone(zone)) + half_days, zone)


def moved_end(moment: datetime, half_days: int, zone: ZoneInfo) -> datetime:
    """Return the end of the half day that lies ``half_days`` after the one that ends at or around ``moment``."""
    return _end_of(_index_of_end(moment.astimezone(zone)) + half_days, zone)


def _index_of_start(local: datetime) -> int:
    """The half day in which a stay that starts then begins; after the shift it is the next morning."""
    day, clock = local.date(), local.time()
    if clock >= SHIFT_END:
        return _index(day + timedelta(days=1), 0)
    return _index(day, 1 if clock >= NOON else 0)


def _index_of_end(local: datetime) -> int:
    """The last half day of a stay that ends then; before the shift it is the evening before."""
    day, clock = local.date(), local.time()
    if clock <= SHIFT_START:
        return _index_before(day)
    return _index(day, 0 if clock <= NOON else 1) if day.weekday() < WORKING_DAYS else _index_before(day)


def _index(day: date, half: int) -> int:
    """Half days since the counting Monday; a Sunday counts as the Monday after."""
    weeks, weekday = divmod((day - _MONDAY).days, 7)
    if weekday >= WORKING_DAYS:
        weeks, weekday, half = weeks + 1, 0, 0
    return (weeks * WORKING_DAYS + weekday) * 2 + half


def _index_before(day: date) -> int:
    """The last half day before ``day``."""
    return _index(day, 0) - 1


def _start_of(index: int, zone: ZoneInfo) -> datetime:
    return datetime.combine(_day(index), NOON if index % 2 else SHIFT_START, tzinfo=zone)


def _end_of(index: int, zone: ZoneInfo) -> datetime:
    return datetime.combine(_day(index), SHIFT_END if index % 2 else NOON, tzinfo=zone)


def _day(index: int) -> date:
    weeks, weekday = divmod(index // 2, WORKING_DAYS)
    return _MONDAY + timedelta(days=weeks * 7 + weekday)


def quarter_of(local: datetime, monday: date, days: int) -> int:
    """
    Return where a moment stands on a board of ``days`` days, in quarters of a shift from its left edge.

    What lies outside the shift stands at its nearer end, what lies outside the week at the board's.
    """
    day = (local.date() - monday).days
    if day < 0:
        return 0
    if day >= days:
        return days * 4
    shift_s = _seconds(SHIFT_END) - _seconds(SHIFT_START)
    part = (_seconds(local.time()) - _seconds(SHIFT_START)) / shift_s
    return day * 4 + round(min(max(part, 0.0), 1.0) * 4)


def _seconds(clock: time) -> int:
    return clock.hour * 3600 + clock.minute * 60 + clock.second
