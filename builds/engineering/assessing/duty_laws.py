"""
What a design's loads take at the posts of its batteries, as a function of the voltage there.

The wiring between is solved for each set of loads that comes up, at one voltage near those that occur. How much of it is lost
on the way is then taken to stay the same part: over the few tenths of a volt in which a battery lives, that is exact to a
few thousandths of the current.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from builds.engineering.assessing.demand import Asked, summed
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.solving import Floats, Losses, losses_of, solve_columns
from builds.engineering.assessing.source_volts import lost_in_diodes_v
from builds.engineering.assessing.states import COOL_CONDUCTOR_C, Network, State
from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.stages import CutOut, Post

__all__ = ["DutyLaws", "Taking", "loads_off"]

_HALF_CHARGED = (
    12.3 / 12.8
)  # rest voltage at half, of that when full: where the wiring of what nothing charges is solved


@dataclass(frozen=True, slots=True)
class Taking:
    """
    What loads ask for in a stretch of time: how much of each load's lit current counts, and what sleeping ones take.

    ``state`` is the setting of switches and sources, ``posts`` how batteries stand in it, ``held_v`` what charges each of
    them (0 where nothing does).
    """

    state: State
    posts: tuple[Post, ...]
    held_v: tuple[float, ...]
    factor: Floats
    asleep_a: Floats

    def without(self, loads: Floats) -> "Taking":
        """Return what is asked for with some loads (1 in the array) off."""
        return Taking(self.state, self.posts, self.held_v, self.factor * (1.0 - loads), self.asleep_a * (1.0 - loads))


@dataclass(frozen=True, slots=True)
class _Wired:
    """
    A taking with its wiring solved, circuits (rows) × one column each.

    ``source_v`` is that of the source behind each circuit, ``part`` what of it is left at its loads.
    """

    taking: Taking
    asked: Asked
    source_v: Floats
    part: Floats
    current_a: Floats


@dataclass(slots=True)
class DutyLaws:
    """The laws of a solved design; its batteries stand in the design's order."""

    index: IndexedDesign
    network: Network
    losses: dict[int, Losses] = field(default_factory=dict)
    wired: dict[int, "_Wired"] = field(default_factory=dict)

    def laws(self, taking: Taking) -> tuple[LoadLaw, ...]:
        """Return a law for each post."""
        feeding, wired = taking.state.feeding, self._of(taking)
        asked, part = wired.asked, wired.part
        figures = np.concatenate((asked.constant_a, asked.conductance_s * part, asked.power_w / part), axis=1)
        for conversion in feeding.conversions:  # a converter that charges is the simulation's own
            taken_a = 0.0 if conversion.charges else float(wired.current_a[conversion.row, 0])
            figures[conversion.row] = (0.0, 0.0, taken_a * float(wired.source_v[conversion.row, 0]))
        of_battery = feeding.battery @ figures
        return tuple(_law(of_battery[list(post.banks)].sum(axis=0)) for post in taking.posts)

    def cut_outs(self, taking: Taking) -> tuple[CutOut, ...]:
        """Return the voltages at the post below which loads are off: by their own least voltage, or their battery's cut-off."""
        loads = self.network.demand.loads
        cut_off_v = [node.battery.cut_off_v or 0.0 if node.battery else 0.0 for node in self.index.batteries()]
        on = ((taking.factor > 0) | (taking.asleep_a > 0 if any(cut_off_v) else False)).tolist()
        rows = [row for row in (range(len(loads)) if any(cut_off_v) else self._least_rows()) if on[row]]
        if not rows:
            return ()
        state = taking.state
        at_load = state.feeds.at_loads(self._of(taking).part)[:, 0]
        share = state.feeds.at_loads(state.feeding.battery.T)
        bank, fed = share.argmax(axis=1).tolist(), (share.any(axis=1) & (at_load > 0)).tolist()
        below_v = {row: max(loads[row].min_v / float(at_load[row]), cut_off_v[bank[row]]) for row in rows if fed[row]}
        return tuple(
            CutOut(key=f"load:{loads[row].key}", bank=bank[row], below_v=volts)
            for row, volts in below_v.items()
            if volts > 0
        )

    def _least_rows(self) -> list[int]:
        return [row for row, load in enumerate(self.network.demand.loads) if load.min_v > 0]

    def bank_of_loads(self, keys: Sequence[str]) -> int:
        """Return the battery that feeds most of these loads with the engine off; the first where none does."""
        state = self.network.states[1]
        share = state.feeds.at_loads(state.feeding.battery.T)[[self.index.load_row[key] for key in keys]].sum(axis=0)
        return int(share.argmax()) if share.any() else 0

    def _asked(self, takings: Sequence[Taking]) -> Asked:
        factor = np.stack([taking.factor for taking in takings], axis=1)
        asleep_a = np.stack([taking.asleep_a for taking in takings], axis=1)
        return summed(self.network.demand, takings[0].state.feeds, {"mean": factor}, asleep_a)["mean"]

    def _of(self, taking: Taking) -> "_Wired":
        """What is asked for and what is left of it; looked up where it was solved with others."""
        if id(taking) not in self.wired:
            self.solve_together([taking])
        return self.wired[id(taking)]

    def solve_together(self, takings: Sequence[Taking]) -> None:
        """Solve the wiring for several at once, those of one setting of switches and sources in one go."""
        for state in {id(taking.state): taking.state for taking in takings}.values():
            own = [taking for taking in takings if taking.state is state]
            asked = self._asked(own)
            source_v = np.concatenate([self._source_v(taking) for taking in own], axis=1)
            lost_v = lost_in_diodes_v(self.index, state.feeding)
            left_v = source_v if lost_v is None else source_v - lost_v
            solved = solve_columns(self._losses(state), left_v, asked, full=False)
            part = np.where(solved.settled & (solved.voltage_v > 0), solved.voltage_v, left_v) / source_v
            for column, taking in enumerate(own):
                at = [column]
                one = Asked(asked.constant_a[:, at], asked.conductance_s[:, at], asked.power_w[:, at])
                self.wired[id(taking)] = _Wired(taking, one, source_v[:, at], part[:, at], solved.current_a[:, at])

    def _source_v(self, taking: Taking) -> Floats:
        """Voltage of the source behind every circuit; one column."""
        volts = {conversion.key: conversion.spec.output_v for conversion in taking.state.feeding.conversions}
        for node, held_v in zip(self.index.batteries(), taking.held_v, strict=True):
            volts[node.key] = held_v or (node.battery.open_circuit_v * _HALF_CHARGED if node.battery else 12.0)
        return np.array([volts[root] for root in taking.state.feeding.root]).reshape(-1, 1)

    def _losses(self, state: State) -> Losses:
        if id(state) not in self.losses:
            element_ohm, own_ohm = state.resistances.at(COOL_CONDUCTOR_C)
            nothing = np.zeros(len(self.network.elements.batteries))
            self.losses[id(state)] = losses_of(state.feeding, element_ohm, own_ohm, nothing)
        return self.losses[id(state)]


def _law(figures: Floats) -> LoadLaw:
    constant_a, conductance_s, power_w = (float(figure) for figure in figures)
    return LoadLaw(constant_a, conductance_s, power_w)


def loads_off(index: IndexedDesign, keys: frozenset[str], loads_of_step: Mapping[str, Sequence[str]]) -> Floats:
    """Return 1 for each load that shedding steps or cut-outs have switched off."""
    off = np.zeros(len(index.design.loads))
    for key in keys:
        for load in (key.removeprefix("load:"),) if key.startswith("load:") else loads_of_step[key]:
            off[index.load_row[load]] = 1.0
    return off
