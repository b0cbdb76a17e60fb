"""
Changes of the power tree as steps on its rows: feed from elsewhere, split a feed, add below, take out.

A run leads from the node that feeds to the node that is fed, on either side: ``from_node`` is the end nearer the battery.
Each function takes a design and returns the rows to add, change or take out, in an order in which nothing is ever named that
is not there; or it refuses in words. Nothing here judges the wiring: what is badly designed is a finding.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from builds.engineering.assessing.battery_ends import battery_ends
from builds.engineering.changes import FAMILIES
from builds.engineering.design import Circuit, Design, PowerNode, Run
from builds.engineering.document.assemble import part_of
from builds.engineering.document.canonical import part_values
from builds.engineering.errors import TreeRefused
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = [
    "TreeStep",
    "add_below",
    "design_with_steps",
    "fed_by",
    "feed_from",
    "feeds_of",
    "move_circuit",
    "split_run",
    "take_out_node",
    "take_out_run",
]

_BOXES = frozenset({NodeKind.PANEL, NodeKind.MODULE})
_RETURN_ONLY = frozenset({NodeKind.GROUND, NodeKind.CHASSIS})
_NEVER_A_RETURN = frozenset({*_BOXES, NodeKind.ALTERNATOR})
_DEVICE = frozenset({"device_family", "device_rating_a", "device_distance_m", "device_at_both_ends"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeStep:
    """
    One row to add (no ``key``), change, or take out (no ``values``).

    ``values`` are by the document's names; ``None`` takes a field away. ``part`` says whose fields they are in what was
    asked: "node" or "run".
    """

    family: str
    key: str = ""
    values: Mapping[str, Any] | None = None
    part: str = ""


def feeds_of(design: Design, node: str) -> tuple[Run, ...]:
    """Return the runs that lead to a node, in the design's order."""
    return tuple(run for run in design.runs if run.to_node == node)


def fed_by(design: Design, node: str) -> tuple[Run, ...]:
    """Return the runs that lead away from a node, in the design's order."""
    return tuple(run for run in design.runs if run.from_node == node)


def feed_from(design: Design, *, run: str, source: str) -> tuple[TreeStep, ...]:
    """
    Return the step that lets a run start at another node.

    Raises
    ------
    TreeRefused
        If the run starts there already, ends there, if ``source`` hangs below what the run feeds, or is of a kind that a run
        of this side cannot start at.
    """
    found, start = _run(design, run), _node(design, source, "source")
    if found.from_node == source:
        raise TreeRefused(f"Run {run} comes from {source} already.", "source")
    if found.to_node == source:
        raise TreeRefused(f"{source} cannot feed itself.", "source")
    _check_start(found.side, start)
    if source in _below(design, found.to_node, found.side):
        raise TreeRefused(
            f"{source} hangs below {found.to_node}: fed from there, both would hang on nothing. "
            f"Feed {source} from elsewhere first.",
            "source",
        )
    return (TreeStep(family="run", key=run, values={"from_node": source}, part="run"),)


def _check_start(side: RunSide, start: PowerNode) -> None:
    kind = start.kind.value.replace("_", " ")
    if side is RunSide.SUPPLY and start.kind in _RETURN_ONLY:
        raise TreeRefused(f"{start.key} is a {kind}: it takes current back and feeds nothing.", "source")
    if side is RunSide.RETURN and start.kind in _NEVER_A_RETURN:
        raise TreeRefused(f"{start.key} is a {kind}: a return cannot lead to it.", "source")


def _below(design: Design, node: str, side: RunSide) -> set[str]:
    """Return what hangs below a node over runs of one side, however far down."""
    onward: dict[str, list[str]] = {}
    for run in design.runs:
        if run.side is side:
            onward.setdefault(run.from_node, []).append(run.to_node)
    found: set[str] = set()
    waiting = [node]
    while waiting:
        for other in onward.get(waiting.pop(), ()):
            if other not in found:
                found.add(other)
                waiting.append(other)
    return found


def move_circuit(design: Design, *, number: str, panel: str, position: int | None = None) -> tuple[TreeStep, ...]:
    """
    Return the step that lets a circuit start at a position of another panel, its first free one unless one is asked.

    Raises
    ------
    TreeRefused
        If it is no panel or module, is full, has no such position, or another circuit sits there.
    """
    circuit, box = _circuit(design, number), _node(design, panel, "source")
    if box.panel is None:
        kind = box.kind.value.replace("_", " ")
        raise TreeRefused(f"Circuits start at positions of a panel or module; {panel} is a {kind}.", "source")
    if circuit.panel == panel and position in (None, circuit.position):
        raise TreeRefused(f"Circuit {number} starts at {panel} already.", "source")
    taken = {item.position: item.number for item in design.circuits if item.panel == panel and item.number != number}
    if position is None:
        free = [place for place in range(1, box.panel.positions + 1) if place not in taken]
        if not free:
            raise TreeRefused(f"{panel} has no free position: all {box.panel.positions} are taken.", "source")
        position = free[0]
    if position > box.panel.positions:
        raise TreeRefused(f"{panel} has {box.panel.positions} positions; there is no {position}.", "position")
    if position in taken:
        raise TreeRefused(f"Circuit {taken[position]} sits at {panel}-{position:02d} already.", "position")
    return (TreeStep(family="circuit", key=number, values={"panel": panel, "position": position}),)


def split_run(design: Design, *, run: str, at_m: float, node: Mapping[str, Any], new_run: str) -> tuple[TreeStep, ...]:
    """
    Return the steps that put a new node into a run.

    Parameters
    ----------
    design : Design
        The design before.
    run : str
        The run to split: it keeps its key and its device and ends at the new node.
    at_m : float
        How far along the run, from its battery end, above 0 and below its length. [m]
    node : mapping
        The new node's values.
    new_run : str
        Key of the run from the new node on: the same conductor, without a device but where there is one at both ends.

    Raises
    ------
    TreeRefused
        If the place lies outside the run or before its device, or if the run's own resistance is given.
    """
    found = _run(design, run)
    if found.resistance_mohm is not None:
        raise TreeRefused(f"Run {run} has a resistance of its own; say what each half has on the sheet instead.")
    if not 0 < at_m < found.length_m:
        raise TreeRefused(f"Run {run} is {found.length_m:g} m long; split it between its ends.", "at_m")
    if found.device_rating_a and at_m <= found.device_distance_m:
        raise TreeRefused(
            f"The device of run {run} sits {found.device_distance_m:g} m along it; split beyond it.", "at_m"
        )
    values = part_values(found)
    both_ends = found.device_at_both_ends
    if both_ends and found.device_rating_a and found.length_m - at_m <= found.device_distance_m:
        raise TreeRefused(
            f"The second device of run {run} sits {found.device_distance_m:g} m before its end; split before it.",
            "at_m",
        )
    left_out = {"device_at_both_ends"} if both_ends else _DEVICE
    onward = {name: value for name, value in values.items() if name not in left_out}
    end = "from_node" if battery_ends(design)[run] == found.from_node else "to_node"
    other = "to_node" if end == "from_node" else "from_node"
    onward |= {"key": new_run, end: node["key"], "length_m": round(found.length_m - at_m, 3)}
    kept: dict[str, Any] = {other: node["key"], "length_m": at_m}
    if both_ends:  # each half keeps the one at its own source
        kept["device_at_both_ends"] = False
    return (
        TreeStep(family="node", values=node, part="node"),
        TreeStep(family="run", key=run, values=kept, part="run"),
        TreeStep(family="run", values=onward, part="new_run"),
    )


def add_below(
    design: Design, *, source: str, node: Mapping[str, Any] | None, run: Mapping[str, Any]
) -> tuple[TreeStep, ...]:
    """
    Return the steps that add a node with the run that feeds it, or with ``node`` ``None`` a run alone.

    ``run`` holds the run's values without its start; it ends at the new node unless it says where. Raises TreeRefused where
    a run of its side cannot start at ``source``.
    """
    start = _node(design, source, "source")
    values = dict(run) | {"from_node": source}
    if node is not None:
        values["to_node"] = node["key"]
    _check_start(RunSide(values["side"]), start)
    if values.get("to_node") == source:
        raise TreeRefused(f"{source} cannot feed itself.", "to_node")
    added = TreeStep(family="run", values=values, part="run")
    return (added,) if node is None else (TreeStep(family="node", values=node, part="node"), added)


def take_out_run(design: Design, *, run: str) -> tuple[TreeStep, ...]:
    """Return the step that takes out a run. Raises TreeRefused where there is none."""
    return (TreeStep(family="run", key=_run(design, run).key),)


def take_out_node(design: Design, *, node: str, close_up: bool = False) -> tuple[TreeStep, ...]:
    """
    Return the steps that take out a node with the runs that feed it.

    What hangs on it is in the way; with ``close_up`` it is fed from where the node was fed from.

    Raises
    ------
    TreeRefused
        If circuits start or end at the node, studs are bolted to it, or it feeds runs that cannot be closed up.
    """
    _node(design, node, "node")
    _check_unused(design, node)
    feeds, fed = feeds_of(design, node), fed_by(design, node)
    if fed and not close_up:
        raise TreeRefused(f"{node} feeds {_listed(run.to_node for run in fed)}. Feed those from elsewhere first.")
    moved = []
    for run in fed:
        above = [item for item in feeds if item.side is run.side]
        if len(above) != 1:
            count = "nothing" if not above else f"{len(above)} runs"
            raise TreeRefused(f"{node} is fed by {count}, so {run.to_node} has no one place to be fed from instead.")
        moved.append(TreeStep(family="run", key=run.key, values={"from_node": above[0].from_node}))
    gone = [TreeStep(family="run", key=run.key) for run in feeds]
    return (*moved, *gone, TreeStep(family="node", key=node))


def _check_unused(design: Design, node: str) -> None:
    starts = [circuit.number for circuit in design.circuits if circuit.panel == node]
    if starts:
        raise TreeRefused(f"{node} holds circuit{_s(starts)} {_listed(starts)}. Move or take out those first.")
    ends = [circuit.number for circuit in design.circuits if circuit.return_node == node]
    if ends:
        raise TreeRefused(f"Circuit{_s(ends)} {_listed(ends)} return to {node}. Let those end elsewhere first.")
    bolted = [item.key for item in design.nodes if item.chassis == node]
    if bolted:
        raise TreeRefused(f"{_listed(bolted)} {'are' if len(bolted) > 1 else 'is'} bolted to {node}.")


def _s(items: list[str]) -> str:
    return "s" if len(items) > 1 else ""


def _listed(keys: Iterable[str]) -> str:
    found = list(keys)
    return ", ".join(found) if len(found) <= 5 else f"{', '.join(found[:4])} and {len(found) - 4} more"


def design_with_steps(design: Design, steps: Iterable[TreeStep]) -> Design:
    """
    Return the design after the steps, to look at before they are kept.

    Raises
    ------
    OutOfRange
        If a value lies outside the range of its field.
    TreeRefused
        If something is added under a key that is taken.
    """
    for step in steps:
        kind = FAMILIES[step.family]
        parts: list[Any] = list(getattr(design, kind.field))
        if not step.key:
            sample = {"node": PowerNode, "run": Run, "circuit": Circuit}[step.family]
            added: Any = part_of(sample, dict(step.values or {}))
            if kind.key_of(added) in {kind.key_of(part) for part in parts}:
                raise TreeRefused(f"{kind.key_of(added)} is taken; give it another key.", "key")
            parts.append(added)
        else:
            parts = [
                _with(part, step.values) if kind.key_of(part) == step.key else part
                for part in parts
                if step.values is not None or kind.key_of(part) != step.key
            ]
        changed: dict[str, Any] = {kind.field: tuple(parts)}
        design = replace(design, **changed)
    return design


def _with(part: Any, values: Mapping[str, Any] | None) -> Any:
    merged = part_values(part) | dict(values or {})
    return part_of(type(part), {name: value for name, value in merged.items() if value is not None})


def _node(design: Design, key: str, field: str) -> PowerNode:
    for node in design.nodes:
        if node.key == key:
            return node
    raise TreeRefused(f"This build has no {key or 'such thing'}.", field)


def _run(design: Design, key: str) -> Run:
    for run in design.runs:
        if run.key == key:
            return run
    raise TreeRefused(f"This build has no run {key}.", "run")


def _circuit(design: Design, number: str) -> Circuit:
    for circuit in design.circuits:
        if circuit.number == number:
            return circuit
    raise TreeRefused(f"This build has no circuit {number}.", "circuit")
