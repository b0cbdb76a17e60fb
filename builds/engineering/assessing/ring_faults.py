"""
Shorts at nodes that are fed by more ways than one: whether the devices that face them open, one after the other.

Supply and return are one network with every battery in it, conductors hot, batteries at their nominal volts. Of the devices
that face a short those open that see enough of its current; what then comes over the others is found anew. A device that
still carries some of it when no more of them open has missed it.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.conversion import limit_ohm, nominal_v
from builds.engineering.assessing.devices import device_at
from builds.engineering.assessing.fault_heat import elements_at_fault_ohm
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.links import links_of, node_of
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.states import Network, State

__all__ = ["Missed", "missed_in_rings"]

_LEAST_OHM = 1e-8
_CARRIES_A = 1.0  # a device that carries less of a short than this is not what feeds it


@dataclass(frozen=True, slots=True)
class Missed:
    """A short that a run's device does not open on: where, what of it flows there once others are open, what it needs."""

    run: str
    node: str
    current_a: float
    needed_a: float


@dataclass(frozen=True, slots=True)
class _Branch:
    """What joins two ends: a link with the run in it, by key, or a battery or converter with its volts."""

    ends: tuple[str, str]
    ohm: float
    run: str = ""
    emf_v: float = 0.0


def missed_in_rings(index: IndexedDesign, network: Network, nodes: Collection[str]) -> dict[str, Missed]:
    """Return, by run, the short at one of some nodes that its device is farthest from opening on."""
    needed_a = _needed_a(index)
    missed: dict[str, Missed] = {}
    for state in network.states:
        places = dict.fromkeys(_places(state, nodes))
        branches = _branches(index, network, state) if places else ()
        for node, ground in places:
            for run, current_a in _left(branches, node, ground, needed_a).items():
                was = missed.get(run)
                if was is None or current_a < was.current_a:
                    missed[run] = Missed(run, node, current_a, needed_a[run])
    return missed


def _needed_a(index: IndexedDesign) -> dict[str, float]:
    """What opens each run's device within seconds; one of no known family is taken to open on anything [A]."""
    needed_a: dict[str, float] = {}
    for run in index.design.runs:
        if run.device_rating_a:
            family = device_at(run.device_family, run.device_rating_a, 30.0).family
            needed_a[run.key] = 0.0 if family is None else family.far_end_multiple_ratio * run.device_rating_a
    return needed_a


def _places(state: State, nodes: Collection[str]) -> Iterator[tuple[str, str]]:
    """The nodes of a state, each with the grounds that circuits behind it return to."""
    feeding = state.feeding
    for panel_at, ground_at in zip(feeding.panels.column, feeding.returns.column, strict=True):
        ground = feeding.returns.names[ground_at][0]
        for node in feeding.supply_tree.nodes_to(feeding.panels.names[panel_at][0])[1:]:
            if node in nodes:
                yield node, ground


def _branches(index: IndexedDesign, network: Network, state: State) -> tuple[_Branch, ...]:
    elements, feeding = network.elements, state.feeding
    element_ohm = elements_at_fault_ohm(index, network, state)
    run_of = {elements.run_row[run.key]: run.key for run in index.design.runs}
    posts = frozenset(elements.batteries)
    found: list[_Branch] = []
    for mark, tree, home in (("+", feeding.supply_tree, False), ("-", feeding.return_tree, True)):
        for link in links_of(tree, elements, without_own=posts, home=home):
            ohm = max(float(sum(element_ohm[row] for row in link.rows)), _LEAST_OHM)
            run = next((run_of[row] for row in link.rows if row in run_of), "")
            found.append(_Branch((mark + link.one, mark + link.other), ohm, run if mark == "+" else ""))
    reached = {node_of(end[1:]) for branch in found for end in branch.ends if end[0] == "+"}
    for battery in index.batteries():
        assert battery.battery is not None  # the index lists no others
        if battery.key in reached:
            ohm = (battery.battery.internal_mohm + battery.resistance_mohm) / 1000
            found.append(_source(battery.key, battery.key, max(ohm, _LEAST_OHM), nominal_v(battery)))
    for root in dict.fromkeys(feeding.root):
        node = index.nodes[root]
        if node.converter is not None:
            found.append(_source(feeding.negative_of[root], root, limit_ohm(node), nominal_v(node)))
    return tuple(found)


def _source(negative: str, positive: str, ohm: float, emf_v: float) -> _Branch:
    return _Branch(("-" + negative, "+" + positive), ohm, emf_v=emf_v)


def _left(branches: tuple[_Branch, ...], node: str, ground: str, needed_a: Mapping[str, float]) -> dict[str, float]:
    """What the devices that face a short still carry of it when no more of them open, by run [A]; nothing where it is bare."""
    facing = _facing(branches, "+" + node, needed_a)
    live = list(branches)
    while facing:
        carried_a = _carried_a(live, ("+" + node, "-" + ground))
        opened = {run for run in facing if carried_a.get(run, 0.0) >= needed_a[run] * (1 - 1e-9)}
        if not opened:
            return {run: carried_a[run] for run in sorted(facing) if carried_a.get(run, 0.0) > _CARRIES_A}
        facing -= opened
        live = [branch for branch in live if branch.run not in opened]
    return {}


def _facing(branches: tuple[_Branch, ...], start: str, needed_a: Mapping[str, float]) -> set[str]:
    """The runs with the first device on each way from a node; none where a source is met before one."""
    steps: dict[str, list[tuple[_Branch, str]]] = {}
    for branch in branches:
        for here, there in (branch.ends, branch.ends[::-1]):
            steps.setdefault(here, []).append((branch, there))
    met, waiting, facing = {start}, [start], set[str]()
    while waiting:
        for branch, there in steps.get(waiting.pop(), ()):
            if branch.emf_v:
                return set()
            if branch.run in needed_a:
                facing.add(branch.run)
            elif there not in met:
                met.add(there)
                waiting.append(there)
    return facing


def _carried_a(branches: list[_Branch], short: tuple[str, str]) -> dict[str, float]:
    """What each run carries with a short between two ends, seen from its second end; of what that reaches alone [A]."""
    closed = (*branches, _Branch(short, _LEAST_OHM))
    row_of = {end: row for row, end in enumerate(_reached(closed, short[1]))}
    conductance: Floats = np.zeros((len(row_of), len(row_of)))
    injected: Floats = np.zeros(len(row_of))
    live = [branch for branch in closed if branch.ends[0] in row_of]
    for branch in live:
        here, there, siemens = row_of[branch.ends[0]], row_of[branch.ends[1]], 1 / branch.ohm
        conductance[here, here] += siemens
        conductance[there, there] += siemens
        conductance[here, there] -= siemens
        conductance[there, here] -= siemens
        injected[here] -= siemens * branch.emf_v
        injected[there] += siemens * branch.emf_v
    volts = np.append(0.0, np.linalg.solve(conductance[1:, 1:], injected[1:]))  # the first end is at 0 V
    carried_a: dict[str, float] = {}
    for branch in live:
        if branch.run:
            lost_v = abs(float(volts[row_of[branch.ends[0]]] - volts[row_of[branch.ends[1]]]))
            carried_a[branch.run] = max(carried_a.get(branch.run, 0.0), lost_v / branch.ohm)
    return carried_a


def _reached(branches: Iterable[_Branch], start: str) -> list[str]:
    """Every end that some branches join to one, that first."""
    steps: dict[str, list[str]] = {}
    for branch in branches:
        for here, there in (branch.ends, branch.ends[::-1]):
            steps.setdefault(here, []).append(there)
    met, waiting = {start: None}, [start]
    while waiting:
        for there in steps.get(waiting.pop(), ()):
            if there not in met:
                met[there] = None
                waiting.append(there)
    return list(met)
