"""
What flows into a battery that hangs on another one while that is charged: it counts on the cables between beside the loads.

For hours it takes what it accepts, as long as the sources give that much beside the loads; in the first moment, empty, what
:mod:`equalising` says. Over the piece of the way that its source shares with it, the source's own most counts already.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.duty_posts import link_rows
from builds.engineering.assessing.equalising import Equalising
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.states import Network, State
from builds.engineering.design import BatterySpec, PowerNode
from builds.engineering.electrical.battery import source_default

__all__ = ["LinkCharge", "accepted_a", "closing_a", "link_charges", "with_charges"]


@dataclass(frozen=True, slots=True)
class LinkCharge:
    """A battery, the elements (rows) on its way from the one it hangs on, and what it is charged with in each condition of a state [A]."""

    battery: PowerNode
    rows: tuple[int, ...]
    current_a: Floats


def accepted_a(spec: BatterySpec) -> float:
    """Return the most that a battery takes for long, by its own figure or the tables' [A]."""
    per_h = source_default("acceptance_per_h") if spec.acceptance_per_h is None else spec.acceptance_per_h
    return per_h * spec.capacity_ah


def link_charges(index: IndexedDesign, network: Network, state: State) -> tuple[LinkCharge, ...]:
    """
    Return what is charged over links in each condition of a state; nothing where each battery is alone.

    Several share what the sources leave in proportion to what they accept.
    """
    batteries = index.batteries()
    if len(batteries) < 2 or not state.chosen:
        return ()
    feeding, root_of = state.feeding, state.feeding.supply_tree.root_of
    linked = [
        (bank, battery)
        for bank, battery in enumerate(batteries)
        if root_of.get(battery.key, battery.key) != battery.key and root_of[battery.key] in feeding.chargers
    ]
    if not linked:
        return ()
    wanted_a = [accepted_a(battery.battery) for _, battery in linked if battery.battery is not None]
    rows, available_a = state.given
    loads_a = (rows * (feeding.battery @ state.worst.mean_a)).sum(axis=0)
    part = np.clip((available_a - loads_a) / max(sum(wanted_a), 1e-9), 0.0, 1.0)
    return tuple(
        LinkCharge(battery, tuple(sorted(_beside_source(network, state, bank, index))), part * most_a)
        for (bank, battery), most_a in zip(linked, wanted_a, strict=True)
    )


def _beside_source(network: Network, state: State, bank: int, index: IndexedDesign) -> set[int]:
    """The way between two batteries without the piece on which their source's own current runs."""
    rows, ways = link_rows(index, network, state, bank), state.feeding.from_sources
    return rows if ways is None else rows - set(np.flatnonzero(ways.charging.any(axis=1)).tolist())


def with_charges(through_a: Floats, charges: Sequence[LinkCharge]) -> Floats:
    """Return currents of elements (rows) in the conditions of a state with what is charged over links added [A]."""
    if not charges:
        return through_a
    total = through_a.copy()
    for charge in charges:
        total[list(charge.rows)] += charge.current_a
    return total


def closing_a(network: Network, closings: Sequence[Equalising]) -> Floats:
    """Return the most that flows through each element as a switch joins an empty battery to a full one [A]."""
    most_a = np.zeros(network.elements.count)
    for one in closings:
        most_a[list(one.rows)] = np.maximum(most_a[list(one.rows)], one.current_a)
    return most_a
