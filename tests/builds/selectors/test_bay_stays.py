"""The bay board's bars: plan beside fact, collisions as words, the promise that cuts a bar."""

from datetime import date, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from builds.models import BayPlace, Build, Role
from builds.selectors.bay_board import BayBoard, bay_board, week_of
from builds.selectors.bay_stays import Stay
from builds.services.bays import book, enter_bay, leave_bay
from tests.factories.builds import make_person, make_shop
from tests.factories.floor import make_bay, make_working_build

pytestmark = pytest.mark.django_db

NEW_YORK = ZoneInfo("America/New_York")
WEEK = "2026-W50"  # Mon 7 to Sat 12 December 2026


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 12, day, hour, minute, tzinfo=NEW_YORK)


NOW = at(9, 10, 40)


@pytest.fixture(autouse=True)
def _shop() -> None:
    make_shop()


@pytest.fixture
def build() -> Build:
    return make_working_build(number="2614", promised_on=date(2026, 12, 18))


def plan(build: Build, place: BayPlace, start: datetime, end: datetime) -> None:
    book(build=build, place=place, start=start, end=end, by=make_person(Role.MANAGER), at=min(NOW, start))


def enter(build: Build, place: BayPlace, moment: datetime) -> None:
    enter_bay(build=build, place=place, event_id=uuid4(), by=make_person(Role.MANAGER), at=moment)


def board(now: datetime = NOW) -> BayBoard:
    return bay_board(week=WEEK, now=now)


def stays(place: BayPlace, now: datetime = NOW) -> tuple[Stay, ...]:
    return next(row.stays for row in board(now).rows if row.place == place)


def test_plan_that_is_to_come_is_dashed_and_says_planned(build: Build) -> None:
    place = make_bay()
    plan(build, place, at(10, 7), at(11, 12))

    (stay,) = stays(place)

    assert (stay.kind, stay.column, stay.span, stay.fact_span) == ("planned", 13, 6, 0)
    assert stay.state == ("planned", "Planned")
    assert not stay.before and not stay.beyond


def test_vehicle_where_it_is_planned_is_one_stay_from_fact_to_plan(build: Build) -> None:
    place = make_bay()
    plan(build, place, at(7, 7), at(11, 17))
    enter(build, place, at(8, 7, 30))

    (stay,) = stays(place)

    assert (stay.kind, stay.start, stay.end) == ("in", at(8, 7, 30), at(11, 17))
    assert (stay.column, stay.span, stay.fact_span) == (5, 16, 5)  # fact from Tuesday morning to Wednesday 10:40
    assert stay.state == ("on_time", "On time by the plan")


def test_stay_of_more_than_the_week_runs_out_at_both_sides(build: Build) -> None:
    place = make_bay()
    plan(build, place, at(4, 8), at(17, 16))
    enter(build, place, at(4, 8))

    (stay,) = stays(place)

    assert (stay.column, stay.span, stay.before, stay.beyond) == (1, 24, True, True)


def test_vehicle_that_stands_there_now_is_no_fact_of_a_week_to_come(build: Build) -> None:
    place = make_bay()
    enter(build, place, at(8, 8))

    for week in ("2026-W51", "2030-W01"):
        assert next(row.stays for row in bay_board(week=week, now=NOW).rows if row.place == place) == ()


def test_plan_of_a_week_to_come_has_no_fact_in_it_yet(build: Build) -> None:
    place = make_bay()
    plan(build, place, at(8, 8), at(16, 12))
    enter(build, place, at(8, 8))

    (stay,) = next(row.stays for row in bay_board(week="2026-W51", now=NOW).rows if row.place == place)

    assert (stay.column, stay.span, stay.fact_span) == (1, 10, 0)


@pytest.mark.parametrize(("hour", "minute"), [(16, 36), (18, 5)])
def test_vehicle_that_came_late_in_the_day_came_on_that_day(build: Build, hour: int, minute: int) -> None:
    place = make_bay()
    enter(build, place, at(9, hour, minute))

    (stay,) = stays(place, at(9, 18, 30))

    assert (stay.column, stay.span) == (12, 1)  # the last quarter of Wednesday


def test_vehicle_that_nobody_planned_says_so(build: Build) -> None:
    place = make_bay()
    enter(build, place, at(9, 8))

    (stay,) = stays(place)

    assert stay.state == ("caution", "Not planned")


def test_vehicle_that_overstays_says_so(build: Build) -> None:
    place = make_bay()
    plan(build, place, at(7, 7), at(8, 17))
    enter(build, place, at(7, 7))

    (stay,) = stays(place)

    assert stay.state == ("caution", "Longer than planned")
    assert stay.end == NOW


def test_plan_into_a_bay_that_is_still_taken_says_by_whom(build: Build) -> None:
    place = make_bay(name="Bay 2")
    late = make_working_build(number="2612")
    enter(late, place, at(7, 8))
    plan(build, place, at(9, 7), at(10, 17))

    fact, planned = stays(place)

    assert planned.state == ("caution", "Bay 2 still holds 2612")
    assert (fact.build.build, fact.line, planned.line) == (late, 1, 2)  # side by side, neither hidden


def test_plan_whose_vehicle_stands_elsewhere_says_where(build: Build) -> None:
    planned, real = make_bay(name="Bay 1"), make_bay(name="Bay 3")
    plan(build, planned, at(9, 7), at(10, 17))
    enter(build, real, at(9, 8))

    (stay,) = stays(planned)

    assert stay.state == ("caution", "Stands in Bay 3 instead")


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        pytest.param(at(9, 7), at(10, 17), "Not in the bay yet", id="its time has come"),
        pytest.param(at(7, 7), at(8, 17), "Did not come", id="its time is over"),
    ],
)
def test_plan_that_nobody_fulfilled(build: Build, start: datetime, end: datetime, words: str) -> None:
    place = make_bay()
    plan(build, place, start, end)

    (stay,) = stays(place)

    assert stay.state == ("caution", words)


def test_vehicle_that_left_leaves_the_rest_of_its_plan(build: Build) -> None:
    place = make_bay()
    plan(build, place, at(7, 7), at(11, 17))
    enter(build, place, at(7, 7))
    leave_bay(build=build, to_kind="lot", spot="C 4", event_id=uuid4(), by=make_person(Role.MANAGER), at=at(8, 12))

    was, planned = stays(place)

    assert (was.kind, was.state, was.column, was.span) == ("was", ("done", "Was here"), 1, 6)
    assert (planned.kind, planned.state, planned.column) == ("planned", ("caution", "Left, not back yet"), 7)


def test_promise_cuts_the_bar_and_what_lies_beyond_is_late(build: Build) -> None:
    Build.objects.filter(pk=build.pk).update(promised_on=date(2026, 12, 9))
    place = make_bay()
    plan(build, place, at(7, 7), at(10, 17))
    enter(build, place, at(7, 7))

    (stay,) = stays(place)

    assert (stay.span, stay.over_column, stay.over_span) == (12, 13, 4)
    assert stay.state == ("at_risk", "At risk: plan ends Thu 10 Dec")
    assert "The plan ends Thu 10, promised Wed 9." in stay.build.reasons


def test_short_stay_lets_its_words_run_on_beside_it(build: Build) -> None:
    place = make_bay()
    other = make_working_build()
    plan(build, place, at(10, 12), at(10, 17))
    plan(other, place, at(11, 7), at(11, 12))
    saturday = make_working_build()
    plan(saturday, place, at(12, 12), at(12, 17))

    first, second, last = stays(place)

    assert (first.span, first.narrow, first.line) == (2, "right", 1)
    assert (second.line, last.narrow) == (2, "left")  # the words of the first run through Friday morning


def test_board_asks_the_same_number_of_questions_however_full_it_is(build: Build) -> None:
    counts = []
    for more in (2, 12):
        for _ in range(more):
            place = make_bay()
            item = make_working_build()
            plan(item, place, at(7, 7), at(11, 17))
            enter(item, place, at(7, 8))
        with CaptureQueriesContext(connection) as asked:
            board()
        counts.append(len(asked))

    assert counts[0] == counts[1]


def test_waiting_are_builds_in_no_bay_with_their_next_stay(build: Build) -> None:
    inside, place = make_working_build(), make_bay()
    enter(inside, place, at(8, 8))
    plan(build, place, at(17, 7), at(17, 17))

    shown = board()

    assert [(item.build.build, item.booking.place if item.booking else None) for item in shown.waiting] == [
        (build, place)
    ]
    assert (shown.count("late"), shown.late) == (0, ())


def test_sunday_gets_a_column_only_when_something_begins_or_ends_there(build: Build) -> None:
    assert len(board().days) == 6
    plan(build, make_bay(), at(12, 7), at(13, 12))
    assert len(board().days) == 7


def test_now_stands_in_its_own_week_only() -> None:
    assert board().now_quarter == 9
    assert bay_board(week="2026-W51", now=NOW).now_quarter is None


@pytest.mark.parametrize(
    ("text", "monday"),
    [
        ("2026-W50", date(2026, 12, 7)),
        ("2026-W53", date(2026, 12, 28)),
        ("2027-W53", date(2026, 12, 7)),  # that year has no such week: this week
        ("", date(2026, 12, 7)),
        ("yesterday", date(2026, 12, 7)),
        ("2026-W99", date(2026, 12, 7)),
        ("9999-W52", date(2026, 12, 7)),  # no shop plans that far
    ],
)
def test_week_of(text: str, monday: date) -> None:
    assert week_of(text, date(2026, 12, 9)) == monday


def test_on_hold_build_says_who_acts(build: Build) -> None:
    Build.objects.filter(pk=build.pk).update(hold_reason="parts", hold_who_acts="Stores", hold_note="bracket cracked")
    place = make_bay()
    plan(build, place, at(7, 7), at(11, 17))
    enter(build, place, at(7, 7) + timedelta(minutes=10))

    (stay,) = stays(place)

    assert stay.state[0] == "waiting"
    assert stay.build.reasons[0] == "It waits for parts, bracket cracked. Stores acts."
