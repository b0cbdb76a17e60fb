"""
The checklist of a build, made from the design the customer authorised and merged with what is there.

A step keeps its row as long as the design asks for it, and its ticks for ever. A step whose acts or limits have changed
stands open again: its result spoke of something else. One no longer asked for is retired, not removed.
"""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Q

from builds.engineering.assess import assess
from builds.engineering.checklist import ReadingPlan, StepPlan, derive_steps
from builds.engineering.design import Design
from builds.errors import GuardRefused
from builds.models import Build, ChecklistStep, Person, Revision
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.registers import expect_gear_of
from builds.services.revisions import design_of_revision
from builds.services.step_results import count_steps, lock_build, reopen, reopen_holds_over

__all__ = ["StepsMade", "authorised_revision", "make_steps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepsMade:
    """What making the checklist did: from which revision, how many steps are new, open again and retired."""

    revision: Revision
    steps: int
    added: int
    reopened: int
    retired: int


def make_steps(*, build: Build, by: Person, at: datetime) -> StepsMade:
    """
    Make the checklist from the newest authorised revision, or bring it up to that revision.

    The gear that the revision wants from the customer is written into its register besides, where it is missing.

    Raises
    ------
    GuardRefused
        If no revision carries an authorisation.
    """
    check_may(by, Action.MAKE_STEPS)
    with transaction.atomic():
        act_as(by)
        locked = lock_build(build.pk)
        revision = authorised_revision(locked)
        if revision is None:
            raise GuardRefused("No revision carries the customer's authorisation.", missing=("revision-authorised",))
        design = design_of_revision(revision)
        made = _merge(locked, revision, derive_steps(design, assess(design)))
        _expect_gear(locked, design, by, at)
        count_steps(locked)
    build.step_count, build.step_done_count = locked.step_count, locked.step_done_count
    return made


def authorised_revision(build: Build) -> Revision | None:
    """Return the newest revision with an authorisation, if there is any."""
    return build.revisions.filter(authorisations__isnull=False).order_by("-sequence").distinct().first()


def _merge(build: Build, revision: Revision, plans: tuple[StepPlan, ...]) -> StepsMade:
    known = {step.key: step for step in build.steps.select_for_update()}
    added, reopened = [], []
    for line, plan in enumerate(plans, start=1):
        step = known.get(plan.key)
        if step is None:
            added.append(ChecklistStep(build=build, key=plan.key, **_columns(plan, line)))
        elif _update(step, _columns(plan, line)):
            reopened.append(step)
    ChecklistStep.objects.bulk_create(added)
    gone = [step for key, step in known.items() if key not in {plan.key for plan in plans} and not step.retired]
    ChecklistStep.objects.filter(pk__in=[step.pk for step in gone]).update(retired=True)
    _write_covers(build, plans)
    for step in (*reopened, *added):
        reopen_holds_over(step)
    return StepsMade(revision=revision, steps=len(plans), added=len(added), reopened=len(reopened), retired=len(gone))


_ASKED = (
    "instructions",
    "reading_unit",
    "reading_min",
    "reading_max",
    "reading_lost_max_v",
    "photo_required",
    "is_hold_point",
)


def _update(step: ChecklistStep, columns: dict[str, Any]) -> bool:
    """Bring a step up to its plan; True when it was done and asks for something else now, so that it is open again."""
    changed = {name for name, value in columns.items() if getattr(step, name) != value}
    if not changed:
        return False
    asks_else = _asks_something_else(step, columns, changed)
    for name in changed:
        setattr(step, name, columns[name])
    again = bool(step.result) and asks_else
    if again:
        step.result, step.result_by, step.result_at = "", None, None
    step.save()
    return again


def _asks_something_else(step: ChecklistStep, columns: dict[str, Any], changed: set[str]) -> bool:
    """Whether what a step asks has changed; that an amount is not below nothing, only where what was found is below it."""
    asked = changed.intersection(_ASKED)
    if asked == {"reading_min"} and step.reading_min is None and columns["reading_min"] == 0:
        newest = step.ticks.order_by("-at", "-pk").first()
        return newest is not None and newest.reading is not None and newest.reading < 0
    return bool(asked)


def _columns(plan: StepPlan, line: int) -> dict[str, Any]:
    return {
        "line": line,
        "phase": plan.phase.value,
        "place": plan.place.value,
        "operation_key": plan.operation,
        "title": plan.title[:120],
        "why": plan.why[:200],
        "instructions": list(plan.instructions),
        "subject": plan.subject,
        "photo_required": plan.photo_required,
        "is_hold_point": plan.hold_point,
        "retired": False,
        **_reading_columns(plan.reading),
    }


_NAMES = {"V": "Voltage", "A": "Current", "mA": "Current", "kg": "Mass"}


def _reading_columns(plan: ReadingPlan | None) -> dict[str, Any]:
    if plan is None:
        return {
            "reading_unit": "", "reading_name": "", "reading_min": None, "reading_max": None,
            "reading_lost_max_v": None, "reading_calculated": None, "reading_decimals": 2, "reading_instrument": "",
        }  # fmt: skip
    return {
        "reading_unit": plan.unit,
        "reading_name": _NAMES.get(plan.unit, "Reading"),
        "reading_min": _decimal(plan.minimum),
        "reading_max": _decimal(plan.maximum),
        "reading_lost_max_v": _decimal(plan.most_lost_v),
        "reading_calculated": _decimal(plan.calculated),
        "reading_decimals": plan.decimals,
        "reading_instrument": plan.instrument[:40],
    }


def _decimal(value: float | None) -> Decimal | None:
    return None if value is None else round(Decimal(repr(value)), 4)


def _write_covers(build: Build, plans: tuple[StepPlan, ...]) -> None:
    steps = {step.key: step for step in build.steps.filter(retired=False)}
    timed = set(build.time_entries.exclude(operation_key="").values_list("operation_key", flat=True))
    touched = Q(ticks__isnull=False) | Q(time_entries__isnull=False) | Q(operation_key__in=timed)
    worked_on = set(build.steps.filter(touched).values_list("pk", flat=True))
    for plan in plans:
        if plan.hold_point:
            _cover(steps[plan.key], {steps[key].pk for key in plan.covers}, worked_on)


def _cover(hold: ChecklistStep, wanted: set[int], worked_on: set[int]) -> None:
    """Let a hold point cover these steps, and go on covering what was worked on; it is open while it comes to cover more."""
    covered = set(hold.covers.values_list("pk", flat=True))
    more = wanted - covered
    if more and hold.result:
        reopen(hold)
    hold.covers.remove(*(covered - wanted - worked_on))
    hold.covers.add(*more)


def _expect_gear(build: Build, design: Design, by: Person, at: datetime) -> None:
    from_customer = [
        part.description for part in design.parts if part.supplied_by.value == "customer" and not part.removed
    ]
    expect_gear_of(build=build, descriptions=from_customer, by=by, at=at)
