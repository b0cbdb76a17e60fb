"""
The vehicle maker's own wires to the access points that a design names without drawing them.

It is enough to name an access point: what the platform has on file of it (source, fuse, wire or resistance) stands in for
the drawing. Where nothing is known of the way, its resistance is assumed from memory, so that no voltage is too good.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import replace

from builds.engineering.design import AccessPoint, Design, PowerNode, Run
from builds.engineering.electrical.battery import source_default
from builds.engineering.run_steps import run_steps
from builds.engineering.vocabulary import NodeKind, Polarity, RunSide

__all__ = ["assumed_mohm", "is_assumed", "makers_wires", "side_of", "source_of", "with_makers_wires"]

_LEAST_RATING_A = 1.0  # of a point without a fuse or an allowance worth the name


def with_makers_wires(design: Design) -> Design:
    """Return a design with the maker's wires to its access points drawn, behind all others; itself where none is missing."""
    wires = makers_wires(design)
    return replace(design, runs=(*design.runs, *wires)) if wires else design


def makers_wires(design: Design) -> tuple[Run, ...]:
    """Return a run for each access point that no run drawn leads to; its key is the access point's own with an ending."""
    named = [node for node in design.nodes if node.kind is NodeKind.ACCESS_POINT]
    return tuple(_wires(design, named)) if named else ()


def side_of(point: AccessPoint) -> RunSide:
    """Return the side of the power tree on which an access point stands."""
    return RunSide.RETURN if point.polarity is Polarity.NEGATIVE else RunSide.SUPPLY


def source_of(design: Design, point: AccessPoint) -> PowerNode | None:
    """Return the node that the maker feeds an access point from: the one it names, else the first battery."""
    nodes = [node for node in design.nodes if node.key == point.source and node.access_point != point.key]
    batteries = [node for node in design.nodes if node.kind is NodeKind.BATTERY and node.battery is not None]
    return next(iter((*nodes, *batteries)), None)


def is_assumed(point: AccessPoint) -> bool:
    """Tell whether nothing is on file of the maker's way to a point."""
    return point.resistance_mohm is None and not (point.gauge and point.length_m is not None)


def assumed_mohm(point: AccessPoint) -> float:
    """Return the resistance assumed of the maker's way: it loses a set voltage at the fuse's rating, else at the allowance [mΩ]."""
    rating_a = max(point.device_rating_a or point.allowance_a, _LEAST_RATING_A)
    return round(1000 * source_default("access_point_lost_v") / rating_a, 4)


def _wires(design: Design, named: list[PowerNode]) -> Iterator[Run]:
    points = {point.key: point for point in design.platform.access_points}
    taken = {run.key for run in design.runs}
    reached = {side: _reached(design, side) for side in RunSide}
    for node in named:
        point = points.get(node.access_point)
        source = source_of(design, point) if point is not None else None
        if point is None or source is None or node.key in reached[side_of(point)]:
            continue
        if side_of(point) is RunSide.SUPPLY or _takes_back(design, node.key):
            yield _wire(node, point, source, _free_key(node.key, taken))


def _takes_back(design: Design, key: str) -> bool:
    """Whether anything drawn comes home to a node."""
    ends = (key in (run.from_node, run.to_node) for run in design.runs if run.side is RunSide.RETURN)
    return any(circuit.return_node == key for circuit in design.circuits) or any(ends)


def _wire(node: PowerNode, point: AccessPoint, source: PowerNode, key: str) -> Run:
    known = bool(point.gauge) and point.length_m is not None
    mohm = point.resistance_mohm
    if mohm is None and not known:
        mohm = assumed_mohm(point)
    fused = side_of(point) is RunSide.SUPPLY and point.device_rating_a is not None
    return Run(
        key=key,
        from_node=source.key,
        to_node=node.key,
        side=side_of(point),
        gauge=point.gauge,
        length_m=point.length_m or 0.0,
        device_family=point.device_family if fused else "",
        device_rating_a=point.device_rating_a if fused else None,
        resistance_mohm=mohm,
        makers_own=True,
    )


def _free_key(node: str, taken: set[str]) -> str:
    """A key that no run has, of no more characters than a key may have."""
    key = f"{node}-maker"[-40:].lstrip(" ._/+-")
    while key in taken:
        key = f"{key}+"[-40:].lstrip(" ._/+-")
    taken.add(key)
    return key


def _reached(design: Design, side: RunSide) -> set[str]:
    """What the runs of a side, as drawn, join to a battery."""
    steps = run_steps(design, side)
    met = {node.key for node in design.nodes if node.kind is NodeKind.BATTERY}
    waiting = deque(met)
    while waiting:
        for there in steps.get(waiting.popleft(), ()):
            if there not in met:
                met.add(there)
                waiting.append(there)
    return met
