"""Readings and the inspection record: item, pass, defective, remark, corrected, and who signed the hold points."""

from dataclasses import dataclass
from decimal import Decimal

from builds.documents.packet_context import Measured, PacketContext, calculated_beside
from builds.documents.packet_input import SignaturePart, StepPart, TickPart
from builds.engineering.step_plans import NEVER_NEGATIVE_UNITS

__all__ = ["HoldLine", "Inspection", "PhaseRecord", "ReadingLine", "RecordLine", "inspection_of"]

_BASIS = {
    "inspector": "an inspector with no tick and no clock entry on what it covers",
    "other_technician": "another technician, with no tick and no clock entry on what it covers",
    "self_after_night": "the same person after a night, as this buyer's profile allows",
}
_PHASES = {"strip": "Strip", "mount": "Mount", "wire": "Wire", "test": "Test", "close": "Close"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """A reading asked for: calculated, allowed, measured."""

    title: str
    unit: str
    calculated: str
    allowed: str
    measured: str
    at_v: str
    instrument: str
    who: str
    outside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLine:
    """A step of the inspection record; a result that nobody gave stays empty."""

    title: str
    hold_point: bool
    passed: str
    defective: str
    not_applicable: str
    remark: str
    corrected: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseRecord:
    """The steps of one phase."""

    phase: str
    lines: tuple[RecordLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLine:
    """A hold point: who signed, when, and in which way."""

    title: str
    signed: str
    basis: str
    remark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """Section 10."""

    readings: tuple[ReadingLine, ...]
    phases: tuple[PhaseRecord, ...]
    holds: tuple[HoldLine, ...]
    taken: int
    asked: int


def inspection_of(context: PacketContext) -> Inspection:
    """Return the readings and the record."""
    readings = tuple(_reading(context, measured) for measured in context.measured.values())
    phases: dict[str, list[RecordLine]] = {}
    for step in context.input.steps:
        phases.setdefault(step.phase, []).append(_record(context, step))
    return Inspection(
        readings=readings,
        phases=tuple(PhaseRecord(phase=_PHASES.get(name, name), lines=tuple(lines)) for name, lines in phases.items()),
        holds=tuple(_hold(context, step) for step in context.input.steps if step.is_hold_point),
        taken=sum(1 for line in readings if line.measured),
        asked=len(readings),
    )


def _reading(context: PacketContext, measured: Measured) -> ReadingLine:
    step, tick, units = measured.step, measured.tick, context.quantities

    def shown(figure: Decimal | None) -> str:
        return "" if figure is None else units.reading(figure, step.reading_unit, step.reading_decimals)

    there = calculated_beside(
        context.design, measured
    )  # worst volts apart, the figure to compare is the one at the reading's own
    return ReadingLine(
        title=step.title,
        unit=units.reading_unit(step.reading_unit),
        calculated=f"{shown(step.reading_calculated)}; {there} at {_at_v(step, tick)} V"
        if there
        else shown(step.reading_calculated),
        allowed=_allowed(shown(_least(step)), shown(step.reading_max), shown(step.reading_lost_max_v)),
        measured=shown(tick.reading) if tick else "",
        at_v=_at_v(step, tick),
        instrument=tick.instrument if tick else "",
        who=_who(context, tick) if tick else "",
        outside=_outside(step, tick),
    )


def _least(step: StepPart) -> Decimal | None:
    """The least a step allows; that an amount is not below nothing goes without saying."""
    low = step.reading_min
    return None if low is not None and low <= 0 and step.reading_unit in NEVER_NEGATIVE_UNITS else low


def _allowed(low: str, high: str, lost: str) -> str:
    if lost:
        return f"at most {lost} lost"
    if low and high:
        return f"{low} to {high}"
    if low:
        return f"at least {low}"
    return f"at most {high}" if high else "no limit"


def _at_v(step: StepPart, tick: TickPart | None) -> str:
    """The battery's volts beside a reading; where the loss is asked and they are missing, that is said."""
    if tick is None or tick.reading is None:
        return ""
    if tick.reading_at_v is None:
        return "not written down" if step.reading_lost_max_v is not None else ""
    return f"{tick.reading_at_v:.2f}"


def _outside(step: StepPart, tick: TickPart | None) -> bool:
    if tick is None or tick.reading is None:
        return False
    most_lost, post = step.reading_lost_max_v, tick.reading_at_v
    if most_lost is not None and post is not None and post - tick.reading > most_lost:
        return True
    if tick.reading < 0 and step.reading_unit in NEVER_NEGATIVE_UNITS:
        return True
    low, high = step.reading_min, step.reading_max
    return (low is not None and tick.reading < low) or (high is not None and tick.reading > high)


def _who(context: PacketContext, entry: TickPart | SignaturePart) -> str:
    return f"{entry.by}, {context.quantities.day(entry.at)}"


def _record(context: PacketContext, step: StepPart) -> RecordLine:
    """The first defective result and what followed it; the newest result otherwise."""
    results = _results(context, step)
    defective = next((who for result, who, _ in results if result == "defective"), "")
    newest = results[-1] if results else ("", "", "")
    corrected = newest[1] if defective and newest[0] == "pass" else ""
    return RecordLine(
        title=step.title,
        hold_point=step.is_hold_point,
        passed=newest[1] if newest[0] == "pass" else "",
        defective=defective,
        not_applicable=newest[1] if newest[0] == "not_applicable" else "",
        remark="; ".join(dict.fromkeys(remark for _, _, remark in results if remark)),
        corrected=corrected,
    )


def _results(context: PacketContext, step: StepPart) -> list[tuple[str, str, str]]:
    """Result, who and when, and remark of every tick or signature, oldest first."""
    if step.is_hold_point:
        return [("pass" if item.passed else "defective", _who(context, item), item.remark) for item in step.signatures]
    return [(tick.result, _who(context, tick), tick.remark) for tick in step.ticks]


def _hold(context: PacketContext, step: StepPart) -> HoldLine:
    if not step.signatures:
        return HoldLine(title=step.title, signed="", basis="", remark="")
    newest = step.signatures[-1]
    word = "passed" if newest.passed else "sent back"
    return HoldLine(
        title=step.title,
        signed=f"{word} by {newest.by}, {context.quantities.moment(newest.at)}",
        basis=_BASIS.get(newest.basis, newest.basis),
        remark=newest.remark,
    )
