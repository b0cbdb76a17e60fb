"""Panel maps with their circuits, calculated beside measured."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from builds.documents.packet_context import PacketContext
from builds.drawings.devices import is_breaker
from builds.drawings.fuses import colour_name
from builds.drawings.one_line import draw_one_line_sheets
from builds.drawings.palette import PRINT
from builds.drawings.panel_map import draw_panel_map
from builds.drawings.wires import wire_words
from builds.engineering.buyer_rules import rule_number
from builds.engineering.design import Circuit, PowerNode
from builds.engineering.makers_wires import with_makers_wires
from builds.engineering.vocabulary import NodeKind, RunSide
from builds.engineering.wire_colours import is_wire_colour

__all__ = ["CircuitLine", "PanelPage", "one_line_of", "panels_of"]

# What is left of a Letter page under the section's head, in the drawing's pixels at the width it is printed.
_SHEET_PX = 800.0
# A page's room for a panel's map and rows beside head, feed and table head; what the caution and the notes ask of it.
_ROOM_PX, _CAUTION_PX, _NOTES_PX, _TIGHT_PX = 690.0, 95.0, 95.0, 60.0
_HEAD_PX = 130.0  # head, feed and key line of a panel that follows another on its page, and the space between them
_ROW_PX, _WRAPPED_PX, _MAP_CELL_PX, _MAP_CELLS = 26.5, 14.0, 108.0, 7
_TO_CHARS, _LEGEND_CHARS = 19, 15
_PLACES = frozenset({NodeKind.PANEL, NodeKind.MODULE})


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitLine:
    """A circuit as its row prints it; empty figures were not calculated or not measured."""

    number: str
    legend: str
    position: str
    to: str
    load: str
    device: str
    device_colour: str
    device_kind: str
    gauge: str
    colour: str
    colour_known: bool
    length: str
    returns: str
    drop: str
    drop_limit: str
    over: bool
    measured: str
    battery_missing: bool
    changed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelPage:
    """One panel or module, or the circuits that hang on no panel."""

    key: str
    name: str
    place: str
    fed: str
    drawing: str
    circuits: tuple[CircuitLine, ...]
    together: str
    limits: str
    label_spacing: str
    colours: tuple[str, ...]
    has_changes: bool
    colour_words: str
    has_gaps: bool
    has_battery_missing: bool
    has_caution_room: bool
    has_notes_room: bool
    tight: bool
    left_px: float = 0.0
    follows: bool = False  # on the page of the panel before it
    sheet: str = ""  # what stands at the foot of its page: every panel on it


def one_line_of(context: PacketContext) -> tuple[str, ...]:
    """Return the one-line diagram on as many sheets as it needs to stay readable."""
    return draw_one_line_sheets(context.design, context.assessment, palette=PRINT, sheet_height=_SHEET_PX)


def panels_of(context: PacketContext, *, drawn: bool = True) -> tuple[PanelPage, ...]:
    """Return a page for every panel and module, then one for each other node that circuits start on; maps if ``drawn``."""
    panels = [
        node
        for node in context.design.nodes
        if node.kind in _PLACES and (node.panel or node.key in context.circuits_of)
    ]
    others = [node for node in context.design.nodes if node.kind not in _PLACES and node.key in context.circuits_of]
    return _sharing([_page(context, node, drawn=drawn) for node in (*panels, *others)])


def _sharing(pages: list[PanelPage]) -> tuple[PanelPage, ...]:
    """Let a panel follow on the page of the one before it where both fit there without the blocks beneath them."""
    groups: list[list[PanelPage]] = []
    left_px = 0.0
    for page in pages:
        needed_px = _ROOM_PX - page.left_px + _HEAD_PX
        if groups and page.drawing and needed_px <= left_px:
            groups[-1].append(page)
            left_px -= needed_px
        else:
            groups.append([page])
            left_px = page.left_px
    return tuple(
        replace(
            page, sheet=", ".join(item.key for item in group), follows=place > 0,
            has_caution_room=page.has_caution_room and len(group) == 1,
            has_notes_room=page.has_notes_room and len(group) == 1,
        )
        for group in groups
        for place, page in enumerate(group)
    )  # fmt: skip


def _page(context: PacketContext, node: PowerNode, *, drawn: bool) -> PanelPage:
    circuits = tuple(_line(context, circuit) for circuit in context.circuits_of.get(node.key, []))
    result = next((item for item in context.assessment.panels if item.key == node.key), None)
    spacing = rule_number(context.design.buyer, "label-spacing")
    left_px = _room_left_px(node, circuits)
    return PanelPage(
        key=node.key,
        name=node.name,
        place=context.place(node.zone),
        fed=_fed(context, node),
        drawing=draw_panel_map(context.design, node.key, context.assessment, palette=PRINT)
        if drawn and node.panel
        else "",
        circuits=circuits,
        together=context.quantities.amperes(result.continuous_a) if result else "",
        limits=", ".join(dict.fromkeys(line.drop_limit for line in circuits if line.drop_limit)),
        label_spacing=context.quantities.spacing(spacing),
        colours=tuple(dict.fromkeys(line.colour for line in circuits if line.colour_known)),
        has_changes=any(line.changed for line in circuits),
        colour_words=next((wire_words(line.colour) for line in circuits if line.colour_known), ""),
        has_gaps=any(not line.measured and not line.battery_missing for line in circuits),
        has_battery_missing=any(line.battery_missing for line in circuits),
        has_caution_room=left_px > _CAUTION_PX,
        has_notes_room=left_px > _CAUTION_PX + _NOTES_PX,
        tight=left_px < _TIGHT_PX,
        left_px=left_px,
    )


def _room_left_px(node: PowerNode, lines: Iterable[CircuitLine]) -> float:
    """About how much of the page is left beneath a panel's map and rows; only blocks that fit are printed there."""
    used = 0.0
    if node.panel is not None:
        rows = -(-node.panel.positions // node.panel.columns)
        used += 30 + rows * _MAP_CELL_PX * min(1.0, _MAP_CELLS / node.panel.columns)
    for line in lines:
        wrapped = len(line.to) > _TO_CHARS or len(line.legend) > _LEGEND_CHARS
        used += _ROW_PX + (_WRAPPED_PX if wrapped else 0)
    return _ROOM_PX - used


def _fed(context: PacketContext, node: PowerNode) -> str:
    """The run that feeds a panel, its device, and the studs its circuits come back to."""
    runs = with_makers_wires(context.design).runs
    feeds = [run for run in runs if run.side is RunSide.SUPPLY and run.to_node == node.key]
    parts = []
    for run in feeds:
        device = ""
        if run.device_rating_a:
            kind = "breaker" if is_breaker(run.device_family) else f"{run.device_family} fuse"
            device = f", {run.device_rating_a:g} A {kind.strip()}{' at both ends' if run.device_at_both_ends else ''}"
        start = context.nodes.get(run.from_node)
        name = f"{run.from_node} {start.name.lower()}" if start else run.from_node
        size = (
            f"{context.quantities.gauge(run.gauge, parallel=run.parallel)}, {context.quantities.length(run.length_m)}"
        )
        if not run.gauge and run.resistance_mohm is not None:
            parts.append(f"Fed from {name} by the vehicle maker: {run.resistance_mohm:.3g} mΩ{device}.")
            continue
        parts.append(f"Fed from {name} by run {run.key}: {size}{device}.")
    studs = list(dict.fromkeys(circuit.return_node for circuit in context.circuits_of.get(node.key, [])))
    if studs:
        parts.append(f"Circuits come back to {', '.join(studs)}.")
    return " ".join(parts)


def _line(context: PacketContext, circuit: Circuit) -> CircuitLine:
    result = context.circuit_results.get(circuit.number)
    units = context.quantities
    return CircuitLine(
        number=circuit.number,
        legend=circuit.legend,
        position=f"{circuit.position:02d}",
        to=context.load_places.get(circuit.number, ""),
        load=units.amperes(result.continuous_a) if result else "",
        device=f"{circuit.device_rating_a:g}",
        device_colour=colour_name(circuit.device_rating_a, circuit.device_family),
        device_kind="breaker" if is_breaker(circuit.device_family) else circuit.device_family,
        gauge=circuit.gauge,
        colour=circuit.colour,
        colour_known=bool(circuit.colour) and is_wire_colour(circuit.colour),
        length=units.length_figure(circuit.length_m),
        returns=circuit.return_node,
        drop=units.percent(result.drop_ratio) if result else "",
        drop_limit=units.percent(result.drop_limit_ratio) if result else "",
        over=bool(result and result.drop_ratio > result.drop_limit_ratio),
        measured=_measured_drop(context, circuit.number),
        battery_missing=_is_battery_missing(context, circuit.number),
        changed=f"circuit:{circuit.number}" in context.input.changed,
    )


def _measured_drop(context: PacketContext, number: str) -> str:
    """Percent lost between battery post and load, where both voltages were read at the same time."""
    result = context.circuit_results.get(number)
    measured = context.measured.get(f"volts/{number}")
    if result is None or measured is None or measured.tick is None:
        return ""
    reading, post = measured.tick.reading, measured.tick.reading_at_v
    if reading is None or post is None:
        return ""
    return context.quantities.percent(float(post - reading) / result.drop_base_v)


def _is_battery_missing(context: PacketContext, number: str) -> bool:
    """Whether the load's voltage was read without the battery's beside it, so that the drop is not known."""
    measured = context.measured.get(f"volts/{number}")
    tick = measured.tick if measured else None
    return tick is not None and tick.reading is not None and tick.reading_at_v is None


def wire_codes(context: PacketContext) -> Iterable[str]:
    """Return every wire colour of the packet once, sorted."""
    return sorted(
        {
            circuit.colour.upper()
            for circuit in context.design.circuits
            if circuit.colour and is_wire_colour(circuit.colour)
        }
    )
