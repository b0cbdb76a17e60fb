"""
What the loads ask for, as arrays over loads and operating conditions.

A load follows its voltage in one of three ways, so its current is ``constant + conductance × V + power / V`` with two of
the three 0. What is summed over a circuit keeps that form, which is what the solved distribution works on.

Four factors turn a lit load into the current somebody needs: 1 while it is lit (peak), its duty (mean), the root of its
duty (RMS), and for sizing 1 where a mode, a stuck rule or a lamp test can hold it on, else the root of its duty. Lamps that
keep step are lit at different moments of a condition: what is lit together at most is told by those moments.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.moments import Moments, all_moments
from builds.engineering.design import Load
from builds.engineering.functions.flash_sums import heat_ratios
from builds.engineering.vocabulary import DropCurrent, LoadModel, SourceState

__all__ = ["Asked", "Demand", "Feeds", "demand_of", "each_lit_a", "most_in_step", "summed"]

Floats = NDArray[np.float64]

_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Asked:
    """Current as a function of voltage, for rows of loads or circuits and columns of conditions."""

    constant_a: Floats
    conductance_s: Floats
    power_w: Floats

    def at(self, voltage_v: Floats) -> Floats:
        """Current at these voltages, all above 0 [A]."""
        return self.constant_a + self.conductance_s * voltage_v + self.power_w / voltage_v


@dataclass(frozen=True, slots=True)
class Demand:
    """
    All loads of a design (rows, design order) in all its conditions (columns, design order).

    ``heat`` is the RMS of the worst two seconds of what the rules light, 0 for the rest. ``lit`` is what each takes while on, whether or not it is on; the factors are 0 where it is off. ``asleep_a`` is what
    sleeping loads take in key-off conditions. ``moments`` are those at which most is lit; a load that can be held on, or that
    some condition lights all the time, is lit at all of them.
    """

    loads: tuple[Load, ...]
    lit: Asked
    on: Floats
    duty: Floats
    steady: NDArray[np.bool_]
    continuous: NDArray[np.bool_]
    inrush_ratio: Floats
    asleep_a: Floats
    heat: Floats
    moments: Moments

    @property
    def root_duty(self) -> Floats:
        """Factor of the RMS: the root of the duty, or more where a pattern's worst two seconds are more."""
        return np.maximum(np.sqrt(self.duty), self.heat)

    @property
    def sizing(self) -> Floats:
        """Factor of what device and conductor are sized on."""
        return np.where(self.steady[:, None], self.on, self.root_duty)

    def drop_factor(self, current: DropCurrent) -> Floats:
        """Factor of the current a drop rule is judged at; steady counts a flash by its mean."""
        if current is DropCurrent.STEADY:
            return np.where(self.steady[:, None], self.on, self.duty)
        if current is DropCurrent.INRUSH:
            return self.on * self.inrush_ratio[:, None]
        return self.on


def demand_of(index: IndexedDesign) -> Demand:
    """Return what the loads of a design ask for."""
    loads, conditions = index.design.loads, index.design.conditions
    heat = np.zeros((len(loads), len(conditions)))
    row_of = {load.key: row for row, load in enumerate(loads)}
    on, duty = np.zeros((len(loads), len(conditions))), np.zeros((len(loads), len(conditions)))
    for column, condition in enumerate(conditions):
        for use in condition.uses:
            row = row_of.get(use.load)
            if row is not None:
                on[row, column] = 1.0
                duty[row, column] = loads[row].duty_ratio if use.duty_ratio is None else use.duty_ratio
        for key, ratio in heat_ratios(index.design.function_schedule, condition).items():
            if key in row_of:
                heat[row_of[key], column] = ratio * on[row_of[key], column]
    steady = np.array([load.can_be_steady for load in loads], dtype=bool)
    key_off = np.array([condition.source_state is SourceState.KEY_OFF for condition in conditions], dtype=bool)
    asleep_a = np.array([load.key_off_a * load.quantity for load in loads])
    return Demand(
        loads=loads,
        lit=_lit(loads),
        on=on,
        duty=duty,
        steady=steady,
        continuous=np.array([load.continuous for load in loads], dtype=bool),
        inrush_ratio=np.array([max(1.0, load.inrush_a / load.current_a) if load.current_a else 1.0 for load in loads]),
        asleep_a=asleep_a[:, None] * (1.0 - on) * key_off[None, :],
        heat=heat,
        moments=all_moments(index, on, steady | (duty >= 1.0 - _SAME).any(axis=1)),
    )


def _lit(loads: tuple[Load, ...]) -> Asked:
    """What each load takes while lit; one column."""
    model = np.array([load.model for load in loads], dtype=object)[:, None]
    current_a = np.array([load.current_a * load.quantity for load in loads])[:, None]
    at_v = np.array([load.at_v for load in loads])[:, None]
    return Asked(
        constant_a=np.where(model == LoadModel.CONSTANT_CURRENT, current_a, 0.0),
        conductance_s=np.where(model == LoadModel.RESISTIVE, current_a / at_v, 0.0),
        power_w=np.where(model == LoadModel.CONSTANT_POWER, current_a * at_v, 0.0),
    )


@dataclass(frozen=True, slots=True)
class Feeds:
    """
    Which fed circuit (row) each load hangs on.

    ``row`` is that circuit, any circuit where ``fed`` is 0. ``order`` lists the fed loads circuit by circuit, ``starts``
    says where each of ``circuits`` begins in it: sums then cost an addition a load instead of a product of matrices.
    """

    count: int
    row: NDArray[np.int64]
    fed: Floats
    order: NDArray[np.int64]
    starts: NDArray[np.int64]
    circuits: NDArray[np.int64]

    @classmethod
    def of(cls, loads: tuple[Load, ...], row_of: Mapping[str, int], rows: int) -> "Feeds":
        """Read the loads' circuits; ``row_of`` has the fed ones, and ``rows`` counts what stands behind them too."""
        row = np.array([row_of.get(load.circuit, -1) for load in loads], dtype=np.int64)
        order = np.argsort(row, kind="stable")[np.count_nonzero(row < 0) :]
        circuits, starts = np.unique(row[order], return_index=True)
        return cls(rows, np.maximum(row, 0), (row >= 0).astype(np.float64), order, starts, circuits)

    def summed(self, of_loads: Floats) -> Floats:
        """Sum a figure of the loads over each circuit, circuits × columns."""
        total = np.zeros((self.count, of_loads.shape[1]))
        if len(self.order):
            total[self.circuits] = np.add.reduceat(of_loads[self.order], self.starts, axis=0)
        return total

    def at_loads(self, of_circuits: Floats) -> Floats:
        """Give each load its circuit's figure, 0 where it hangs on none, loads × columns."""
        if not self.count:
            return np.zeros((len(self.row), of_circuits.shape[1]))
        return np.asarray(of_circuits[self.row] * self.fed[:, None])


def summed(demand: Demand, feeds: Feeds, factors: Mapping[str, Floats], asleep_a: Floats) -> dict[str, Asked]:
    """
    Return the demand of circuits for several factors at once.

    Parameters
    ----------
    demand : Demand
        What the loads ask for.
    feeds : Feeds
        Which circuit feeds which load.
    factors : mapping of str to array, loads × conditions
        How much of each load's lit current counts.
    asleep_a : array, loads × conditions
        What sleeping loads take, whatever the factor [A].
    """
    lit, width = demand.lit, asleep_a.shape[1]
    if not width:
        nothing = np.zeros((feeds.count, 0))
        return {name: Asked(nothing, nothing, nothing) for name in factors}
    blocks = [block for factor in factors.values() for block in _blocks(lit, factor, asleep_a)]
    total = feeds.summed(np.concatenate(blocks, axis=1))  # one pass for all of them
    parts = [total[:, start : start + width] for start in range(0, len(blocks) * width, width)]
    return {name: Asked(*parts[3 * place : 3 * place + 3]) for place, name in enumerate(factors)}


def each_lit_a(demand: Demand, feeds: Feeds, voltage_v: Floats) -> Floats:
    """Return what every load takes, lit, at its circuit's voltage, loads × columns [A]."""
    at_load_v = feeds.at_loads(voltage_v)
    return demand.lit.at(np.where(at_load_v > 0, at_load_v, 1.0))


def most_in_step(feeds: Feeds, moments: Moments, lit_a: Floats, asked_a: Floats) -> Floats:
    """
    Return what loads ask of their circuits for heat, circuits × conditions: never above the most that is lit together.

    Parameters
    ----------
    feeds, moments : Feeds, Moments
        Which circuit feeds which load, and what is lit together when.
    lit_a, asked_a : array, loads × conditions
        What each load takes lit, and what of it counts for heat. [A]
    """
    asked_of_circuits_a = feeds.summed(asked_a)
    if not moments.apart:
        return asked_of_circuits_a
    return np.minimum(asked_of_circuits_a, moments.most(feeds.summed(moments.spread(lit_a) * moments.level)))


def _blocks(lit: Asked, factor: Floats, asleep_a: Floats) -> tuple[Floats, Floats, Floats]:
    return lit.constant_a * factor + asleep_a, lit.conductance_s * factor, lit.power_w * factor
