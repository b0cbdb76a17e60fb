"""
The power tree as the lines of an outline: every run leads to what it feeds, circuits stand under their panel.

A node that several runs feed stands in full under the first of them; under the others a line leads to it. Each side has an
outline of its own: supply from the batteries out, returns from the batteries back.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.design import Circuit, PowerNode, Run
from builds.engineering.makers_wires import makers_wires, with_makers_wires
from builds.engineering.vocabulary import RunSide
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import ampere
from builds.selectors.sheet_findings import Margin, margins_of, row_id

__all__ = ["TreeItem", "item_at", "tree_items"]

_NOTHING = Margin()


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeItem:
    """
    One line: a node with the run that feeds it, or a circuit.

    ``subject`` is what a change acts on, "run:R8", "circuit:203", or "node:BAT1" where nothing feeds it; ``node`` is the
    key of the node that stands there. ``again`` marks a further feed of a node that stands elsewhere in full.
    """

    side: str
    subject: str
    node: str
    level: int
    title: str
    name: str
    kind: str
    how: str
    amperes: str
    margin: Margin
    holds: int
    again: bool

    @property
    def element_id(self) -> str:
        """The element of the line."""
        return f"line-{self.side}-{row_id(self.subject)}"

    @property
    def is_circuit(self) -> bool:
        """Whether the line is a circuit."""
        return self.subject.startswith("circuit:")


def tree_items(sheet: Sheet, side: RunSide) -> list[TreeItem]:
    """Return the lines of one side from the top down."""
    return list(_Outline(sheet, side).lines())


def item_at(items: list[TreeItem], subject: str) -> TreeItem | None:
    """Return the line of a subject; a node's is the one where it stands in full."""
    by_node = (item for item in items if not item.again and f"node:{item.node}" == subject and not item.is_circuit)
    return next((item for item in items if item.subject == subject), next(by_node, None))


class _Outline:
    def __init__(self, sheet: Sheet, side: RunSide) -> None:
        self.sheet, self.side = sheet, side
        self.nodes = {node.key: node for node in sheet.design.nodes}
        self.margins = margins_of(sheet)
        self.results = {result.key: result for result in sheet.assessment.runs}
        self.loads = {result.number: result for result in sheet.assessment.circuits}
        self.fed: dict[str, list[Run]] = defaultdict(list)
        self.feeds: dict[str, list[Run]] = defaultdict(list)
        self.makers = {wire.key for wire in makers_wires(sheet.design)}
        for run in with_makers_wires(sheet.design).runs:
            if run.side is side and run.from_node in self.nodes and run.to_node in self.nodes:
                self.fed[run.from_node].append(run)
                self.feeds[run.to_node].append(run)
        self.circuits: dict[str, list[Circuit]] = defaultdict(list)
        for circuit in sheet.design.circuits if side is RunSide.SUPPLY else ():
            self.circuits[circuit.panel].append(circuit)
        self.bolted: dict[str, list[PowerNode]] = defaultdict(list)
        for node in sheet.design.nodes if side is RunSide.RETURN else ():
            if node.chassis:
                self.bolted[node.chassis].append(node)
        self.seen: set[str] = set()

    def lines(self) -> Iterator[TreeItem]:
        """Yield what nothing feeds with all below it; then what only feeds itself in a ring, which nothing reaches."""
        inside = [key for key in self.nodes if self._belongs(key)]
        for key in [key for key in inside if not self.feeds[key] and not self._is_bolted(key)]:
            yield from self._node(self.nodes[key], None, 1)
        for key in inside:
            if key not in self.seen:
                yield from self._node(self.nodes[key], None, 1)

    def _belongs(self, key: str) -> bool:
        return bool(self.fed[key] or self.feeds[key] or self.circuits[key] or self.bolted[key] or self._is_bolted(key))

    def _is_bolted(self, key: str) -> bool:
        return self.side is RunSide.RETURN and self.nodes[key].chassis in self.nodes

    def _node(self, node: PowerNode, run: Run | None, level: int) -> Iterator[TreeItem]:
        again = node.key in self.seen
        self.seen.add(node.key)
        below = 0 if again else len(self.fed[node.key]) + len(self.circuits[node.key]) + len(self.bolted[node.key])
        yield TreeItem(
            side=self.side.value, subject=self._subject(node, run), node=node.key, level=level,
            title=node.key, name=node.name, kind=node.kind.value.replace("_", " "),
            how=self._run_words(run) if run else self._root_words(node),
            amperes=self._amperes(run), margin=self._margin(node, run), holds=below, again=again,
        )  # fmt: skip
        if again:
            return
        for onward in self.fed[node.key]:
            yield from self._node(self.nodes[onward.to_node], onward, level + 1)
        for stud in self.bolted[node.key]:
            yield from self._node(stud, None, level + 1)
        for circuit in sorted(self.circuits[node.key], key=lambda item: (item.position, item.number)):
            yield self._circuit(circuit, level + 1)

    def _subject(self, node: PowerNode, run: Run | None) -> str:
        """The maker's wire that nobody drew has no row: what can be done is done to its access point."""
        return f"run:{run.key}" if run and run.key not in self.makers else f"node:{node.key}"

    def _run_words(self, run: Run) -> str:
        measures = self.sheet.measures
        if run.key in self.makers:
            fuse = f" · {run.device_rating_a:g} A" if run.device_rating_a else ""
            return f"the maker's way, on file{fuse}"
        wire = f"{run.parallel} × {run.gauge}" if run.parallel > 1 else run.gauge
        device = f" · {run.device_rating_a:g} A" if run.device_rating_a else ""
        device += " at both ends" if device and run.device_at_both_ends else ""
        return (
            f"{run.key} · {wire} {measures.gauge_unit} · {measures.length(run.length_m)} {measures.length_unit}{device}"
        )

    def _root_words(self, node: PowerNode) -> str:
        return f"bolted to {node.chassis}" if self._is_bolted(node.key) else ""

    def _amperes(self, run: Run | None) -> str:
        result = self.results.get(run.key) if run else None
        return f"{ampere(result.continuous_a)} A" if result else ""

    def _margin(self, node: PowerNode, run: Run | None) -> Margin:
        found = [self.margins[subject] for subject in (f"node:{node.key}", f"run:{run.key}" if run else "")
                 if subject in self.margins]  # fmt: skip
        order = ("blocking", "caution", "note", "")
        return min(found, key=lambda margin: order.index(margin.worst), default=_NOTHING)

    def _circuit(self, circuit: Circuit, level: int) -> TreeItem:
        measures, result = self.sheet.measures, self.loads.get(circuit.number)
        return TreeItem(
            side=self.side.value, subject=f"circuit:{circuit.number}", node=circuit.panel, level=level,
            title=circuit.number, name=circuit.legend, kind="circuit",
            how=f"position {circuit.position} · {circuit.device_rating_a:g} A · {circuit.gauge} {measures.gauge_unit}",
            amperes=f"{ampere(result.mean_a)} A" if result else "",
            margin=self.margins.get(f"circuit:{circuit.number}", _NOTHING), holds=0, again=False,
        )  # fmt: skip
