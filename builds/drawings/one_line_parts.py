"""The parts of a one-line diagram put on paper: spine, bus, rows, with what is said beside each."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import zip_longest

from builds.drawings import one_line_symbols as symbols
from builds.drawings.findings_marks import worst_finding
from builds.drawings.measures import ampere_words, conductor_class, gauge_words, length_words
from builds.drawings.one_line_layout import BOX_W, BOX_X, BUS_X, LOOP_H, ROW_H, SPINE_X, Column, Lane, Row, Stop
from builds.drawings.one_line_words import (
    branch_lines,
    branch_subjects,
    circuit_device_words,
    converter_volts,
    device_words,
    run_words,
    step_lines,
)
from builds.drawings.palette import Palette
from builds.drawings.svg import element
from builds.drawings.text_width import shorten, width_of, wrap
from builds.drawings.texts import text
from builds.engineering.assessment import Assessment
from builds.engineering.design import Circuit, Design, PowerNode, Run
from builds.engineering.vocabulary import NodeKind

__all__ = ["Pen", "Piece"]

BOX_H = 44.0
_CONVERTER_W = 68.0
_LABEL_W = SPINE_X - 62
_SPINE_SYMBOL_HALF = {
    NodeKind.ALTERNATOR: 17.0,
    NodeKind.ISOLATOR: 17.0,
    NodeKind.DISCONNECT: 18.0,
    NodeKind.CONVERTER: 22.0,
}
_SPINE_LABEL_GAP = {NodeKind.BATTERY: 50.0, NodeKind.CONVERTER: 42.0}
_DOTS = 5.5
_LOOP_X = 34.0


@dataclass(frozen=True, slots=True)
class Piece:
    """Something drawn, and from where to where it reaches downwards. [px]."""

    top: float
    bottom: float
    svg: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """What every part of one drawing needs to know."""

    design: Design
    assessment: Assessment | None
    palette: Palette
    live: frozenset[str]
    makers: frozenset[str] = frozenset()  # the maker's runs that nobody drew: there is no row to take hold of

    def draw(self, column: Column) -> list[Piece]:
        """Return one system piece by piece: lines first, so that boxes and symbols lie on them."""
        pieces: list[Piece] = []
        end_y = column.join_y if column.bus is not None else column.bottom
        for stop, after in zip_longest(column.stops, column.stops[1:]):
            pieces.append(Piece(stop.y, after.y if after else end_y, self._way_on(stop, after, column)))
            pieces += self._rows(stop.rows, SPINE_X)
        if column.bus is not None:
            pieces += self._bus(column)
        pieces += [Piece(stop.y - 24, stop.y + 52, self._stop(stop)) for stop in column.stops]
        return pieces + [
            Piece(min(lane.start_y, lane.end_y) - 4, max(lane.start_y, lane.end_y) + 4, self._lane(lane))
            for lane in column.lanes
        ]

    def _lane(self, lane: Lane) -> str:
        """What closes a ring: on from its row along its lane, and in again at a box or on another row's line."""
        right = BOX_X + BOX_W
        path = f"M{right:g} {lane.start_y:g}H{lane.x:g}V{lane.end_y:g}H{right:g}"
        parts = [symbols.line(path, self._weight(lane.run), self.palette)]
        if lane.to_box:
            parts.append(symbols.joint(right, lane.end_y, self.palette))
        return self._handle("".join(parts), "", lane.run)

    # --- spine ---

    def _way_on(self, stop: Stop, after: Stop | None, column: Column) -> str:
        """The run from this stop to the next one, or round the corner to the bus."""
        if after is None and column.bus is None:
            return ""
        run = after.step.run if after else column.bus.run if column.bus else None
        if run is None:
            return ""
        end_y = after.y if after else column.join_y
        path = f"M{SPINE_X:g} {stop.y:g}V{end_y:g}" + ("" if after else f"H{BUS_X:g}")
        parts = [symbols.line(path, self._weight(run), self.palette)]
        if self._is_live(run):
            start = stop.y + _SPINE_SYMBOL_HALF.get(stop.step.node.kind, 0) + 3
            parts.append(self._dots_beside(start, end_y, corner=after is None))
        if stop.loop is None:
            return "".join(parts) + self._beside_spine(run, SPINE_X, stop.y)
        parts.append(self._loop(stop.loop, stop.y, end_y))
        return "".join(parts) + self._beside_spine(run, SPINE_X, stop.y + LOOP_H / 2)

    def _loop(self, run: Run, y: float, end_y: float) -> str:
        """A second conductor beside a run of the spine: out to the left beneath the words of the step, and in again."""
        top, bottom = y + 54, end_y - 34
        path = f"M{SPINE_X:g} {top:g}H{_LOOP_X:g}V{bottom:g}H{SPINE_X:g}"
        parts = [symbols.line(path, self._weight(run), self.palette)]
        parts += [symbols.joint(SPINE_X, at, self.palette) for at in (top, bottom)]
        return self._handle("".join(parts) + self._beside_spine(run, _LOOP_X, top - 10), "", run)

    def _dots_beside(self, start_y: float, end_y: float, *, corner: bool) -> str:
        x = SPINE_X - _DOTS
        bend = f"M{x:g} {start_y:g}V{end_y + _DOTS:g}H{BUS_X:g}" if corner else f"M{x:g} {start_y:g}V{end_y - 20:g}"
        return symbols.dotted(bend, self.palette)

    def _beside_spine(self, run: Run, line_x: float, y: float) -> str:
        """Device, amperes and labels of an upright run, from the top down; beside a loop they stay left of the spine."""
        x, has_device = line_x + 17, bool(run.device_rating_a)
        right = BUS_X if line_x == SPINE_X else SPINE_X
        at = y + (42 if has_device else 33)
        shape = self._shape(f"run:{run.key}", x, at - 13)
        label_x = x + 19 if shape else x
        parts = [shape]
        if has_device:
            parts.append(symbols.device(run.device_family, line_x, at, self.palette, upright=True))
            said = shorten(device_words(run), right - label_x - 6, 13, weight=600)
            parts.append(text(said, label_x, at - 1, palette=self.palette, size=13, weight=600))
        said_x, said_y = (x, at + 14) if has_device else (label_x, at)
        words = " · ".join(run_words(run, self.design.conventions)).split(" · ")
        said = " · ".join(part.replace(" ", "\u00a0") for part in words)
        for index, line in enumerate(wrap(said, right - said_x - 12, 12.5, most_lines=2)):
            line_y = said_y + index * 14
            parts.append(text(line, said_x, line_y, palette=self.palette, size=12.5, tone="text-2"))
        amperes = self._amperes(run)
        if amperes:
            parts.append(symbols.lozenge(amperes, line_x, at + (46 if has_device else 34), self.palette))
        return "".join(parts)

    def _stop(self, stop: Stop) -> str:
        node, y = stop.step.node, stop.y
        symbol = self._spine_symbol(node, y)
        return self._handle(symbol + self._spine_label(node, y), node.key, stop.step.run)

    def _spine_symbol(self, node: PowerNode, y: float) -> str:
        match node.kind:
            case NodeKind.ALTERNATOR:
                return symbols.alternator(SPINE_X, y, self.palette)
            case NodeKind.BATTERY:
                return symbols.battery(SPINE_X, y, self.palette)
            case NodeKind.ISOLATOR:
                return symbols.isolator(SPINE_X, y, self.palette)
            case NodeKind.DISCONNECT:
                return symbols.disconnect(SPINE_X, y, self.palette)
            case NodeKind.CONVERTER:
                left, top = SPINE_X - _CONVERTER_W / 2, y - BOX_H / 2
                return symbols.converter(left, top, _CONVERTER_W, BOX_H, self.palette, volts=converter_volts(node))
            case _:
                return symbols.line(f"M{SPINE_X - 16:g} {y:g}H{SPINE_X + 16:g}", symbols.BUS_WEIGHT, self.palette)

    def _spine_label(self, node: PowerNode, y: float) -> str:
        """Name and data of a stop, right-aligned at the left of its symbol."""
        x = SPINE_X - _SPINE_LABEL_GAP.get(node.kind, 30)
        lines = step_lines(node, self.design, x - 4)
        parts, at = [], y - 8.0
        for weight, line in lines:
            parts.append(
                text(
                    line,
                    x,
                    at,
                    palette=self.palette,
                    size=13,
                    weight=weight,
                    anchor="end",
                    tone="text" if weight == 600 else "text-2",
                )
            )
            at += 15
        return "".join(parts) + self._shape(
            f"node:{node.key}",
            SPINE_X + (38 if node.kind is NodeKind.CONVERTER else 26),
            y - 26 if node.kind is not NodeKind.BATTERY else y - 20,
        )

    # --- bus and rows ---

    def _bus(self, column: Column) -> list[Piece]:
        assert column.bus is not None
        node = column.bus.node
        bar = symbols.bus_bar(BUS_X, column.bus_top, column.bus_bottom, self.palette)
        name = shorten(f"{node.key} {node.name}", BOX_X - BUS_X + 40, 13, weight=600)
        label = text(name, BUS_X - 8, column.bus_top - 6, palette=self.palette, size=13, weight=600)
        shape = self._shape(f"node:{node.key}", BUS_X - 26, column.bus_top - 18)
        return [
            *self._rows(column.bus_rows, BUS_X),
            Piece(column.bus_top, column.bus_bottom, self._handle(bar, node.key, column.bus.run)),
            Piece(column.bus_top - 18, column.bus_top, label + shape),
        ]

    def _rows(self, rows: Iterable[Row], trunk_x: float) -> list[Piece]:
        rows = tuple(rows)
        pieces: list[Piece] = []
        taps = [y for row in rows if row.depth == 0 for y in (row.y, *([row.last_y] if row.beside else []))]
        if trunk_x == SPINE_X and len(taps) > 1:  # the bus has its own bar
            tap = symbols.line(f"M{BUS_X:g} {taps[0]:g}V{taps[-1]:g}", 1.25, self.palette)
            pieces.append(Piece(taps[0], taps[-1], tap))
        for row in rows:
            start = trunk_x if row.depth == 0 and (trunk_x == BUS_X or row.y == taps[0]) else BUS_X
            pieces.append(Piece(min(row.from_y, row.y - ROW_H / 2), row.last_y + ROW_H / 2, self._row(row, start)))
        return pieces

    def _row(self, row: Row, start_x: float) -> str:
        run, left, box_x = row.branch.run, BUS_X + row.indent, BOX_X + row.indent
        end_x = BOX_X + BOX_W if row.branch.link_to else box_x
        weight = self._row_weight(row)
        if row.depth:
            parent_x, jog_y = box_x - row.step + 12, row.turn_y + BOX_H / 2 + 9
            path = f"M{parent_x:g} {row.from_y + BOX_H / 2:g}V{jog_y:g}H{left:g}V{row.y:g}H{end_x:g}"
        else:
            path = f"M{start_x:g} {row.y:g}H{end_x:g}"
        parts = [symbols.line(path, weight, self.palette)]
        if run and self._is_live(run):
            parts.append(symbols.dotted(f"M{max(start_x, left) + 5:g} {row.y + _DOTS:g}H{end_x - 2:g}", self.palette))
        if row.branch.link_to is not None:
            return self._handle("".join(parts) + self._on_link(row, left, box_x), "", run)
        parts += [self._beside(run, row, place) for place, run in enumerate(row.beside, start=1)]
        if run:
            parts.append(self._on_row(run, left, box_x, row.y))
        elif row.branch.circuit:
            parts.append(self._on_circuit(row.branch.circuit, left, row.y))
        return "".join(parts) + self._box(row, box_x)

    def _beside(self, run: Run, row: Row, place: int) -> str:
        """A conductor to the same box: off the same line, a row's height below, and up into the box from beneath."""
        left, box_x, y = BUS_X + row.indent, BOX_X + row.indent, row.y + place * ROW_H
        up_x = BOX_X + BOX_W - 12 * (len(row.beside) - place + 1)
        path = f"M{left:g} {row.y:g}V{y:g}H{up_x:g}V{row.y + BOX_H / 2:g}"
        parts = [symbols.line(path, self._weight(run), self.palette)]
        if self._is_live(run):
            parts.append(symbols.dotted(f"M{left + 5:g} {y + _DOTS:g}H{up_x - 2:g}", self.palette))
        parts.append(self._on_row(run, left, box_x, y))
        return self._handle("".join(parts), "", run)

    def _on_link(self, row: Row, left: float, box_x: float) -> str:
        """What is said on the line of a link: all of it where it goes out, where it comes in again only which it is."""
        run, other = row.branch.run, row.branch.link_to
        assert run is not None and other is not None
        way = "from" if row.branch.link_ends else "to"
        said = shorten(f"{way} {other.key} {other.name}", BOX_X + BOX_W - box_x - 16, 12.5)
        parts = [text(said, box_x + 8, row.y - 7, palette=self.palette, size=12.5, tone="text-2")]
        if row.branch.link_ends:
            parts.append(text(run.key, left + 12, row.y - 7, palette=self.palette, size=12.5, tone="text-2"))
        else:
            parts.append(self._on_row(run, left, box_x, row.y))
        return "".join(parts)

    def _on_row(self, run: Run, left: float, box_x: float, y: float) -> str:
        """Device and amperes on the line of a row; its labels above and below."""
        subject = self._shape(f"run:{run.key}", left + 10, y - 26)
        label_x = left + (29 if subject else 12)
        first, second = run_words(run, self.design.conventions)
        parts = [text(f"{first} · {second}", left + 12, y + 20, palette=self.palette, size=12.5, tone="text-2")]
        if run.device_rating_a:
            parts.append(symbols.device(run.device_family, left + 40, y, self.palette))
            parts.append(
                text(
                    shorten(device_words(run), box_x - label_x - 4, 13, weight=600),
                    label_x,
                    y - 12,
                    palette=self.palette,
                    size=13,
                    weight=600,
                )
            )
        amperes = self._amperes(run)
        if amperes:
            parts.append(symbols.lozenge(amperes, box_x - 12 - symbols.lozenge_width(amperes) / 2, y, self.palette))
        return subject + "".join(parts)

    def _on_circuit(self, circuit: Circuit, left: float, y: float) -> str:
        """Device and wire of a circuit that hangs on no panel."""
        wire = f"{gauge_words(circuit.gauge, self.design.conventions)} · {length_words(circuit.length_m, self.design.conventions)}"
        return (
            symbols.device(circuit.device_family, left + 40, y, self.palette)
            + text(circuit_device_words(circuit), left + 12, y - 12, palette=self.palette, size=13, weight=600)
            + text(wire, left + 12, y + 20, palette=self.palette, size=12.5, tone="text-2")
        )

    def _box(self, row: Row, x: float) -> str:
        branch, y = row.branch, row.y - BOX_H / 2
        sides = ""
        if branch.node is not None and branch.node.converter is not None:
            sides = symbols.converter(x, y, _CONVERTER_W, BOX_H, self.palette, volts=converter_volts(branch.node))
            x += _CONVERTER_W
        width = BOX_X + BOX_W - x
        worst = worst_finding(self.assessment, branch_subjects(branch, self.design))
        name, detail = branch_lines(branch, self.design, self.assessment)
        key_w = width_of(name[0], 14, weight=800) + 7
        room = width - 16 - (20 if worst else 0)
        parts = [
            sides,
            symbols.box(x, y, width, BOX_H, self.palette, weight=1.5),
            text(name[0], x + 8, y + 18, palette=self.palette, size=14, weight=800),
            text(
                shorten(name[1], room - key_w, 13, weight=600),
                x + 8 + key_w,
                y + 18,
                palette=self.palette,
                size=13,
                weight=600,
            ),
            text(shorten(detail, width - 16, 12.5), x + 8, y + 35, palette=self.palette, size=12.5, tone="text-2"),
        ]
        if branch.node is not None and branch.node.kind is NodeKind.BUS:
            parts.append(symbols.bus_bar(x, y, y + BOX_H, self.palette))
        if worst:
            parts.append(symbols.shape(worst.value, x + width - 21, y + 5, self.palette))
        return self._handle("".join(parts), branch.node.key if branch.node else "", branch.run, branch.circuit)

    # --- what things look like ---

    def _handle(self, svg: str, node: str, run: Run | None, circuit: Circuit | None = None) -> str:
        """On a page a box says what it stands for, so that a script can take hold of it; on paper it is only drawn."""
        if self.palette.colours is not None:
            return svg
        subject = (
            f"circuit:{circuit.number}"
            if circuit
            else f"run:{run.key}"
            if run and run.key not in self.makers
            else f"node:{node}"
        )
        return element("g", svg, data_node=node or None, data_subject=subject)

    def _weight(self, run: Run) -> float:
        return symbols.LINE_WEIGHT[conductor_class(run.gauge, self.design.conventions)]

    def _row_weight(self, row: Row) -> float:
        if row.branch.circuit:
            return symbols.LINE_WEIGHT[conductor_class(row.branch.circuit.gauge, self.design.conventions)]
        return self._weight(row.branch.run) if row.branch.run else symbols.LINE_WEIGHT["fine"]

    def _is_live(self, run: Run) -> bool:
        return run.from_node in self.live or run.to_node in self.live

    def _amperes(self, run: Run) -> str:
        for result in self.assessment.runs if self.assessment else ():
            if result.key == run.key:
                return ampere_words(result.mean_a)
        return ""

    def _shape(self, subject: str, x: float, y: float) -> str:
        worst = worst_finding(self.assessment, [subject])
        return symbols.shape(worst.value, x, y, self.palette) if worst else ""
