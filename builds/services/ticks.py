"""
Ticks: what one person found at one step, with its reading. They are only ever added.

A tick carries an id made by the device it was made on, so that it arrives exactly once however often it is sent. The
newest tick by the time it was made is the step's result; one that was made earlier and arrives later is kept beside it.
"""

from dataclasses import dataclass, fields
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, transaction

from builds.errors import BadInput, BuildError, HandsOn, NotHere, Taken
from builds.models import ChecklistStep, Person, StepResult, Tick
from builds.permissions import Action, check_may
from builds.selectors.readings import judge, needs_instrument, needs_supply_voltage
from builds.services.actors import act_as
from builds.services.part_issues import issue_installed_parts
from builds.services.refusals import constraint_of
from builds.services.step_results import count_steps, lock_build, reopen_holds_over, set_result
from builds.services.work_guards import check_workable

__all__ = ["Outcome", "record"]

_LARGEST = Decimal(10) ** 8
_DECIMALS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a person found at a step; ``reading`` is in the step's unit, ``reading_at_v`` the supply's volts beside it."""

    result: StepResult
    reading: Decimal | None = None
    reading_at_v: Decimal | None = None
    instrument: str = ""
    remark: str = ""


def record(
    *,
    step: ChecklistStep,
    found: Outcome,
    event_id: UUID,
    by: Person,
    at: datetime,
    received_at: datetime,
    device: str = "",
    device_sequence: int | None = None,
) -> Tick:
    """
    Keep a tick; the same ``event_id`` sent again answers with the tick it made first.

    Parameters
    ----------
    step : ChecklistStep
        The step it is about; a hold point is signed instead.
    found : Outcome
        Result, reading and remark.
    event_id : UUID
        Made by the device, once per tick.
    by : Person
        Who found it.
    at, received_at : datetime
        When it was done by the device's clock, and when it came here; a clock that runs ahead counts as the latter.
    device, device_sequence : str, int or None
        Which device sent it and its running number there.

    Raises
    ------
    BadInput
        If the finding cannot stand: a pass without its reading, its photo or within its limits, a figure that is none.
    GuardRefused
        If the step may not be worked yet; names every reason.
    HandsOn
        If ``by`` has signed a hold point that covers the step.
    Taken
        If ``event_id`` or the device's number already stands for something else.
    """
    check_may(by, Action.TICK_STEP)
    with transaction.atomic():
        act_as(by)
        step = _locked(step)
        before = Tick.objects.filter(event_id=event_id).first()
        if before is not None:
            return _sent_before(before, step, found, by)
        _check(step, found)
        check_workable(step)
        tick = Tick(
            event_id=event_id, device=device[:40], device_sequence=device_sequence, step=step, by=by,
            at=min(at, received_at), received_at=received_at, **_columns(found),
        )  # fmt: skip
        _insert(tick, found)
        _apply(tick)
    return tick


def _locked(step: ChecklistStep) -> ChecklistStep:
    build = lock_build(step.build_id)
    fresh = ChecklistStep.objects.get(pk=step.pk)
    fresh.build = build
    return fresh


def _columns(found: Outcome) -> dict[str, object]:
    values = {field.name: getattr(found, field.name) for field in fields(found)}
    return values | {"instrument": found.instrument.strip(), "remark": found.remark.strip()}


def _insert(tick: Tick, found: Outcome) -> None:
    try:
        with transaction.atomic():
            tick.save(force_insert=True)
    except IntegrityError as error:
        raise _explain(error, tick) from error


def _explain(error: IntegrityError, tick: Tick) -> BuildError:
    match constraint_of(error):
        case "builds_holdsignature_four_eyes":
            return HandsOn("You signed a hold point that covers this step. Someone else works on it from here.")
        case "builds_tick_device_sequence_once":
            return Taken("This device's entry of that number is here already, with another id. Send it again.")
        case name if "event_id" in name:
            return _id_taken()
    raise error


def _id_taken() -> Taken:
    return Taken("This entry's id already stands for another entry. Enter the step again.")


def _sent_before(before: Tick, step: ChecklistStep, found: Outcome, by: Person) -> Tick:
    same = before.step_id == step.pk and before.by_id == by.pk
    if not same or any(getattr(before, name) != value for name, value in _columns(found).items()):
        raise _id_taken()
    return before


def _apply(tick: Tick) -> None:
    """Let the step, the hold points over it, the build's counts and the stores follow the tick."""
    step = tick.step
    if step.ticks.order_by("-at", "-pk").values_list("pk", flat=True)[0] != tick.pk:
        return  # made before one that is here already
    set_result(step, StepResult(tick.result), by=tick.by, at=tick.at)
    reopen_holds_over(step)
    count_steps(step.build)
    if tick.result == StepResult.PASS:
        issue_installed_parts(tick)


def _check(step: ChecklistStep, found: Outcome) -> None:
    if step.retired:
        raise NotHere("The design no longer asks for this step.")
    if step.is_hold_point:
        raise BadInput({"result": "A hold point is signed, not ticked."})
    faults = _figure_faults(found)
    if not faults:
        faults = _reading_faults(step, found) | _result_faults(step, found)
    if faults:
        raise BadInput(faults)


def _figure_faults(found: Outcome) -> dict[str, str]:
    faults = {}
    for name in ("reading", "reading_at_v"):
        value = getattr(found, name)
        if value is not None and not _keepable(value):
            faults[name] = "Write a plain figure with at most 4 decimals."
    if found.reading_at_v is not None and "reading_at_v" not in faults and not 0 <= found.reading_at_v < 1000:
        faults["reading_at_v"] = "Write the volts at the battery, 0 to 1,000."
    if len(found.instrument.strip()) > 40:
        faults["instrument"] = "Keep the instrument's tag to 40 letters."
    if found.result not in StepResult.values:
        faults["result"] = "Choose pass, defective or not applicable."
    return faults


def _keepable(value: Decimal) -> bool:
    return value.is_finite() and abs(value) < _LARGEST and value == round(value, _DECIMALS)


def _reading_faults(step: ChecklistStep, found: Outcome) -> dict[str, str]:
    if found.reading is None:
        return {}
    if not step.asks_reading:
        return {"reading": "This step asks for no reading."}
    faults = {}
    if needs_supply_voltage(step) and found.reading_at_v is None:
        faults["reading_at_v"] = (
            "What is lost on the way is judged: write the volts at the source, read at the same time."
            if step.reading_lost_max_v is not None
            else "A current means little without its voltage: write the volts at the battery."
        )
    if needs_instrument(step) and not found.instrument.strip():
        faults["instrument"] = "Write the tag of the instrument it was read with."
    return faults


def _result_faults(step: ChecklistStep, found: Outcome) -> dict[str, str]:
    match found.result:
        case StepResult.PASS:
            return _pass_faults(step, found)
        case StepResult.DEFECTIVE:
            out = (
                step.asks_reading
                and found.reading is not None
                and not judge(step, found.reading, found.reading_at_v).within
            )
            return {} if out or found.remark.strip() else {"remark": "Say what is wrong, so that it can be put right."}
        case _:
            return {} if found.remark.strip() else {"remark": "Say why this step does not apply to this vehicle."}


def _pass_faults(step: ChecklistStep, found: Outcome) -> dict[str, str]:
    faults = {}
    if step.asks_reading and found.reading is None:
        faults["reading"] = "Not measured: a pass needs its reading. Mark it defective or not applicable otherwise."
    elif step.asks_reading and found.reading is not None:
        verdict = judge(step, found.reading, found.reading_at_v)
        lacks_battery = step.reading_lost_max_v is not None and found.reading_at_v is None  # said at its own field
        if not verdict.within and not lacks_battery:
            faults["reading"] = f"{verdict.words}: it cannot pass. Mark it defective, or measure again."
    if step.photo_required and not step.photos.exists():
        faults["photo"] = "Take the photo first: this step asks for one."
    return faults
