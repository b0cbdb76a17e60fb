"""What flows in a condition, as a page prints it: sources, runs, loads, and one load's drop split by what it is lost in."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.design import Design
from builds.engineering.errors import EngineeringError
from builds.engineering.flows import ConditionFlows, DropPart, solve_conditions
from builds.engineering.makers_wires import with_makers_wires
from builds.selectors.figure_words import ampere

__all__ = ["CurrentsPage", "currents_page"]


@dataclass(frozen=True, slots=True)
class SourceLine:
    """A source (or those that charge one battery together): average and peak current, and whether it gives all it can."""

    key: str
    name: str
    average: str
    peak: str
    at_limit: bool


@dataclass(frozen=True, slots=True)
class RunLine:
    """A run: its ends, currents, drop and loss."""

    key: str
    ends: str
    average: str
    peak: str
    drop: str
    loss: str


@dataclass(frozen=True, slots=True)
class LoadLine:
    """A load that is on: its voltage, its drop, and where most of that is lost."""

    key: str
    name: str
    voltage: str
    drop: str
    percent: str
    most: str
    is_off: bool


@dataclass(frozen=True, slots=True)
class PartLine:
    """One part of a load's drop."""

    words: str
    current: str
    drop: str
    percent: str
    share: str


@dataclass(frozen=True, slots=True)
class NodeLine:
    """A node: its volts on the way out and on the way back; a dash where it has no such side or nothing feeds it."""

    key: str
    name: str
    out: str
    back: str


@dataclass(frozen=True, slots=True)
class CurrentsPage:
    """One condition; ``wanting`` says which load is too much where it has no operating point, and all else is empty then."""

    sources: tuple[SourceLine, ...] = ()
    runs: tuple[RunLine, ...] = ()
    loads: tuple[LoadLine, ...] = ()
    nodes: tuple[NodeLine, ...] = ()
    split_of: str = ""
    parts: tuple[PartLine, ...] = ()
    wanting: str = ""


def currents_page(design: Design, condition: str, load: str = "") -> CurrentsPage:
    """Return what flows in a condition, with the drop of ``load`` split where it is on and fed there."""
    try:
        told = solve_conditions(design).get(condition)
    except EngineeringError:  # a design that cannot be drawn as a network has findings that say so
        told = None
    if told is None:
        return CurrentsPage()
    if told.no_operating_point is not None:
        return CurrentsPage(wanting=told.no_operating_point.load)
    loads = tuple(_loads(design, told))
    on, names = {line.key for line in loads}, {node.key: node.name for node in design.nodes}
    return CurrentsPage(
        sources=tuple(
            SourceLine(
                source.key,
                names.get(source.key, ""),
                ampere(source.average_a),
                ampere(source.peak_a),
                source.at_limit,
            )
            for source in told.sources()
        ),
        runs=tuple(_runs(design, told)),
        loads=loads,
        nodes=tuple(_nodes(names, told)),
        split_of=load if load in on else "",
        parts=tuple(_parts(told, load)) if load in on else (),
    )


def _runs(design: Design, told: ConditionFlows) -> Iterator[RunLine]:
    ends = {run.key: f"{run.from_node} to {run.to_node}" for run in with_makers_wires(design).runs}
    for run in told.runs():
        yield RunLine(
            run.key, ends[run.key], ampere(run.average_a), ampere(run.peak_a), f"{run.drop_v:.3f}", f"{run.peak_loss_w:.1f}"
        )  # fmt: skip


def _nodes(names: dict[str, str], told: ConditionFlows) -> Iterator[NodeLine]:
    for node in told.nodes():
        out, back = ("–" if volts is None else f"{volts + 0.0:.3f}" for volts in (node.supply_v, node.return_v))
        yield NodeLine(node.key, names[node.key], out, back)


def _loads(design: Design, told: ConditionFlows) -> Iterator[LoadLine]:
    names = {load.key: load.name for load in design.loads}
    for load in told.loads():
        most = None if load.is_off else told.split(load.key).most
        yield LoadLine(
            key=load.key,
            name=names[load.key],
            voltage=f"{load.voltage_v:.2f}",
            drop=f"{load.drop_v:.2f}",
            percent=f"{100 * load.drop_ratio:.1f}",
            most=_words(most) if most is not None and most.drop_v > 0 else "–",
            is_off=load.is_off,
        )


def _parts(told: ConditionFlows, load: str) -> Iterator[PartLine]:
    split = told.split(load)
    for part in split.parts:
        yield PartLine(
            words=_words(part),
            current=ampere(abs(part.current_a)),
            drop=f"{part.drop_v:.3f}",
            percent=f"{100 * part.drop_ratio:.2f}",
            share=f"{100 * part.drop_v / split.drop_v:.0f}" if split.drop_v else "–",
        )


def _words(part: DropPart) -> str:
    kind, _, key = part.subject.partition(":")
    words = {"run": f"run {key}", "node": key, "circuit": f"its own wire, {key}"}[kind]
    return f"{words}, on the way back" if part.is_return and kind != "circuit" else words
