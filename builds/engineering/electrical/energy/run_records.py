"""What a simulation leaves behind: points over time, events, accounts, and what became of every attempt to start."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

__all__ = ["Accounts", "BankAccount", "EnergyRun", "Event", "EventKind", "Start", "Trace"]

Floats = NDArray[np.float64]


class EventKind(StrEnum):
    """What happened at a moment."""

    STAGE = "stage"
    SHED = "shed"
    RESTORED = "restored"
    CUT_OUT = "cut_out"
    FLOOR = "floor"
    EMPTY = "empty"
    OVERLOADED = "overloaded"
    CRANK = "crank"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened: ``what`` is the segment, the shedding step, the load or the battery; ``voltage_v`` before it."""

    at_s: float
    kind: EventKind
    what: str
    stage: int
    voltage_v: float


@dataclass(frozen=True, slots=True)
class Trace:
    """
    Points in the order of time, two at every moment at which something jumps.

    ``charge_ratio``, ``bank_v`` and ``bank_a`` have a row a point and a column a battery; a battery's current is above 0
    while it gives. ``source_a`` and ``load_a`` are the sums over all posts, ``stage`` is the stage that a point belongs to.
    """

    time_s: Floats
    charge_ratio: Floats
    bank_v: Floats
    bank_a: Floats
    source_a: Floats
    load_a: Floats
    stage: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class BankAccount:
    """
    Ampere-hours of one battery: what it gave and took, what its rate of discharge cost beside, what charging lost.

    ``removed_ah`` is what is missing at the end less what was missing at the start: given + Peukert's extra - taken + lost.
    """

    given_ah: float
    taken_ah: float
    peukert_extra_ah: float
    charge_lost_ah: float
    removed_ah: float

    @property
    def difference_ah(self) -> float:
        """By how much the account does not close."""
        return self.given_ah + self.peukert_extra_ah - self.taken_ah + self.charge_lost_ah - self.removed_ah


@dataclass(frozen=True, slots=True)
class Accounts:
    """Ampere-hours of everything: batteries give, sources give; loads, the starter and batteries on charge take."""

    banks: tuple[BankAccount, ...]
    source_ah: float
    load_ah: float
    crank_ah: float

    @property
    def throughput_ah(self) -> float:
        """Everything that was given."""
        return self.source_ah + sum(bank.given_ah for bank in self.banks)

    @property
    def difference_ah(self) -> float:
        """By how much given and taken differ."""
        taken_ah = self.load_ah + self.crank_ah + sum(bank.taken_ah for bank in self.banks)
        return self.throughput_ah - taken_ah


@dataclass(frozen=True, slots=True)
class Start:
    """
    One attempt to start: the lowest voltage of the battery while the engine is cranked, and at the starter.

    ``dropped`` are the loads on that battery that drop out meanwhile; ``emf_v`` stands behind its resistance as it begins.
    """

    at_s: float
    stage: int
    charge_ratio: float
    post_v: float
    starter_v: float
    least_v: float
    dropped: tuple[str, ...]
    emf_v: float = 0.0

    @property
    def holds(self) -> bool:
        """Whether the voltage stays at or above the least one."""
        return self.starter_v >= self.least_v


@dataclass(frozen=True, slots=True)
class EnergyRun:
    """A simulated profile; ``steps`` counts the steps in time that it took, ``unserved_ah`` what empty batteries did not give."""

    trace: Trace
    events: tuple[Event, ...]
    accounts: Accounts
    starts: tuple[Start, ...]
    lowest_ratio: tuple[float, ...]
    lowest_v: tuple[float, ...]
    floor_s: tuple[float | None, ...]
    steps: int
    unserved_ah: float = 0.0

    def switchings(self) -> int:
        """How often something was switched off or on."""
        kinds = (EventKind.SHED, EventKind.RESTORED, EventKind.CUT_OUT)
        return sum(1 for event in self.events if event.kind in kinds)
