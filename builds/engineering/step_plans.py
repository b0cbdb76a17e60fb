"""One step of a checklist as the design asks for it, and the reading it may take."""

from dataclasses import dataclass

from builds.engineering.vocabulary import Phase, Place

__all__ = ["NEVER_NEGATIVE_UNITS", "ReadingPlan", "StepPlan"]

# What a step reads in these is an amount: below nothing, the instrument is the wrong way round, whatever the limits say.
NEVER_NEGATIVE_UNITS = frozenset({"A", "mA", "kg"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingPlan:
    """
    A figure to be read: its unit, its limits where it has any, what was calculated, with what it is read, decimals kept.

    ``most_lost_v`` is how much may be lost between the battery's posts and here, read at the same time: where it is given,
    the loss is judged and the voltage at the posts belongs to the reading.
    """

    unit: str
    minimum: float | None
    maximum: float | None
    calculated: float | None
    instrument: str
    decimals: int
    most_lost_v: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPlan:
    """One step of the checklist as the design asks for it; ``covers`` names the steps that a hold point signs for."""

    key: str
    title: str
    why: str
    phase: Phase
    place: Place
    instructions: tuple[str, ...] = ()
    operation: str = ""
    subject: str = "build"
    reading: ReadingPlan | None = None
    photo_required: bool = False
    hold_point: bool = False
    covers: tuple[str, ...] = ()
