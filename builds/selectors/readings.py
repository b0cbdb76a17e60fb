"""
What a reading says against the limits of its step; pure arithmetic on decimals, in the words a person is told.

A mass is kept in kilograms and read off a scale in the units of the build: :class:`ReadingScale` stands between the two.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from builds.engineering.step_plans import NEVER_NEGATIVE_UNITS
from builds.engineering.units import KG_PER_LB
from builds.engineering.vocabulary import UnitSystem
from builds.models import ChecklistStep

__all__ = [
    "ReadingScale",
    "ReadingVerdict",
    "asks_supply_voltage",
    "backward_words",
    "judge",
    "limit_words",
    "needs_instrument",
    "needs_supply_voltage",
    "scale_of",
    "shown",
]

_CURRENT_UNITS = frozenset({"A", "mA"})
_KEPT = Decimal("0.0001")  # the decimals of the column
# A load that reads this much more than its source was not read at the same time, or not there: an alternator nearer to it
# than the battery explains less. Common practice, no published source.
_MOST_ABOVE_SOURCE_V = Decimal("0.5")


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


def judge(step: ChecklistStep, reading: Decimal, at_v: Decimal | None = None) -> ReadingVerdict:
    """
    Return what ``reading``, in the unit it is kept in, says; one exactly at a limit is within it.

    Where the step says how much may be lost, that is judged: from ``at_v``, the volts at what feeds it (a battery's posts, a converter's output) at the same time.
    """
    low, high = _limits(step)
    outside = _outside_words(step, reading, low, high)
    if outside:
        return ReadingVerdict(within=False, words=outside)
    if step.reading_lost_max_v is not None:
        return _judge_loss(step, reading, at_v, step.reading_lost_max_v)
    if high is not None:
        return ReadingVerdict(within=True, words=f"Within: {shown(step, high - reading)} left of {shown(step, high)}")
    if low is not None:
        return ReadingVerdict(within=True, words=f"Within: {shown(step, reading - low)} past {shown(step, low)}")
    return ReadingVerdict(within=True, words=f"{shown(step, reading)}, no limit given")


def _outside_words(step: ChecklistStep, reading: Decimal, low: Decimal | None, high: Decimal | None) -> str:
    backward = backward_words(step)
    if backward and reading < 0:
        return f"{shown(step, reading)} is below nothing; {backward}"
    if high is not None and reading > high:
        return f"{shown(step, reading - high)} over {shown(step, high)}"
    if low is not None and reading < low:
        return f"{shown(step, low - reading)} short of {shown(step, low)}"
    return ""


def _limits(step: ChecklistStep) -> tuple[Decimal | None, Decimal | None]:
    """The least and the most of a step; that an amount is not below nothing is no limit to speak of."""
    low = step.reading_min
    return (None if low is not None and low <= 0 and backward_words(step) else low), step.reading_max


def backward_words(step: ChecklistStep) -> str:
    """Return what to do about a reading below nothing, where the step reads an amount; empty where a sign means something."""
    if step.reading_unit not in NEVER_NEGATIVE_UNITS:
        return ""
    if step.reading_unit in _CURRENT_UNITS:
        return "the clamp is reversed, turn it round and read again"
    return "set the scale to nothing and weigh again"


def _judge_loss(step: ChecklistStep, reading: Decimal, at_v: Decimal | None, most: Decimal) -> ReadingVerdict:
    if at_v is None:
        return ReadingVerdict(
            within=False, words=f"{shown(step, reading)}; its source was not read beside it, so the loss is not known"
        )
    lost = at_v - reading
    if -lost > _MOST_ABOVE_SOURCE_V:
        words = f"{shown(step, -lost)} more than its source's {shown(step, at_v)}; read both at the same time"
        return ReadingVerdict(within=False, words=words)
    said = f"{shown(step, reading)} of {shown(step, at_v)} at the source, {shown(step, lost)} lost; "
    if lost > most:
        return ReadingVerdict(within=False, words=f"{said}{shown(step, lost - most)} over {shown(step, most)}")
    return ReadingVerdict(within=True, words=f"{said}{shown(step, most - lost)} left of {shown(step, most)}")


def limit_words(step: ChecklistStep) -> str:
    """Return what a reading of the step may be, in words for before it is taken; empty where it has no limit."""
    low, high = _limits(step)
    if step.reading_lost_max_v is not None:
        lost = f"At most {shown(step, step.reading_lost_max_v)} less than its source at the same time"
        return lost if low is None or high is None else f"{lost}, within {shown(step, low)} to {shown(step, high)}"
    if low is not None and high is not None:
        return f"{shown(step, low)} to {shown(step, high)}"
    if low is not None:
        return f"At least {shown(step, low)}"
    return "" if high is None else f"At most {shown(step, high)}"


def shown(step: ChecklistStep, kept: Decimal) -> str:
    """Return a kept figure as a person reads it, with its unit."""
    scale = scale_of(step)
    return f"{scale.figure(kept, step.reading_decimals)} {scale.unit}".strip()


def needs_supply_voltage(step: ChecklistStep) -> bool:
    """Whether a reading is worthless without the voltage it was taken at: a current is, and one whose loss is judged."""
    return step.reading_unit in _CURRENT_UNITS or step.reading_lost_max_v is not None


def needs_instrument(step: ChecklistStep) -> bool:
    """Whether a reading says with which instrument it was taken: a current does."""
    return step.reading_unit in _CURRENT_UNITS


def asks_supply_voltage(step: ChecklistStep) -> bool:
    """Whether the page has a place for the voltage at the battery, asked for or merely welcome."""
    return needs_supply_voltage(step) or (step.reading_unit == "V" and not step.key.startswith("battery/"))
