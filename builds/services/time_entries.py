"""
The clock: who worked on what, from when to when. One open entry a person, which the database keeps.

An entry names a step or an operation, since whoever worked on something may not sign for it; looking a build over for a
hold point is clocked as inspection, which is work on nothing.
"""

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from builds.errors import BadInput, BuildError, GuardRefused, HandsOn, Taken
from builds.models import Build, ChecklistStep, Person, Stage, TimeEntry
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.refusals import constraint_of

__all__ = ["INSPECTION", "clock_off", "clock_on", "correct", "open_entry", "work_words"]

INSPECTION = "inspection"
_ENDED = (Stage.CLOSED, Stage.CANCELLED)


def clock_on(
    *,
    build: Build,
    event_id: UUID,
    by: Person,
    at: datetime,
    step: ChecklistStep | None = None,
    operation_key: str = "",
    leave_other: bool = False,
) -> TimeEntry:
    """
    Start an entry; the same ``event_id`` sent again answers with the entry it started.

    Parameters
    ----------
    build : Build
        The build that is worked on.
    event_id : UUID
        Made by the page or the device, once per entry.
    by, at : Person, datetime
        Who works, from when on.
    step, operation_key : ChecklistStep or None, str
        What is worked on: a step, an operation of the build, or "inspection".
    leave_other : bool
        Clock off first wherever the person is on the clock; both happen or neither.

    Raises
    ------
    Taken
        If the person is on the clock already; says where and since when.
    BadInput
        If nothing is named that can be worked on.
    GuardRefused
        If the build is closed or cancelled.
    HandsOn
        If the person has signed a hold point over this work.
    """
    check_may(by, Action.CLOCK_TIME)
    with transaction.atomic():
        act_as(by)
        before = TimeEntry.objects.filter(event_id=event_id).first()
        if before is not None:
            return _sent_before(before, build, by)
        _check(build, step, operation_key)
        running = open_entry(by)
        if running and leave_other:
            clock_off(entry=running, by=by, at=at)
        elif running:
            raise Taken(f"You are on the clock: {work_words(running)}. Clock off there first.")
        entry = TimeEntry(
            event_id=event_id, person=by, build=build, step=step, started_at=at,
            operation_key=operation_key or (step.operation_key if step else ""),
        )  # fmt: skip
        _insert(entry)
    return entry


def open_entry(person: Person) -> TimeEntry | None:
    """Return the entry that ``person`` has open, if any."""
    return TimeEntry.objects.filter(person=person, ended_at__isnull=True).select_related("build", "step").first()


def work_words(entry: TimeEntry) -> str:
    """Return where an entry is: build, and step or operation."""
    if entry.step is not None:
        return f"{entry.build.number}, {entry.step.title}"
    if entry.operation_key == INSPECTION:
        return f"{entry.build.number}, inspection"
    operation = entry.build.operations.filter(key=entry.operation_key).first()
    return f"{entry.build.number}, {operation.name if operation else entry.operation_key}"


def clock_off(*, entry: TimeEntry, by: Person, at: datetime) -> TimeEntry:
    """End one's own entry; one that has ended already stays as it is. Raises BadInput, or NotAllowed for another's."""
    check_may(by, Action.CORRECT_TIME, own=entry.person_id == by.pk)
    with transaction.atomic():
        act_as(by)
        entry = TimeEntry.objects.select_for_update(of=("self",)).select_related("build", "step").get(pk=entry.pk)
        if entry.ended_at is not None:
            return entry
        if at < entry.started_at:
            raise BadInput({"ended_at": "This ends before it starts. Look at the clock of this device."})
        entry.ended_at = at
        entry.save(update_fields=["ended_at"])
    return entry


def correct(
    *, entry: TimeEntry, started_at: datetime, ended_at: datetime | None, reason: str, by: Person, at: datetime
) -> TimeEntry:
    """
    Put the times of an entry right, with a reason; what was worked on is not changed, and history keeps the old times.

    One's own entry, or as manager anyone's. Raises BadInput.
    """
    check_may(by, Action.CORRECT_TIME, own=entry.person_id == by.pk)
    faults = _correction_faults(entry, started_at, ended_at, reason, at)
    if faults:
        raise BadInput(faults)
    with transaction.atomic():
        act_as(by)
        entry = TimeEntry.objects.select_for_update(of=("self",)).select_related("build", "step").get(pk=entry.pk)
        entry.started_at, entry.ended_at = started_at, ended_at
        entry.correction_reason, entry.corrected_by, entry.corrected_at = reason.strip(), by, at
        try:
            with transaction.atomic():
                entry.save()
        except IntegrityError as error:
            raise _explain(error, entry) from error
    return entry


def _correction_faults(
    entry: TimeEntry, started_at: datetime, ended_at: datetime | None, reason: str, at: datetime
) -> dict[str, str]:
    faults = {}
    if not 5 <= len(reason.strip()) <= 200:
        faults["reason"] = "Say in a few words why the times change."
    if started_at > at:
        faults["started_at"] = "This has not begun yet."
    if ended_at is None and entry.ended_at is not None:
        faults["ended_at"] = "This entry has ended; say when."
    elif ended_at is not None and ended_at < started_at:
        faults["ended_at"] = "The end is before the start."
    elif ended_at is not None and ended_at > at:
        faults["ended_at"] = "This has not ended yet."
    return faults


def _check(build: Build, step: ChecklistStep | None, operation_key: str) -> None:
    if build.stage in _ENDED:
        raise GuardRefused(f"Build {build.number} is {Stage(build.stage).label.lower()}.", missing=("open",))
    if step is not None:
        if step.build_id != build.pk:
            raise BadInput({"step": "This step belongs to another build."})
        return
    if operation_key == INSPECTION:
        return
    known = (
        build.operations.filter(key=operation_key).exists() or build.steps.filter(operation_key=operation_key).exists()
    )
    if not operation_key or not known:
        raise BadInput({"operation_key": "Say what is worked on: an operation of this build, or inspection."})


def _sent_before(before: TimeEntry, build: Build, by: Person) -> TimeEntry:
    if (before.build_id, before.person_id) != (build.pk, by.pk):
        raise Taken("This entry's id already stands for another entry. Clock on again.")
    return before


def _insert(entry: TimeEntry) -> None:
    try:
        with transaction.atomic():
            entry.save(force_insert=True)
    except IntegrityError as error:
        raise _explain(error, entry) from error


def _explain(error: IntegrityError, entry: TimeEntry) -> BuildError:
    match constraint_of(error):
        case "builds_timeentry_one_open_per_person":
            running = open_entry(entry.person)
            where = f": {work_words(running)}" if running else ""
            return Taken(f"{entry.person} is on the clock already{where}. Clock off there first.")
        case "builds_holdsignature_four_eyes":
            return HandsOn("You signed a hold point that covers this work. Someone else works on it from here.")
        case name if "event_id" in name:
            return Taken("This entry's id already stands for another entry. Clock on again.")
    raise error
