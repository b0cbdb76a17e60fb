"""
How a build stands, in a state and in words, and who acts next: read from its own columns and three matches.

No question is asked of the database here, so that a list of builds can say it for every row.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from builds.models import HoldReason, Stage

__all__ = ["AT_RISK_DAYS", "BEFORE_WORK", "DONE_STAGES", "PLANNED_STAGES", "Standing", "StandingInput", "standing_of"]

# How near a promise has to be before work that is not ready for it puts it at risk. Common practice, no published source.
AT_RISK_DAYS = 7
DONE_STAGES = (Stage.DELIVERED, Stage.CLOSED, Stage.CANCELLED)
BEFORE_WORK = (Stage.INTAKE, Stage.QUOTED, Stage.APPROVED)
PLANNED_STAGES = (*BEFORE_WORK, Stage.IN_WORK, Stage.FINAL_CHECK)  # a plan of bays still says when it will be done

_HOLD_WORDS = {
    HoldReason.PARTS: "parts",
    HoldReason.CUSTOMER_GEAR: "buyer's gear",
    HoldReason.CUSTOMER_ANSWER: "buyer's answer",
    HoldReason.VEHICLE: "vehicle",
    HoldReason.SUBLET: "sublet",
    HoldReason.OTHER: "on hold",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingInput:
    """
    What the state of one build is read from; the matches are None where nothing is needed.

    ``plan_ends_on`` is the shop's calendar day on which the last planned stay in a bay ends; ``signed`` says that the
    customer signed the packet of a build that is ready.
    """

    stage: str
    today: date
    promised_on: date | None
    plan_ends_on: date | None
    hold_reason: str
    hold_who_acts: str
    hold_note: str
    blocking_count: int
    step_count: int
    step_done_count: int
    responsible: str
    vehicle_here: bool | None
    parts_here: bool | None
    gear_here: bool | None
    released: bool
    signed: bool


@dataclass(frozen=True, slots=True)
class Standing:
    """A state (the name of its shape), its words, and who acts next; the last is never empty."""

    state: str
    words: str
    who_acts: str


def standing_of(build: StandingInput) -> Standing:
    """
    Return how a build stands: done, late, held, at risk, waiting, on time or merely promised, the worst first.

    On time is said only where a plan that is still to come ends by the promise: a promise that has not passed yet is no
    more than that.
    """
    state, words = _state(build)
    return Standing(state, words, _who_acts(build))


def _state(build: StandingInput) -> tuple[str, str]:
    if build.stage in DONE_STAGES:
        return ("not_applicable" if build.stage == Stage.CANCELLED else "done"), Stage(build.stage).label
    if build.promised_on is not None and build.promised_on < build.today:
        return "late", _late(build, build.promised_on)
    if build.hold_reason:
        return "waiting", f"Waiting: {_HOLD_WORDS[HoldReason(build.hold_reason)]}"
    risk = _risk(build)
    if risk:
        return "at_risk", f"At risk: {risk}"
    waits_for = _waits_for(build)
    if waits_for:
        return "waiting", f"Waiting: {waits_for}"
    return _promise(build)


def _promise(build: StandingInput) -> tuple[str, str]:
    """On time where a plan backs the promise; else the bare promise."""
    if build.promised_on is None:
        return "planned", "Not promised"
    planned = build.plan_ends_on and build.today <= build.plan_ends_on and build.stage in PLANNED_STAGES
    return ("on_time", "On time by the plan") if planned else ("planned", f"Promised {build.promised_on:%a %-d %b}")


def _late(build: StandingInput, promised_on: date) -> str:
    """How late it is today, and how late it will be where the plan ends later still."""
    days = (build.today - promised_on).days
    now = f"Late {days} day{'' if days == 1 else 's'}"
    if build.plan_ends_on is None or build.plan_ends_on <= build.today or build.stage not in PLANNED_STAGES:
        return now
    return f"{now}, {(build.plan_ends_on - promised_on).days} by the plan"


def _risk(build: StandingInput) -> str:
    """Return what stands between this build and its promise: a plan that ends later, or a near day and no start."""
    if build.promised_on is None:
        return ""
    if build.plan_ends_on and build.plan_ends_on > build.promised_on and build.stage in PLANNED_STAGES:
        return f"plan ends {build.plan_ends_on:%a %-d %b}"
    if build.promised_on > build.today + timedelta(days=AT_RISK_DAYS):
        return ""
    if build.blocking_count:
        return f"{build.blocking_count} blocking"
    if build.stage in BEFORE_WORK:
        return "not started"
    return ""


def _waits_for(build: StandingInput) -> str:
    if build.stage == Stage.QUOTED:
        return "signature"
    if build.stage == Stage.READY:
        return "handover" if build.signed else "signature"
    if build.stage != Stage.APPROVED:
        return ""
    for here, words in (
        (build.vehicle_here, "vehicle"),
        (build.parts_here, "parts"),
        (build.gear_here, "buyer's gear"),
    ):
        if here is False:
            return words
    return ""


def _who_acts(build: StandingInput) -> str:
    if build.hold_reason:
        return f"{build.hold_who_acts}: {build.hold_note}" if build.hold_note else build.hold_who_acts
    return _WHO_ACTS[Stage(build.stage)](build)


def _at_intake(build: StandingInput) -> str:
    who = build.responsible or "Designer"
    if build.blocking_count:
        return f"{who}: clear {build.blocking_count} blocking"
    return f"{who}: send the quote" if build.released else f"{who}: release a revision"


def _when_approved(build: StandingInput) -> str:
    if build.vehicle_here is False:
        return "Buyer: bring the vehicle"
    if build.parts_here is False:
        return "Stores: get the parts in"
    if build.gear_here is False:
        return "Buyer: send the gear"
    if build.blocking_count:
        return f"{build.responsible or 'Designer'}: clear {build.blocking_count} blocking"
    if not build.step_count:
        return f"{build.responsible or 'Designer'}: make the checklist"
    return "Manager: give it a bay"


def _in_work(build: StandingInput) -> str:
    if build.blocking_count:
        return f"{build.responsible or 'Designer'}: clear {build.blocking_count} blocking"
    left = build.step_count - build.step_done_count
    return f"Bay: {left} step{'' if left == 1 else 's'} to do" if left else "Inspector: final check"


def _at_final_check(build: StandingInput) -> str:
    left = build.step_count - build.step_done_count
    return f"Inspector: check, {left} step{'' if left == 1 else 's'} open" if left else "Desk: issue the packet"


_WHO_ACTS: dict[Stage, Callable[[StandingInput], str]] = {
    Stage.INTAKE: _at_intake,
    Stage.QUOTED: lambda build: "Buyer: sign the quote",
    Stage.APPROVED: _when_approved,
    Stage.IN_WORK: _in_work,
    Stage.FINAL_CHECK: _at_final_check,
    Stage.READY: lambda build: "Desk: hand it over" if build.signed else "Buyer: sign for the packet",
    Stage.DELIVERED: lambda build: "Desk: invoice, or say why not",
    Stage.CLOSED: lambda build: "Nobody: it is closed",
    Stage.CANCELLED: lambda build: "Nobody: it is cancelled",
}
