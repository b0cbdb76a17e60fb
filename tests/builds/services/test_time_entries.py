"""The clock: one open entry a person, corrections with a reason."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from builds.errors import BadInput, GuardRefused, NotAllowed, Taken
from builds.models import Build, HistoryEntry, Person, Role, Stage, TimeEntry
from builds.services.time_entries import INSPECTION, clock_off, clock_on, correct, open_entry
from tests.factories.builds import AT, make_designed_build, make_person
from tests.factories.floor import make_step, make_working_build

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


@pytest.fixture
def person() -> Person:
    return make_person(Role.TECHNICIAN)


@pytest.fixture
def build() -> Build:
    return make_working_build()


def start(build: Build, by: Person, **more: Any) -> TimeEntry:
    more = {"operation_key": INSPECTION, "event_id": uuid4(), "at": AT} | more
    return clock_on(build=build, by=by, **more)


def test_clock_on_a_step_names_its_operation_too(build: Build, person: Person) -> None:
    step = make_step(build, operation_key="O2")

    entry = start(build, person, step=step, operation_key="")

    assert (entry.step, entry.operation_key, entry.started_at, entry.ended_at) == (step, "O2", AT, None)
    assert open_entry(person) == entry


def test_second_open_entry_is_refused_and_says_where_the_first_is(build: Build, person: Person) -> None:
    start(build, person, step=make_step(build, title="Mount the light bar"))

    with pytest.raises(Taken, match=f"You are on the clock: {build.number}, Mount the light bar"):
        start(make_working_build(), person, at=AT + HOUR)
    assert TimeEntry.objects.count() == 1


def test_leaving_the_other_entry_ends_it_at_the_same_moment(build: Build, person: Person) -> None:
    first = start(build, person)

    second = start(build, person, at=AT + HOUR, leave_other=True)

    first.refresh_from_db()
    assert (first.ended_at, open_entry(person)) == (AT + HOUR, second)


def test_leaving_the_other_entry_for_nothing_keeps_it_open(build: Build, person: Person) -> None:
    first = start(build, person)

    with pytest.raises(BadInput):
        start(build, person, operation_key="no-such-operation", at=AT + HOUR, leave_other=True)
    assert open_entry(person) == first


def test_same_entry_sent_again_is_kept_once_even_after_it_ended(build: Build, person: Person) -> None:
    event_id = uuid4()
    first = start(build, person, event_id=event_id)
    clock_off(entry=first, by=person, at=AT + HOUR)

    assert start(build, person, event_id=event_id) == first
    with pytest.raises(Taken, match="already stands"):
        start(make_working_build(), person, event_id=event_id)
    assert TimeEntry.objects.count() == 1


def test_two_people_may_be_on_one_step(build: Build, person: Person) -> None:
    step = make_step(build)

    start(build, person, step=step)
    start(build, make_person(Role.TECHNICIAN), step=step)

    assert TimeEntry.objects.filter(step=step).count() == 2


@pytest.mark.parametrize("operation", ["", "no-such-operation"])
def test_clock_on_nothing_in_particular_is_refused(build: Build, person: Person, operation: str) -> None:
    with pytest.raises(BadInput) as refused:
        start(build, person, operation_key=operation)
    assert list(refused.value.fields) == ["operation_key"]


def test_clock_on_an_operation_of_the_design(person: Person) -> None:
    assert start(make_designed_build(), person, operation_key="O1").operation_key == "O1"


def test_clock_on_a_step_of_another_build_is_refused(build: Build, person: Person) -> None:
    with pytest.raises(BadInput, match="another build"):
        start(build, person, step=make_step(make_working_build()))


@pytest.mark.parametrize("stage", [Stage.CLOSED, Stage.CANCELLED])
def test_clock_on_a_build_that_is_over_is_refused(build: Build, person: Person, stage: Stage) -> None:
    build.stage = stage
    with pytest.raises(GuardRefused):
        start(build, person)


@pytest.mark.parametrize("role", [Role.SERVICE_WRITER, Role.PARTS_CLERK])
def test_roles_without_a_clock_are_refused(build: Build, role: Role) -> None:
    with pytest.raises(NotAllowed):
        start(build, make_person(role))


def test_clock_off_twice_keeps_the_first_end(build: Build, person: Person) -> None:
    entry = start(build, person)

    clock_off(entry=entry, by=person, at=AT + HOUR)
    again = clock_off(entry=entry, by=person, at=AT + 3 * HOUR)

    assert again.ended_at == AT + HOUR


def test_clock_off_before_the_start_is_refused(build: Build, person: Person) -> None:
    with pytest.raises(BadInput, match="ends before it starts"):
        clock_off(entry=start(build, person), by=person, at=AT - HOUR)


def test_only_a_manager_ends_anothers_entry(build: Build, person: Person) -> None:
    entry = start(build, person)

    with pytest.raises(NotAllowed):
        clock_off(entry=entry, by=make_person(Role.TECHNICIAN), at=AT + HOUR)
    assert clock_off(entry=entry, by=make_person(Role.MANAGER), at=AT + HOUR).ended_at == AT + HOUR


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER])
def test_correction_keeps_who_why_and_the_old_times(build: Build, person: Person, role: Role) -> None:
    entry = clock_off(entry=start(build, person), by=person, at=AT + HOUR)
    by = person if role == Role.TECHNICIAN else make_person(role)

    correct(entry=entry, started_at=AT - HOUR, ended_at=AT + HOUR, reason="forgot to clock on", by=by, at=AT + 2 * HOUR)

    entry.refresh_from_db()
    assert (entry.started_at, entry.correction_reason, entry.corrected_by) == (AT - HOUR, "forgot to clock on", by)
    last = HistoryEntry.objects.filter(table_name="builds_timeentry", row_id=str(entry.pk)).latest("pk")
    assert last.actor == by.username
    assert last.before is not None and last.before["started_at"].startswith(f"{AT:%Y-%m-%dT%H:%M}")


def test_another_technician_does_not_correct(build: Build, person: Person) -> None:
    with pytest.raises(NotAllowed):
        correct(
            entry=start(build, person), started_at=AT, ended_at=None, reason="because", by=make_person(Role.TECHNICIAN),
            at=AT + HOUR,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"reason": " . "}, "reason"),
        ({"reason": "x" * 201}, "reason"),
        ({"started_at": AT + 9 * HOUR}, "started_at"),
        ({"ended_at": AT - HOUR}, "ended_at"),
        ({"ended_at": AT + 9 * HOUR}, "ended_at"),
        ({"ended_at": None}, "ended_at"),
    ],
)
def test_correction_that_cannot_be_is_refused_at_its_field(
    build: Build, person: Person, change: dict[str, Any], field: str
) -> None:
    entry = clock_off(entry=start(build, person), by=person, at=AT + HOUR)
    values: dict[str, Any] = {"started_at": AT, "ended_at": AT + HOUR, "reason": "forgot it"} | change

    with pytest.raises(BadInput) as refused:
        correct(entry=entry, by=person, at=AT + 2 * HOUR, **values)
    assert field in refused.value.fields
    entry.refresh_from_db()
    assert (entry.started_at, entry.ended_at, entry.correction_reason) == (AT, AT + HOUR, "")
