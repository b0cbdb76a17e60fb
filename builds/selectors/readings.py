"""
What a reading says against the limits of its step; pure arithmetic on decimals, in the words a person is told.

A mass is kept in kilograms and read off a scale in the units of the build: :class:`ReadingScale` stands between the two.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from builds.engineering.units import KG_PER_LB
from builds.engineering.vocabulary import UnitSystem
from builds.models import ChecklistStep

__all__ = [
    "ReadingScale",
    "ReadingVerdict",
    "asks_supply_voltage",
    "judge",
    "needs_supply_voltage",
    "scale_of",
    "shown",
]

_CURRENT_UNITS = frozenset({"A", "mA"})
_KEPT = Decimal("0.0001")  # the decimals of the column


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingScale:
    """The unit a reading is typed and shown in, and how much of the kept unit one of it is."""

    unit: str
    kept_per_shown: Decimal

    def kept(self, typed: Decimal) -> Decimal:
        """Return a typed figure in the unit it is kept in; one typed in that unit stays as it is."""
        return typed if self.kept_per_shown == 1 else (typed * self.kept_per_shown).quantize(_KEPT, ROUND_HALF_UP)

    def figure(self, kept: Decimal, decimals: int) -> str:
        """Return a kept figure as it is shown: rounded to the step's decimals where it is converted, else whole."""
        if self.kept_per_shown != 1:
            return f"{(kept / self.kept_per_shown).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP):f}"
        places = max(decimals, -int(kept.normalize().as_tuple().exponent))
        return f"{kept:.{places}f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingVerdict:
    """Whether a reading is within its step's limits, and the sentence that says so."""

    within: bool
    words: str


def scale_of(step: ChecklistStep) -> ReadingScale:
    """Return what a step's reading is typed in: the units of its build for a mass, its own unit for the rest."""
    if step.reading_unit == "kg" and step.build.units == UnitSystem.US:
        return ReadingScale(unit="lb", kept_per_shown=Decimal(repr(KG_PER_LB)))
    return ReadingScale(unit=step.reading_unit, kept_per_shown=Decimal(1))


def judge(step: ChecklistStep, reading: Decimal) -> ReadingVerdict:
    """Return what ``reading``, in the unit it is kept in, says; one exactly at a limit is within it."""
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


def shown(step: ChecklistStep, kept: Decimal) -> str:
    """Return a kept figure as a person reads it, with its unit."""
    scale = scale_of(step)
    return f"{scale.figure(kept, step.reading_decimals)} {scale.unit}".strip()


def needs_supply_voltage(step: ChecklistStep) -> bool:
    """Whether a reading is worthless without the voltage it was taken at: a current is."""
    return step.reading_unit in _CURRENT_UNITS


def asks_supply_voltage(step: ChecklistStep) -> bool:
    """Whether the page has a place for the voltage at the battery, asked for or merely welcome."""
    return needs_supply_voltage(step) or (step.reading_unit == "V" and not step.key.startswith("battery/"))
