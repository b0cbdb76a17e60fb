"""What a customer reads before signing a quote: everything the revision holds, in words without shop numbers."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from builds.engineering.assessment import Assessment
from builds.engineering.design import Design, PartsBillLine
from builds.engineering.functions.comparing import OutputDifference, Side, compare_schedules
from builds.engineering.functions.reports import report_of
from builds.engineering.vocabulary import SuppliedBy
from builds.selectors.figure_words import Measures

__all__ = ["QuoteContents", "QuoteGroup", "contents_of", "moved_lines"]

_DIFFERENCES_TOLD = 8


@dataclass(frozen=True, slots=True)
class QuoteGroup:
    """What goes to one place of the vehicle: each line "2 × Scene light" or "12 m (39 ft) of Conduit"."""

    place: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteContents:
    """Everything that is signed for: fitted by place, brought, moved over, taken off, the work, and what it was planned for."""

    fitted: tuple[QuoteGroup, ...]
    brought: tuple[str, ...]
    transferred: tuple[str, ...]
    taken_off: tuple[str, ...]
    work: tuple[str, ...]
    uses: tuple[str, ...]


def contents_of(design: Design, assessment: Assessment) -> QuoteContents:
    """Return what a design holds, in the order of the vehicle's places."""
    there = [part for part in design.parts if not part.removed]
    words = _line_words(design)
    return QuoteContents(
        fitted=tuple(_groups(design, [part for part in there if part.supplied_by is SuppliedBy.SHOP], words)),
        brought=tuple(words(part) for part in there if part.supplied_by is SuppliedBy.CUSTOMER),
        transferred=tuple(words(part) for part in there if part.supplied_by is SuppliedBy.TRANSFERRED),
        taken_off=tuple(words(part) for part in design.parts if part.removed),
        work=tuple(operation.name for operation in design.operations),
        uses=tuple(_uses(assessment)),
    )


def moved_lines(before: Design, after: Design) -> tuple[str, ...]:
    """Return what a change adds, takes out and alters in the parts bill and in what the controls do, a sentence for each."""
    was, now = ({part.key: part for part in design.parts} for design in (before, after))
    old, new = _line_words(before), _line_words(after)
    said = [f"Added: {new(part)}" for key, part in now.items() if key not in was]
    said += [f"Left out: {old(part)}" for key, part in was.items() if key not in now]
    said += [
        f"Instead of {old(was[key])}: {new(part)}"
        for key, part in now.items()
        if key in was and old(was[key]) != new(part)
    ]
    return (*said, *_function_lines(before.function_schedule, after.function_schedule))


def _function_lines(before: str, after: str) -> Iterator[str]:
    """What the outputs do otherwise, by behaviour: rules that were only said another way make no line."""
    was, now = report_of(before).compiled, report_of(after).compiled
    if before == after or was is None or now is None:
        return
    if not was.schedule.channels or not now.schedule.channels:
        if now.schedule.channels:
            yield f"What the controls do is laid down: {len(now.schedule.channels)} outputs"
        return
    result = compare_schedules(was.schedule, now.schedule)
    for one in result.different[:_DIFFERENCES_TOLD]:
        yield f"{one.what} does something else{_told(one)}"
    if len(result.different) > _DIFFERENCES_TOLD:
        yield f"and {len(result.different) - _DIFFERENCES_TOLD} more outputs do something else"
    yield from (f"Added to the controls: {name}" for name in result.only_in_other)
    yield from (f"No longer worked by the controls: {name}" for name in result.only_in_one)
    for declared in result.declared[:_DIFFERENCES_TOLD]:
        was_said, is_said = declared.one_says or "not there", declared.other_says or "not there"
        yield f"Written down otherwise, {declared.what}: {was_said} before, {is_said} now"
    if len(result.declared) > _DIFFERENCES_TOLD:
        yield f"and {len(result.declared) - _DIFFERENCES_TOLD} more inputs and outputs written down otherwise"


def _told(one: OutputDifference) -> str:
    if one.example is None:
        return ""
    if one.one_shows == one.other_shows:  # a pattern that kept its name
        return f": {one.one_shows}, in other times than before ({one.how})"
    never = {Side.ONE: ", which was said never to be", Side.OTHER: ", which is now said never to be"}
    said_never = never[one.excluded_by] if one.excluded_by else ""
    return f": {one.one_shows} before, {one.other_shows} now ({one.how}{said_never})"


def _line_words(design: Design) -> Callable[[PartsBillLine], str]:
    measures = Measures(design.conventions.units, design.conventions.gauge_basis)

    def words(part: PartsBillLine) -> str:
        if part.unit == "each":
            return f"{part.quantity:g} × {part.description}"
        return f"{measures.quantity(part.quantity, part.unit)} of {part.description}"

    return words


def _groups(design: Design, parts: list[PartsBillLine], words: Callable[[PartsBillLine], str]) -> Iterable[QuoteGroup]:
    names = {zone.key: zone.name for zone in design.platform.zones}
    places = [*names, *(part.zone for part in parts if part.zone not in names)]
    for place in dict.fromkeys(places):
        lines = tuple(words(part) for part in parts if part.zone == place)
        if lines:
            yield QuoteGroup(names.get(place, "In no single place"), lines)


def _uses(assessment: Assessment) -> Iterable[str]:
    """Each way the vehicle is used that the work was planned for, with the hours its batteries carry it where asked."""
    for condition in assessment.conditions:
        if condition.battery_h is None or not condition.min_hours:
            yield condition.name
            continue
        lasts = Decimal(repr(condition.battery_h)).quantize(Decimal("0.1"))
        yield f"{condition.name}: {lasts} hours on the batteries by calculation, {condition.min_hours:g} asked for"
