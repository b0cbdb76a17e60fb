"""Findings about places: panel positions, zones with a load limit, zones where nothing is mounted."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import pairwise
from typing import TypeVar

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.weights import zone_load_kg
from builds.engineering.assessing.words import count_of, length, listing, mass, of_circuit, of_load, of_node, of_run
from builds.engineering.catalogue import found
from builds.engineering.design import Circuit, PowerNode, Run
from builds.engineering.findings import Change, Finding, Number, ProposedFix

__all__ = ["place_findings"]

Part = TypeVar("Part")


def place_findings(index: IndexedDesign) -> Iterator[Finding]:
    """Yield the findings about positions and zones."""
    for node in index.design.nodes:
        if node.panel is not None:
            yield from _positions(index, node)
    yield from _zone_limits(index)
    if index.design.platform.routes:
        yield from _routes(index)
    if index.no_mount:
        yield from _no_mount(index)


def _routes(index: IndexedDesign) -> Iterator[Finding]:
    """Wires that are less than half as long as the ways between their zones; a way nobody measured counts nothing."""
    way_m = {frozenset((route.from_zone, route.to_zone)): route.length_m for route in index.design.platform.routes}
    for circuit in index.design.circuits:
        if circuit.length_m < (route_m := _route_m(way_m, circuit.zones)) / 2:
            yield _short(index, f"circuit:{circuit.number}", of_circuit(circuit), circuit, route_m)
    for run in index.design.runs:
        if run.resistance_mohm is None and run.length_m < (route_m := _route_m(way_m, run.zones)) / 2:
            yield _short(index, f"run:{run.key}", of_run(run), run, route_m)


def _route_m(way_m: Mapping[frozenset[str], float], zones: tuple[str, ...]) -> float:
    return sum([way_m.get(frozenset(pair), 0.0) for pair in pairwise(zones)]) if len(zones) > 1 else 0.0


def _short(index: IndexedDesign, subject: str, where: str, wire: Circuit | Run, route_m: float) -> Finding:
    conventions = index.design.conventions
    return found(
        "length-below-route", subject,
        numbers=(Number(name="length", value=wire.length_m, unit="m"), Number(name="route", value=route_m, unit="m")),
        where=where, length=length(wire.length_m, conventions), route=length(route_m, conventions),
        zones=listing(tuple(index.zone_name(zone) for zone in wire.zones)),
    )  # fmt: skip


def _positions(index: IndexedDesign, panel: PowerNode) -> Iterator[Finding]:
    assert panel.panel is not None
    circuits = index.circuits_of.get(panel.key, ())
    taken: dict[int, list[Circuit]] = {}
    for circuit in circuits:
        taken.setdefault(circuit.position, []).append(circuit)
    free = [position for position in range(1, panel.panel.positions + 1) if position not in taken]
    for position, sharing in sorted(taken.items()):
        if position > panel.panel.positions:
            yield from (_beyond(circuit, panel, free) for circuit in sharing)
        elif len(sharing) > 1:
            yield _doubled(sharing, panel, free)
    limit = index.numbers["spare-positions"]
    if len(free) < limit:
        yield found(
            "spare-positions-few", f"node:{panel.key}",
            numbers=(Number(name="spare", value=len(free), unit="positions"), Number(name="limit", value=limit, unit="positions")),
            node=panel.key, spare=count_of(len(free), "position", "positions"), limit=f"{limit:g}",
        )  # fmt: skip


def _beyond(circuit: Circuit, panel: PowerNode, free: list[int]) -> Finding:
    assert panel.panel is not None
    return found(
        "position-beyond-panel", f"circuit:{circuit.number}",
        numbers=(Number(name="position", value=circuit.position, unit=""), Number(name="positions", value=panel.panel.positions, unit="")),
        fix=_move(circuit, free),
        where=of_circuit(circuit), position=str(circuit.position), panel=panel.key, positions=str(panel.panel.positions),
    )  # fmt: skip


def _doubled(sharing: list[Circuit], panel: PowerNode, free: list[int]) -> Finding:
    """Said once, of the last circuit in the schedule: the one that came to a position already taken."""
    return found(
        "position-doubled", f"circuit:{sharing[-1].number}",
        numbers=(Number(name="position", value=sharing[-1].position, unit=""),),
        fix=_move(sharing[-1], free) if len(sharing) == 2 else None,
        circuits=listing(tuple(circuit.number for circuit in sharing)), position=str(sharing[-1].position), panel=panel.key,
    )  # fmt: skip


def _move(circuit: Circuit, free: list[int]) -> ProposedFix | None:
    if not free:
        return None
    change = Change(subject=f"circuit:{circuit.number}", field="position", value=free[0])
    return ProposedFix(label=f"Move to position {free[0]}", changes=(change,))


def _zone_limits(index: IndexedDesign) -> Iterator[Finding]:
    design = index.design
    for zone in design.platform.zones:
        if zone.max_load_kg is None:
            continue
        mass_kg = zone_load_kg(index, zone.key)
        if mass_kg > zone.max_load_kg:
            yield found(
                "zone-over-limit", f"zone:{zone.key}",
                numbers=(Number(name="added", value=mass_kg, unit="kg"), Number(name="limit", value=zone.max_load_kg, unit="kg")),
                zone=zone.name, mass=mass(mass_kg, design.conventions), limit=mass(zone.max_load_kg, design.conventions),
            )  # fmt: skip


def _no_mount(index: IndexedDesign) -> Iterator[Finding]:
    design = index.design
    for line in _inside(index, (line for line in design.parts if not line.removed), lambda line: (line.zone,)):
        yield _placed(
            index, "part", line.key, (line.zone,), f"Part {line.key} ({line.description or line.part_number})"
        )
    for load in _inside(index, design.loads, lambda load: (load.zone,)):
        yield _placed(index, "load", load.key, (load.zone,), of_load(load))
    for node in _inside(index, design.nodes, lambda node: (node.zone,)):
        yield _placed(index, "node", node.key, (node.zone,), of_node(node))
    for circuit in _inside(index, design.circuits, lambda circuit: circuit.zones):
        yield _placed(index, "circuit", circuit.number, circuit.zones, of_circuit(circuit))
    for run in _inside(index, design.runs, lambda run: run.zones):
        yield _placed(index, "run", run.key, run.zones, of_run(run))


def _inside(index: IndexedDesign, parts: Iterable[Part], zones_of: Callable[[Part], tuple[str, ...]]) -> Iterator[Part]:
    """Parts that touch a zone where nothing is mounted."""
    forbidden = index.no_mount.keys()
    return (part for part in parts if not forbidden.isdisjoint(zones_of(part)))


def _placed(index: IndexedDesign, family: str, key: str, zones: tuple[str, ...], name: str) -> Finding:
    """One finding a part, of the first such zone, however many it touches."""
    place = next(index.no_mount[zone] for zone in zones if zone in index.no_mount)
    return found(
        f"{'wire' if family in ('circuit', 'run') else family}-in-no-mount-zone", f"{family}:{key}",
        source=place.guide, part=name, zone=index.zone_name(place.zone), reason=place.name, guide=place.guide,
    )  # fmt: skip
