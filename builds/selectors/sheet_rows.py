"""The tables of a build's sheet, row by row, as they are printed: pure arrangement of a design and its assessment."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import chain

from builds.engineering.assessing.isolators import forward_v_of
from builds.engineering.assessing.source_outputs import output_of_rating
from builds.engineering.assessing.words import kind_words
from builds.engineering.assessment import CircuitResult, PanelResult, RunResult
from builds.engineering.design import Circuit, Load, PowerNode, Run
from builds.engineering.electrical.protection import device_families
from builds.engineering.makers_wires import makers_wires, with_makers_wires
from builds.engineering.vocabulary import IsolatorKind, NodeKind
from builds.engineering.wire_colours import is_wire_colour
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import ampere, percent, volts
from builds.selectors.sheet_findings import Margin, margins_of, row_id

__all__ = [
    "CircuitGroup",
    "CircuitRow",
    "CircuitsFoot",
    "LoadRow",
    "NodeRow",
    "RunRow",
    "circuit_groups",
    "circuit_row",
    "circuits_foot",
    "load_rows",
    "node_rows",
    "run_rows",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitRow:
    """One circuit as its row shows it."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    legend: str
    place: str
    to: str
    to_all: str
    load: str
    peak: str
    rating_a: float
    family: str
    gauge: str
    colour: str
    colour_known: bool
    length: str
    drop: str
    drop_percent: float
    limit_percent: float
    load_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitGroup:
    """The circuits of one panel under its line."""

    key: str
    name: str
    feed: str
    feed_drop: str
    positions: str
    continuous: str
    rows: tuple[CircuitRow, ...]


@dataclass(frozen=True, slots=True)
class CircuitsFoot:
    """The line under all circuits."""

    count: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRow:
    """One load of a circuit."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    name: str
    zone: str
    quantity: int
    current: str
    at: str
    duty: str
    steady: bool
    inrush: str
    asleep: str
    drop_class: str
    conditions: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """One run of the power tree."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    ends: str
    side: str
    gauge: str
    length: str
    device: str
    rating_a: float | None
    family: str
    both_ends: bool
    continuous: str
    peak: str
    drop: str
    prospective: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeRow:
    """One thing of the power tree."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    kind: str
    name: str
    zone: str
    rating: str
    facts: str
    outputs: tuple[
        tuple[str, str, str], ...
    ] = ()  # kind of the working, figure and when it is so: of an alternator, hot


def circuit_groups(sheet: Sheet) -> list[CircuitGroup]:
    """Return the circuits by panel, in the order of the panels, each circuit at its position."""
    context = _Context(sheet)
    by_panel: dict[str, list[Circuit]] = defaultdict(list)
    for circuit in sheet.design.circuits:
        by_panel[circuit.panel].append(circuit)
    panels = [node for node in sheet.design.nodes if node.key in by_panel or node.panel is not None]
    return [context.group(node, by_panel[node.key]) for node in panels]


def circuit_row(sheet: Sheet, number: str) -> CircuitRow | None:
    """Return the row of one circuit, ``None`` where there is no such circuit."""
    found = next((circuit for circuit in sheet.design.circuits if circuit.number == number), None)
    return _Context(sheet).row(found) if found else None


def circuits_foot(sheet: Sheet) -> CircuitsFoot:
    """Return how many circuits there are and what they take together in the worst condition."""
    count = len(sheet.design.circuits)
    return CircuitsFoot(count, f"{count} circuit{'' if count == 1 else 's'}")


class _Context:
    """What rows look up: results by address, loads by circuit, names of zones and margins."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.measures = sheet.measures
        self.margins = margins_of(sheet)
        self.results: dict[str, CircuitResult] = {item.number: item for item in sheet.assessment.circuits}
        self.panels: dict[str, PanelResult] = {item.key: item for item in sheet.assessment.panels}
        self.zones = {zone.key: zone.name for zone in sheet.design.platform.zones}
        self.loads: dict[str, list[Load]] = defaultdict(list)
        for load in sheet.design.loads:
            self.loads[load.circuit].append(load)
        drawn = with_makers_wires(sheet.design).runs
        self.feeds = {run.to_node: run for run in drawn if run.side.value == "supply"}
        self.makers = {run.key for run in drawn[len(sheet.design.runs) :]}

    def group(self, node: PowerNode, circuits: list[Circuit]) -> CircuitGroup:
        result = self.panels.get(node.key)
        rows = tuple(self.row(circuit) for circuit in sorted(circuits, key=lambda item: (item.position, item.number)))
        return CircuitGroup(
            key=node.key,
            name=node.name,
            feed=self._feed(node),
            feed_drop=percent(result.feed_drop_ratio) if result and node.key in self.feeds else "",
            positions=f"{result.positions_used} of {result.positions} positions" if result else "",
            continuous=ampere(result.continuous_a) if result else "–",
            rows=rows,
        )

    def _feed(self, node: PowerNode) -> str:
        run = self.feeds.get(node.key)
        if run is None:
            return "no feed drawn"
        device = f", {run.device_rating_a:g} A" if run.device_rating_a else ""
        name = "the maker's way" if run.key in self.makers else f"run {run.key}"
        return f"{name}{device}"

    def row(self, circuit: Circuit) -> CircuitRow:
        result = self.results.get(circuit.number)
        loads = self.loads[circuit.number]
        zones = list(dict.fromkeys(self.zones.get(load.zone, load.zone) for load in loads))
        subject = f"circuit:{circuit.number}"
        return CircuitRow(
            subject=subject,
            element_id=row_id(subject),
            key=circuit.number,
            margin=self.margins.get(subject, _NOTHING),
            legend=circuit.legend,
            place=f"{circuit.panel}-{circuit.position:02d}",
            to=f"{zones[0]} +{len(zones) - 1}" if len(zones) > 1 else "".join(zones) or "–",
            to_all=", ".join(load.name for load in loads),
            load=ampere(result.mean_a) if result else "–",
            peak=ampere(result.peak_a) if result else "–",
            rating_a=circuit.device_rating_a,
            family=circuit.device_family,
            gauge=circuit.gauge,
            colour=circuit.colour,
            colour_known=bool(circuit.colour) and is_wire_colour(circuit.colour),
            length=self.measures.length(circuit.length_m),
            drop=percent(result.drop_ratio) if result else "–",
            drop_percent=_for_bar(result.drop_ratio * 100, result.drop_limit_ratio * 100) if result else 0.0,
            limit_percent=result.drop_limit_ratio * 100 if result else 0.0,
            load_count=len(loads),
        )


_NOTHING = Margin()


def _for_bar(drop: float, limit: float) -> float:
    """
    Return a drop as finely as a bar can show it, so that a row whose figures read the same is not sent again.

    The side of the limit it stands on is never rounded away.
    """
    shown = round(drop, 1)
    return shown if (shown > limit) == (drop > limit) else drop


def load_rows(sheet: Sheet, number: str) -> list[LoadRow]:
    """Return the loads of one circuit."""
    context = _Context(sheet)
    used: dict[str, int] = defaultdict(int)
    for use in chain.from_iterable(condition.uses for condition in sheet.design.conditions):
        used[use.load] += 1
    return [_load_row(context, load, used[load.key]) for load in context.loads[number]]


def _load_row(context: _Context, load: Load, conditions: int) -> LoadRow:
    subject = f"load:{load.key}"
    return LoadRow(
        subject=subject,
        element_id=row_id(subject),
        key=load.key,
        margin=context.margins.get(subject, _NOTHING),
        name=load.name,
        zone=context.zones.get(load.zone, load.zone),
        quantity=load.quantity,
        current=ampere(load.current_a) if load.current_a >= 0.1 else f"{load.current_a:g}",
        at=volts(load.at_v),
        duty="steady" if load.duty_ratio == 1 else f"{load.duty_ratio * 100:g} % lit",
        steady=load.can_be_steady,
        inrush=ampere(load.inrush_a) if load.inrush_a else "",
        asleep=f"{load.key_off_a * 1000:g} mA" if load.key_off_a else "",
        drop_class=load.drop_class,
        conditions=conditions,
    )


def run_rows(sheet: Sheet) -> list[RunRow]:
    """Return the runs of the power tree, supply first."""
    context = _Context(sheet)
    results = {item.key: item for item in sheet.assessment.runs}
    ordered = sorted(sheet.design.runs, key=lambda run: run.side.value != "supply")
    return [_run_row(context, run, results.get(run.key)) for run in ordered]


def _device_of(run: Run) -> str:
    if not run.device_rating_a:
        return ""
    return f"{_family_name(run.device_family)} {run.device_rating_a:g} A{' at both ends' if run.device_at_both_ends else ''}"


def _run_row(context: _Context, run: Run, result: RunResult | None) -> RunRow:
    subject = f"run:{run.key}"
    gauge = f"{run.parallel} × {run.gauge}" if run.parallel > 1 else run.gauge
    return RunRow(
        subject=subject,
        element_id=row_id(subject),
        key=run.key,
        margin=context.margins.get(subject, _NOTHING),
        ends=f"{run.from_node} → {run.to_node}",
        side=run.side.value,
        gauge=gauge,
        length=context.measures.length(run.length_m),
        device=_device_of(run),
        rating_a=run.device_rating_a,
        family=run.device_family,
        both_ends=run.device_at_both_ends,
        continuous=ampere(result.continuous_a) if result else "–",
        peak=ampere(result.peak_a) if result else "–",
        drop=f"{result.drop_v:.2f}" if result else "–",
        prospective=ampere(result.prospective_a) if result and result.prospective_a is not None else "–",
    )


@cache
def _names_of_families() -> dict[str, str]:
    return {family.key: family.name for family in device_families()}


def _family_name(key: str) -> str:
    return _names_of_families().get(key, key)


def node_rows(sheet: Sheet) -> list[NodeRow]:
    """Return the things of the power tree in the design's order."""
    margins = margins_of(sheet)
    zones = {zone.key: zone.name for zone in sheet.design.platform.zones}
    ways = {wire.to_node: wire for wire in makers_wires(sheet.design)}
    return [
        _node_row(node, margins.get(f"node:{node.key}", _NOTHING), zones, ways.get(node.key))
        for node in sheet.design.nodes
    ]


def _node_row(node: PowerNode, margin: Margin, zones: dict[str, str], way: Run | None) -> NodeRow:
    subject = f"node:{node.key}"
    return NodeRow(
        subject=subject,
        element_id=row_id(subject),
        key=node.key,
        margin=margin,
        kind=kind_words(node.kind),
        name=node.name,
        zone=zones.get(node.zone, node.zone),
        rating=f"{node.rating_a:g}" if node.rating_a else "–",
        facts=f"{_node_facts(node)}, {_way_words(way)}" if way else _node_facts(node),
        outputs=tuple(_hot_outputs(node)),
    )


def _hot_outputs(node: PowerNode) -> Iterator[tuple[str, str, str]]:
    """What an alternator gives hot by its rating; a condition that states its engine speed reads the curve instead."""
    if node.kind is NodeKind.ALTERNATOR and node.alternator is not None:
        for kind, when, idle in (("alternator-idle", "at idle", True), ("alternator-speed", "at speed", False)):
            yield kind, f"{output_of_rating(node.alternator, idle=idle).available_a:.4g} A", when


def _way_words(way: Run) -> str:
    """How the vehicle maker feeds an access point that no drawn run leads to."""
    fuse = f" through the maker's {way.device_rating_a:g} A" if way.device_rating_a else ""
    mohm = f", {way.resistance_mohm:.3g} mΩ" if way.resistance_mohm is not None else ""
    return f"from {way.from_node}{fuse}{mohm}"


def _node_facts(node: PowerNode) -> str:  # noqa: PLR0911  (one kind of node, one line)
    """Return what is particular to a node of its kind, in a few words."""
    match node.kind:
        case NodeKind.BATTERY if node.battery:
            spec = node.battery
            return f"{spec.capacity_ah:g} Ah over {spec.rated_hours:g} h, {spec.open_circuit_v:g} V full, {spec.usable_ratio * 100:g} % may be used"
        case NodeKind.ALTERNATOR if node.alternator:
            source = node.alternator
            said = f"{source.rated_a:g} A" + (", its maker's curve on file" if source.points else "")
            return f"{said}, {_set_volts(source.low_v, source.high_v)}" if source.low_v and source.high_v else said
        case NodeKind.DCDC | NodeKind.SHORE | NodeKind.SOLAR if node.source:
            return f"{node.source.limit_a:g} A, {_set_volts(node.source.low_v, node.source.high_v)}"
        case NodeKind.CONVERTER if node.converter:
            made = node.converter
            return f"{node.nominal_v:g} V to {made.output_v:g} V, {made.limit_a:g} A, {made.efficiency_ratio * 100:g} %"
        case NodeKind.ISOLATOR if node.isolator is IsolatorKind.DIODE:
            return f"diodes, lose {forward_v_of(node):g} V"
        case NodeKind.ACCESS_POINT:
            return f"the maker's {node.access_point}"
        case NodeKind.CHASSIS if not node.metal:
            return "not continuous metal: carries nothing back"
        case NodeKind.PANEL | NodeKind.MODULE if node.panel:
            return f"{node.panel.positions} positions in {node.panel.columns} columns, door hinge at {node.panel.hinge}"
        case NodeKind.GROUND:
            return f"on {node.chassis}" if node.chassis else "return bus"
    return f"{node.resistance_mohm:g} mΩ" if node.resistance_mohm else ""


def _set_volts(low_v: float, high_v: float) -> str:
    return f"{low_v:g} V" if low_v == high_v else f"{low_v:g} to {high_v:g} V"
