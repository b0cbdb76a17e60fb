"""Half days of the working week, on the shop's clock, over weekends and clock changes."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.selectors.half_days import moved_end, moved_start, quarter_of

NEW_YORK = ZoneInfo("America/New_York")
MONDAY = date(2026, 12, 7)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=NEW_YORK)


@pytest.mark.parametrize(
    ("moment", "half_days", "expected"),
    [
        ("2026-12-09T07:00", 0, "2026-12-09T07:00"),
        ("2026-12-09T10:40", 0, "2026-12-09T07:00"),
        ("2026-12-09T10:40", 1, "2026-12-09T12:00"),
        ("2026-12-09T12:00", 0, "2026-12-09T12:00"),
        ("2026-12-09T17:00", 0, "2026-12-10T07:00"),
        ("2026-12-09T03:00", 0, "2026-12-09T07:00"),
        ("2026-12-12T12:00", 1, "2026-12-14T07:00"),  # Saturday afternoon, then Monday morning
        ("2026-12-14T07:00", -1, "2026-12-12T12:00"),
        ("2026-12-13T10:00", 0, "2026-12-14T07:00"),  # a Sunday counts as the Monday after
        ("2026-12-09T07:00", 12, "2026-12-16T07:00"),  # a week has twelve half days
        ("2026-10-31T12:00", 1, "2026-11-02T07:00"),  # clocks go back on Sunday, 1 November 2026
    ],
)
def test_moved_start(moment: str, half_days: int, expected: str) -> None:
    assert moved_start(at(moment), half_days, NEW_YORK) == at(expected)


@pytest.mark.parametrize(
    ("moment", "half_days", "expected"),
    [
        ("2026-12-09T17:00", 0, "2026-12-09T17:00"),
        ("2026-12-09T16:00", 0, "2026-12-09T17:00"),
        ("2026-12-09T12:00", 0, "2026-12-09T12:00"),
        ("2026-12-09T12:00", 1, "2026-12-09T17:00"),
        ("2026-12-09T07:00", 0, "2026-12-08T17:00"),
        ("2026-12-07T06:00", 0, "2026-12-05T17:00"),  # Monday before the shift: Saturday evening
        ("2026-12-13T15:00", 0, "2026-12-12T17:00"),  # a Sunday: Saturday evening
        ("2026-12-12T17:00", 1, "2026-12-14T12:00"),
    ],
)
def test_moved_end(moment: str, half_days: int, expected: str) -> None:
    assert moved_end(at(moment), half_days, NEW_YORK) == at(expected)


moments = st.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1), timezones=st.just(NEW_YORK))  # noqa: DTZ001


@given(moments, st.integers(-60, 60))
def test_moving_there_and_back_ends_where_it_snapped(moment: datetime, half_days: int) -> None:
    snapped = moved_start(moment, 0, NEW_YORK)

    assert moved_start(moved_start(snapped, half_days, NEW_YORK), -half_days, NEW_YORK) == snapped


@given(moments, moments, st.integers(-60, 60))
def test_order_stays_and_no_half_day_is_a_sunday(one: datetime, other: datetime, half_days: int) -> None:
    early, late = sorted((one, other))

    assert moved_start(early, half_days, NEW_YORK) <= moved_start(late, half_days, NEW_YORK)
    assert moved_end(early, half_days, NEW_YORK) <= moved_end(late, half_days, NEW_YORK)
    assert moved_start(early, half_days, NEW_YORK).weekday() < 6
    assert moved_end(early, half_days, NEW_YORK).weekday() < 6


@given(moments, st.integers(-60, 60))
def test_half_day_that_starts_ends_five_hours_later(moment: datetime, half_days: int) -> None:
    start = moved_start(moment, half_days, NEW_YORK)

    assert moved_end(start + timedelta(minutes=1), 0, NEW_YORK) == start + timedelta(hours=5)


@pytest.mark.parametrize(
    ("moment", "quarter"),
    [
        ("2026-12-06T12:00", 0),  # the Sunday before
        ("2026-12-07T00:00", 0),
        ("2026-12-07T07:00", 0),
        ("2026-12-07T09:30", 1),
        ("2026-12-07T12:00", 2),
        ("2026-12-07T17:00", 4),
        ("2026-12-07T23:00", 4),
        ("2026-12-09T10:40", 9),
        ("2026-12-12T17:00", 24),
        ("2026-12-14T08:00", 24),  # the week after
    ],
)
def test_quarter_of(moment: str, quarter: int) -> None:
    assert quarter_of(at(moment), MONDAY, 6) == quarter
