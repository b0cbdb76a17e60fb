"""A build as its customer is told of it: where it stands in their words, with dates, and nothing of the shop's own."""

import re
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from builds.models import Authorisation, Build, CheckIn, HoldReason, Occupancy, Stage

__all__ = ["CustomerPage", "WayStep", "customer_page"]

_ORDER = list(Stage)
_NOUNS = ("truck", "van", "car", "bus", "trailer", "boat")
_WAITS = {
    HoldReason.PARTS: "Work stands still: parts are not here yet.",
    HoldReason.CUSTOMER_GEAR: "Work stands still: we wait for gear that you bring.",
    HoldReason.CUSTOMER_ANSWER: "Work stands still: we wait for your answer.",
    HoldReason.VEHICLE: "Work stands still: we wait for the vehicle.",
    HoldReason.SUBLET: "Another workshop has it for a part of the work.",
    HoldReason.OTHER: "Work stands still. Call us, we tell you why.",
}


_STANDS = {
    Stage.INTAKE: "We are working out your quote.",
    Stage.QUOTED: "Your quote is ready.",
    Stage.APPROVED: "Ordered. We get everything together before work starts.",
    Stage.IN_WORK: "In work.",
    Stage.FINAL_CHECK: "Work is done; somebody who did not do it checks it now.",
    Stage.READY: "Ready for you to collect.",
    Stage.DELIVERED: "Handed over to you.",
    Stage.CLOSED: "Handed over to you.",
    Stage.CANCELLED: "This job was cancelled.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WayStep:
    """One step of the way: "done", "present" or "to_come", its word, its date, and a line more."""

    state: str
    word: str
    date: str
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerPage:
    """Head and way of a customer's page; ``promise`` stands after ``sentence`` and ``late`` says that it has passed."""

    noun: str
    unit: str
    sentence: str
    promise: str
    late: bool
    way: tuple[WayStep, ...]


def customer_page(build: Build, *, at: datetime, zone: ZoneInfo) -> CustomerPage:
    """Return what a customer's page says of a build at a moment."""
    today = at.astimezone(zone).date()
    return CustomerPage(
        noun=noun_of(build),
        unit=build.vehicle.unit_number,
        sentence=_sentence(build),
        promise=_promise(build, today),
        late=_is_late(build, today),
        way=tuple(_way(build, zone)),
    )


def noun_of(build: Build) -> str:
    """What a customer would call it: "truck", "van", else "vehicle"."""
    words = re.findall(r"[a-z]+", build.platform.name.lower())
    return next((noun for noun in _NOUNS if noun in words), "vehicle")


def _sentence(build: Build) -> str:
    if build.hold_reason:
        return _WAITS[HoldReason(build.hold_reason)]
    if build.stage == Stage.IN_WORK and _is_in_bay(build):
        return "In the bay."
    if build.stage == Stage.QUOTED and _is_newest_ordered(build):
        return "Ordered. Thank you; the shop takes it on from here."
    return _STANDS[Stage(build.stage)]


def _is_newest_ordered(build: Build) -> bool:
    """Whether the quote that stands was ordered; an older one's order does not hold for a newer quote."""
    newest = max(build.revisions.all(), key=lambda revision: revision.sequence, default=None)
    return newest is not None and newest.authorisations.exists()


def _is_in_bay(build: Build) -> bool:
    return Occupancy.objects.filter(build=build, during__upper_inf=True).exists()


def _promised_still(build: Build) -> bool:
    return build.promised_on is not None and _ORDER.index(Stage(build.stage)) < _ORDER.index(Stage.READY)


def _is_late(build: Build, today: date) -> bool:
    return _promised_still(build) and build.promised_on is not None and build.promised_on < today


def _promise(build: Build, today: date) -> str:
    if not _promised_still(build) or build.promised_on is None:
        return ""
    day = f"{build.promised_on:%A} {build.promised_on.day} {build.promised_on:%B}"
    return f"It was promised for {day} and is late. Call us." if _is_late(build, today) else f"Promised for {day}."


def _way(build: Build, zone: ZoneInfo) -> list[WayStep]:
    """The steps in order; the one after the last that was reached is the present one."""
    reached = _reached(build)
    arrived = CheckIn.objects.filter(build=build, direction=CheckIn.Direction.IN).order_by("at").first()
    ordered = min(
        (item for revision in build.revisions.all() for item in revision.authorisations.all()),
        key=lambda item: (item.authorised_at, item.pk),
        default=None,
    )
    steps = [
        ("Quote made", reached.get(Stage.QUOTED), ""),
        (_ordered_words(ordered), ordered.authorised_at if ordered else None, ""),
        (f"Your {noun_of(build)} arrived", arrived.at if arrived else None, ""),
        ("Work started", reached.get(Stage.IN_WORK), _steps_words(build)),
        ("Final check", reached.get(Stage.FINAL_CHECK), ""),
        ("Ready to collect", reached.get(Stage.READY), ""),
        ("Handed over", reached.get(Stage.DELIVERED), ""),
    ]
    last_done = max((index for index, (_, at, _) in enumerate(steps) if at is not None), default=-1)
    way: list[WayStep] = []
    for index, (word, at, more) in enumerate(steps):
        if at is not None:
            way.append(WayStep(state="done", word=word, date=_day(at, zone), more=more))
        elif index < last_done:
            way.append(WayStep(state="to_come", word=word, date="not written down"))
        else:
            state = "present" if index == last_done + 1 else "to_come"
            way.append(WayStep(state=state, word=word, date=_expected(build, word)))
    return way


def _ordered_words(ordered: Authorisation | None) -> str:
    """How the work was ordered: nobody signed a quote where a purchase order came instead."""
    if ordered is None or ordered.kind != Authorisation.Kind.PURCHASE_ORDER:
        return "Quote signed"
    return f"Ordered by purchase order {ordered.reference}".rstrip()


def _reached(build: Build) -> dict[Stage, datetime]:
    """When each stage was last entered, of those the build has not gone back behind."""
    here = _ORDER.index(Stage(build.stage))
    found: dict[Stage, datetime] = {}
    for change in build.stage_changes.all():
        stage = Stage(change.to_stage)
        if change.from_stage != change.to_stage and _ORDER.index(stage) <= here:
            found[stage] = change.at
    return found


def _steps_words(build: Build) -> str:
    if not build.step_count or build.stage != Stage.IN_WORK:
        return ""
    return f"{build.step_done_count} of {build.step_count} steps done"


def _day(at: datetime, zone: ZoneInfo) -> str:
    local = at.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b}"


def _expected(build: Build, word: str) -> str:
    if word != "Ready to collect" or build.promised_on is None:
        return ""
    return f"{build.promised_on:%a} {build.promised_on.day} {build.promised_on:%b}"
