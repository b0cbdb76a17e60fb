"""
What bounds the current in a run that has no device of its own: what it is held against.

On the way out these are the devices that stand before it, all of them together where it is fed by more than one way, and
behind a converter that converter's limit. On the way back it is the largest device that can drive a short through it: the
device of each circuit that returns over it, and, from a metal body on, the nearest device before those circuits' panels,
whose cable may chafe on that body.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.conversion import LEAST_LIMIT_A, input_node
from builds.engineering.assessing.devices import Device, device_at
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessing.supply_graph import SupplyGraph
from builds.engineering.assessing.words import listing
from builds.engineering.design import Circuit, Run
from builds.engineering.vocabulary import NodeKind

__all__ = ["Held", "body_of", "held_by_converter", "held_by_runs", "return_holders", "ring_guards"]

_NO_PART = 1e-9  # what carries less of a current than this is on no way back


@dataclass(frozen=True, slots=True)
class Held:
    """What a conductor is held against: a device, or as one what several let through, and a sentence's name for it."""

    device: Device
    name: str


def held_by_runs(index: IndexedDesign, guards: tuple[Run, ...]) -> Held | None:
    """Return what the devices of some runs let through together; None without any."""
    if not guards:
        return None
    if len(guards) > 1:
        together_a = sum(guard.device_rating_a or 0.0 for guard in guards)
        return Held(_limit(together_a), f"runs {listing(tuple(guard.key for guard in guards))} together")
    guard = guards[0]
    end = battery_end(index, guard)
    ambient_c = index.ambient_c((index.nodes[end].zone,) if end in index.nodes else ())
    return Held(device_at(guard.device_family, guard.device_rating_a or 0.0, ambient_c), f"run {guard.key}")


def held_by_converter(index: IndexedDesign, key: str) -> Held | None:
    """Return the most that a converter gives; None for another source."""
    spec = index.nodes[key].converter if key in index.nodes else None
    return Held(_limit(max(spec.limit_a, LEAST_LIMIT_A)), f"limit of converter {key}") if spec is not None else None


def _limit(most_a: float) -> Device:
    return device_at("", most_a, 30.0)


def ring_guards(graph: SupplyGraph, run: Run) -> tuple[Run, ...]:
    """
    Return the runs whose devices bound what can flow in a run that lies in a ring or behind one.

    A short in it is fed from each end that stays alive without it, and each part of it carries what comes by its own end.
    """
    alive = graph.alive(without=run)
    found = [graph.guards_of(end, without=run) or () for end in (run.from_node, run.to_node) if end in alive]
    return max(found, key=lambda guards: sum(guard.device_rating_a or 0.0 for guard in guards), default=())


def return_holders(index: IndexedDesign, network: Network, guard_of: Mapping[str, Run]) -> Mapping[str, Held]:
    """Return, by key, what each return run is held against; one over which no short can flow is not in it."""
    names, count = network.elements.names, len(network.elements.run_row)
    most: dict[str, Held] = {}
    for state in network.states:
        for held, rows in (*_of_circuits(index, state), *_of_feeds(index, guard_of, state)):
            for row in rows:
                if row < count and (names[row] not in most or held.device.rating_a > most[names[row]].device.rating_a):
                    most[names[row]] = held
    return most


def _of_circuits(index: IndexedDesign, state: State) -> Iterator[tuple[Held, list[int]]]:
    """The largest device of the circuits of each ground, with the elements of its way back."""
    feeding = state.feeding
    largest: dict[int, Circuit] = {}
    for circuit, column in zip(
        feeding.circuits, feeding.returns.column.tolist(), strict=False
    ):  # converters behind them
        if column not in largest or circuit.device_rating_a > largest[column].device_rating_a:
            largest[column] = circuit
    for column, circuit in largest.items():
        device = device_at(circuit.device_family, circuit.device_rating_a, 30.0)
        rows = np.flatnonzero(feeding.return_ways[:, column]).tolist()
        limit = held_by_converter(index, feeding.returns.names[column][1])
        held = Held(device, f"circuit {circuit.number}")
        yield (limit if limit is not None and limit.device.rating_a < device.rating_a else held, rows)


def _of_feeds(index: IndexedDesign, guard_of: Mapping[str, Run], state: State) -> Iterator[tuple[Held, list[int]]]:
    """The largest device before panels, or converters, that something returns from over a body, with each way back from there."""
    feeding = state.feeding
    columns = {name: at for at, name in enumerate(feeding.returns.names)}
    batteries = {node.key for node in index.batteries()}
    ends = [(circuit.panel, circuit.return_node) for circuit in feeding.circuits]
    ends += [(input_node(part.key), part.spec.return_node) for part in feeding.conversions]
    largest: dict[tuple[str, str], Run] = {}  # of each way back
    for (panel, node), root in zip(ends, feeding.root, strict=True):
        guard, was = guard_of.get(panel), largest.get((node, root))
        if guard is not None and (was is None or (guard.device_rating_a or 0.0) > (was.device_rating_a or 0.0)):
            largest[node, root] = guard
    for (node, root), guard in largest.items():
        if root not in batteries or body_of(index, node) is None:
            continue
        held = held_by_runs(index, (guard,))
        if held is not None:
            part = np.abs(feeding.return_ways[:, columns[node, root]])
            yield held, np.flatnonzero(part > _NO_PART).tolist()


def body_of(index: IndexedDesign, node: str) -> str | None:
    """The metal body that a circuit returns over, directly or by a stud."""
    found = index.nodes.get(node)
    if found is not None and found.kind is NodeKind.GROUND and found.chassis:
        found = index.nodes.get(found.chassis)
    return found.key if found is not None and found.kind is NodeKind.CHASSIS and found.metal else None
