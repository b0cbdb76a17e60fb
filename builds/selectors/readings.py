"""What a reading says against the limits of its step; pure arithmetic on decimals, in the words a person is told."""

from dataclasses import dataclass
from decimal import Decimal

from builds.models import ChecklistStep

__all__ = ["ReadingVerdict", "asks_supply_voltage", "judge", "needs_supply_voltage", "shown"]

_CURRENT_UNITS = frozenset({"A", "mA"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingVerdict:
    """Whether a reading is within its step's limits, and the sentence that says so."""

    within: bool
    words: str


def judge(step: ChecklistStep, reading: Decimal) -> ReadingVerdict:
    """Return what ``reading`` says; a reading exactly at a limit is within it."""
    low, high = step.reading_min, step.reading_max
    if high is not None and reading > high:
        return ReadingVerdict(within=False, words=f"{shown(step, reading - high)} over {shown(step, high)}")
    if low is not None and reading < low:
        return ReadingVerdict(within=False, words=f"{shown(step, low - reading)} short of {shown(step, low)}")
    if high is not None:
        return ReadingVerdict(within=True, words=f"Within: {shown(step, high - reading)} left of {shown(step, high)}")
    if low is not None:
        return ReadingVerdict(within=True, words=f"Within: {shown(step, reading - low)} past {shown(step, low)}")
    return ReadingVerdict(within=True, words=f"{shown(step, reading)}, no limit given")


def shown(step: ChecklistStep, value: Decimal) -> str:
    """Return a figure as the step's instrument shows it, with its unit; never fewer decimals than it has."""
    places = max(step.reading_decimals, -int(value.normalize().as_tuple().exponent))
    return f"{value:.{places}f} {step.reading_unit}".strip()


def needs_supply_voltage(step: ChecklistStep) -> bool:
    """Whether a reading is worthless without the voltage it was taken at: a current is."""
    return step.reading_unit in _CURRENT_UNITS


def asks_supply_voltage(step: ChecklistStep) -> bool:
    """Whether the page has a place for the voltage at the battery, asked for or merely welcome."""
    return needs_supply_voltage(step) or (step.reading_unit == "V" and not step.key.startswith("battery/"))
