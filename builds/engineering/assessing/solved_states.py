"""What a solved distribution holds: its settings, each with both ends of its voltage range and its drop cases."""

from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.conversion import converted
from builds.engineering.assessing.demand import Demand, Feeds
from builds.engineering.assessing.moments import Moments, Places
from builds.engineering.assessing.solving import Flags, Floats, Resistances, Solved
from builds.engineering.assessing.topology import Feeding
from builds.engineering.assessing.trees import Elements
from builds.engineering.assessing.wires import Wire
from builds.engineering.electrical.network_result import NoOperatingPoint
from builds.engineering.vocabulary import DropCurrent

__all__ = ["Case", "Network", "Side", "State", "Worst"]


@dataclass(frozen=True, slots=True)
class Case:
    """What a drop rule is judged at, apart from its limit: conductor temperature and which of the loads' currents."""

    conductor_temp_c: float
    current: DropCurrent


@dataclass(frozen=True, slots=True)
class Side:
    """
    One end of the sources' voltage ranges. Arrays have a row per fed circuit and a column per condition of the state.

    ``source_v`` is that of the source behind each circuit, ``voltage_v`` the least that its loads have and ``flowing_a`` the most
    that flows at any moment; ``at_moment`` has both for each moment of each condition. ``lit_a`` is what flows or, where it is
    more, what the same loads take at part of their duty. ``off`` (loads × conditions) is 1 where a load is below its
    least voltage, ``converters_off`` (converters × conditions) where a converter is, ``collapses`` names the conditions (columns) without an operating point.
    """

    source_v: Floats
    voltage_v: Floats
    flowing_a: Floats
    lit_a: Floats
    mean_a: Floats
    rms_a: Floats
    sizing_a: Floats
    continuous_a: Floats
    off: Floats
    converters_off: Floats
    collapses: dict[int, NoOperatingPoint]
    at_moment: Solved


@dataclass(frozen=True, slots=True)
class State:
    """
    One setting of switches and sources: its ways, its resistances, its two sides, and the solution of each drop case (low side).

    ``chosen`` are the design's conditions that run in this state; ``works`` is False in the columns that have no operating
    point on one side or the other, whose figures mean nothing. The drop cases have a column for each of ``moments``, but for
    a steady or a starting current, which have one for each condition. ``known`` is False for circuits that run over a conductor
    no table has. ``wanted_a`` (converters × conditions) is what everything lit asks of each converter. ``given`` is, by
    condition, which batteries (rows) sources with figures charge, and what those give at most.
    """

    feeding: Feeding
    resistances: Resistances
    source_ohm: Floats
    chosen: tuple[int, ...]
    feeds: Feeds
    low: Side
    high: Side
    drops: dict[Case, Solved]
    works: Flags
    known: Flags
    worst: "Worst"
    wanted_a: Floats
    moments: Moments
    given: tuple[Floats, Floats]

    @property
    def at_moments_v(self) -> tuple[Floats, Floats]:
        """Voltages at the circuits' loads at each moment, circuits × moments, of the low and of the high side [V]."""
        return self.low.at_moment.voltage_v, self.high.at_moment.voltage_v

    @property
    def low_lit_a(self) -> Floats:
        """What flows at the low voltage at each moment, circuits × moments, 0 in the conditions without an operating point."""
        return np.where(self.works[self.moments.of], self.low.at_moment.current_a, 0.0)

    @property
    def charging_mean_a(self) -> Floats:
        """
        Mean of each circuit and each converter's input (rows) by condition [A], while what charges has a flat battery to charge.

        A converter that charges a battery takes all that it can there, for as long as something charges what feeds it; with
        nothing charging it takes in the mean what that battery's loads take.
        """
        mean_a, parts = self.worst.mean_a, self.feeding.conversions
        if not any(part.charges for part in parts):
            return mean_a
        charged = self.given[0].any(axis=0) & self.works
        full_a = converted(parts, mean_a.copy(), self.low.voltage_v)
        return np.where(charged, np.maximum(full_a, mean_a), mean_a)

    def moments_of(self, case: Case) -> Moments:
        """What the columns of a drop case are: moments, or of a steady or a starting current the conditions themselves."""
        if case.current is DropCurrent.PEAK or not self.moments.apart:
            return self.moments
        conditions = np.arange(len(self.chosen))
        return Moments(self.moments.level, conditions, conditions, apart=False)

    def peaks_a(self) -> Floats:
        """The most that flows through each element (rows) at any moment of each condition [A]."""
        if not self.moments.apart:
            return self.through_a(self.worst.lit_a)
        through, most = self.through_a, self.moments.most
        sides = (most(through(side.at_moment.current_a)) for side in (self.low, self.high))
        return np.maximum(np.where(self.works, np.maximum(*sides), 0.0), through(self.worst.mean_a))

    def total_peak_a(self, column: int) -> float:
        """The most that all batteries give together at any moment of a condition (column) [A]."""
        from_batteries, worst = self.feeding.from_batteries, self.worst
        if not self.moments.apart:
            return float(worst.lit_a[from_batteries, column].sum())
        moments = self.moments.columns_of(column)
        sides = [
            side.at_moment.current_a[from_batteries][:, moments].sum(axis=0).max() for side in (self.low, self.high)
        ]
        return float(max(*sides, worst.mean_a[from_batteries, column].sum()))

    def sizings_a(self, peaks_a: Floats) -> Floats:
        """What each element (rows) is sized on in each condition [A]: no heat is above ``peaks_a``, the peak of what keeps step."""
        sizing_a = self.through_a(self.worst.sizing_a)
        return np.minimum(sizing_a, peaks_a) if self.moments.apart else sizing_a

    def before_post_v(self, current_a: Floats, temperature_c: float) -> Floats:
        """What is lost before the posts that drops are counted from: in a battery, in a source's cable, circuits × conditions [V]."""
        feeding = self.feeding
        inside_v = feeding.battery.T @ (self.source_ohm[:, None] * (feeding.battery @ current_a))
        if feeding.from_sources is None:
            return np.asarray(inside_v)
        return inside_v + feeding.before_post_v(self.resistances.at(temperature_c)[0], current_a)

    def short_a(self, current_a: Floats, of: Places | None = None) -> Floats:
        """What circuits ask for beyond what their sources give, and batteries make up, column by column [A]."""
        rows, available_a = self.given
        if of is None and current_a.shape[1] == len(self.moments.of):
            of = self.moments.of
        if of is not None:
            rows, available_a = rows[:, of], available_a[of]
        return np.asarray(np.maximum((rows * (self.feeding.battery @ current_a)).sum(axis=0) - available_a, 0.0))

    def through_a(self, current_a: Floats, of: Places | None = None) -> Floats:
        """
        Return the currents of the elements, elements × columns, from those of the circuits [A].

        Columns are conditions or moments, or belong to the conditions that ``of`` says. What a battery makes up comes over the
        way to its source, against what its source sends there.
        """
        through_a, ways = self.feeding.through_a(current_a), self.feeding.from_sources
        if ways is None:
            return through_a
        short_a = self.short_a(current_a, of)
        return np.abs(through_a - ways.between[:, None] * short_a) if short_a.any() else through_a

    @property
    def overloaded(self) -> Flags:
        """Conditions (columns) in which some converter is asked for more than it gives."""
        limits = np.array([part.spec.limit_a for part in self.feeding.conversions]).reshape(-1, 1)
        return np.asarray((self.wanted_a > limits * (1 + 1e-9)).any(axis=0))

    @property
    def dead(self) -> Flags:
        """Circuits (rows) in conditions (columns) in which the converter that feeds them is off."""
        rows = np.zeros((len(self.feeding.conversions), len(self.feeding.root)))
        rows[:] = [part.fed for part in self.feeding.conversions] or 0.0
        return np.asarray(rows.T @ self.low.converters_off > 0)


@dataclass(frozen=True, slots=True)
class Worst:
    """
    The larger of each current's two sides, circuits × conditions, 0 in the columns that have no operating point.

    ``unstarved_a`` and ``unstarved_continuous_a`` are sizing and continuous current over the best of wires.
    """

    mean_a: Floats
    rms_a: Floats
    lit_a: Floats
    sizing_a: Floats
    continuous_a: Floats
    unstarved_a: Floats
    unstarved_continuous_a: Floats

    @classmethod
    def of(cls, low: Side, high: Side, works: Flags, unstarved: tuple[Floats, Floats]) -> "Worst":
        """Take the larger of both sides."""
        pairs = (
            (low.mean_a, high.mean_a),
            (low.rms_a, high.rms_a),
            (low.lit_a, high.lit_a),
            (low.sizing_a, high.sizing_a),
            (low.continuous_a, high.continuous_a),
        )
        taken = [np.where(works, np.maximum(one, other), 0.0) for one, other in pairs]
        bounds = [np.where(works, bound, 0.0) for bound in unstarved]
        mean_a, rms_a, lit_a, sizing_a, continuous_a = taken
        return cls(
            mean_a,
            rms_a,
            lit_a,
            sizing_a,
            continuous_a,
            np.maximum(sizing_a, bounds[0]),
            np.maximum(continuous_a, bounds[1]),
        )


@dataclass(frozen=True, slots=True)
class Network:
    """
    The whole distribution of a design: its elements, its wires, what its loads ask for, and its solved states.

    ``states`` are the engine running and off with everything as usual, then what else conditions ask for.
    """

    elements: Elements
    run_wires: dict[str, Wire]
    circuit_wires: dict[str, Wire]
    demand: Demand
    feedings: tuple[Feeding, ...]
    states: tuple[State, ...]

    def wire_by_id(self) -> dict[int, Wire]:
        """Return the wires of the fed circuits by the identity of the circuit: one that is the same object lies as it did."""
        circuits = (circuit for feeding in self.feedings for circuit in feeding.circuits)
        return {id(circuit): self.circuit_wires[circuit.number] for circuit in circuits}
