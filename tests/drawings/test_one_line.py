"""The one-line diagram: everything is on it, nothing runs into anything, and what stays live is dotted."""

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from builds.drawings.one_line import draw_one_line
from builds.drawings.palette import PRINT, SCREEN
from builds.drawings.power_tree import live_nodes, power_trees
from builds.engineering.assess import assess
from builds.engineering.design import Design, PowerNode, Run
from builds.engineering.document import read_document
from builds.engineering.makers_wires import with_makers_wires
from builds.engineering.vocabulary import NodeKind, RunSide
from tests.drawings.boxes import overlapping_texts, rectangles, text_boxes, view_box
from tests.engineering.assess.plants_feeding import NAMED, WITH_24_V
from tests.factories.assessments import sample_assessment
from tests.factories.designs import large_design, small_design


def _bare(*nodes: PowerNode, runs: tuple[Run, ...] = ()) -> Design:
    return replace(small_design(), nodes=nodes, runs=runs, circuits=(), loads=(), conditions=())


def _node(key: str, kind: NodeKind) -> PowerNode:
    return PowerNode(key=key, kind=kind, name=f"{kind} {key}", zone="deck")


def _supply(key: str, start: str, end: str) -> Run:
    return Run(key=key, from_node=start, to_node=end, side=RunSide.SUPPLY, gauge="6", length_m=1)


def _without_disconnect() -> Design:
    """A battery straight on a panel, no bus anywhere."""
    design = small_design()
    keep = {"BAT1", "P1", "G0", "BODY"}
    return replace(
        design,
        nodes=tuple(node for node in design.nodes if node.key in keep),
        runs=(_supply("R1", "BAT1", "P1"),),
        circuits=tuple(circuit for circuit in design.circuits if circuit.panel == "P1"),
    )


def _panel_behind_panel() -> Design:
    design = large_design()
    moved = tuple(replace(run, from_node="P2") if run.to_node in {"P3", "P5"} else run for run in design.runs)
    return replace(design, runs=tuple(replace(run, from_node="P3") if run.to_node == "P6" else run for run in moved))


def _many_before_disconnect() -> Design:
    design = large_design()
    return replace(
        design,
        runs=tuple(
            replace(run, from_node="BAT1") if run.to_node in {"P10", "P11", "P12"} else run for run in design.runs
        ),
    )


def _with_runs(design: Design, *runs: Run) -> Design:
    return replace(design, runs=(*design.runs, *runs))


def _parallel_feeds() -> Design:
    """A second conductor beside a row's run, two more beside another's, and one beside a run of the spine."""
    design = small_design()
    spine = power_trees(design)[0].spine[1].run
    assert spine is not None
    twins = [replace(run, key=f"{run.key}b") for run in design.runs if run.to_node in ("P1", "P2")]
    third = [replace(run, key=f"{run.key}c") for run in design.runs if run.to_node == "P2"]
    return _with_runs(
        design, *twins, *third, replace(spine, key="R2b", from_node=spine.to_node, to_node=spine.from_node)
    )


def _rings() -> Design:
    """Links between two boxes, from a battery to the bus, from a box to a battery, and a third one beside a spine run."""
    design = large_design()
    bus, battery = power_trees(design)[0].bus, next(node for node in design.nodes if node.kind is NodeKind.BATTERY)
    assert bus is not None
    return _with_runs(
        design, _supply("RX1", "P1", "P4"), _supply("RX2", battery.key, bus.node.key), _supply("RX3", "P2", battery.key),
        _supply("RX4", "P6", "P4"),
    )  # fmt: skip


def _chain(length: int) -> Design:
    kinds = [NodeKind.BATTERY, *[NodeKind.BUS] * (length - 1)]
    nodes = tuple(_node(f"N{place}", kind) for place, kind in enumerate(kinds))
    runs = tuple(_supply(f"R{place}", f"N{place - 1}", f"N{place}") for place in range(1, length))
    return _bare(*nodes, runs=runs)


NET_C = read_document((Path(__file__).parents[1] / "cases/28-reference-net-c.json").read_bytes())

DESIGNS = {
    "parallel feeds": _parallel_feeds(),
    "rings": _rings(),
    "net C": NET_C,
    "a chain": _chain(14),
    "small": small_design(),
    "twelve panels": large_design(),
    "no disconnect, no bus": _without_disconnect(),
    "panels behind panels": _panel_behind_panel(),
    "three panels on the starting battery": _many_before_disconnect(),
    "two systems": _bare(
        _node("B24", NodeKind.BATTERY), _node("P24", NodeKind.PANEL), _node("B12", NodeKind.BATTERY), _node("P12", NodeKind.PANEL),
        runs=(_supply("R1", "B24", "P24"), _supply("R2", "B12", "P12")),
    ),
    "a converter and its bus": WITH_24_V,
    "a bus alone": _bare(_node("B1", NodeKind.BUS)),
    "long names": replace(
        small_design(),
        nodes=tuple(
            replace(node, name="Auxiliary distribution and switching, left rear quarter") for node in small_design().nodes
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS.keys())
@pytest.mark.parametrize("assessed", [True, False], ids=["assessed", "not assessed"])
def test_draw_one_line_lets_no_two_texts_meet(design: Design, *, assessed: bool) -> None:
    assert overlapping_texts(draw_one_line(design, sample_assessment(design) if assessed else None)) == []


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS.keys())
def test_draw_one_line_keeps_boxes_apart_and_texts_in_or_out(design: Design) -> None:
    svg = draw_one_line(design, sample_assessment(design))
    boxes = rectangles(svg)

    for index, box in enumerate(boxes):
        assert not any(box.meets(other) for other in boxes[index + 1 :])
        for words in text_boxes(svg):
            assert words.inside(box) or not words.meets(box), words.words


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS.keys())
def test_draw_one_line_stays_inside_its_frame(design: Design) -> None:
    svg = draw_one_line(design, sample_assessment(design))
    frame = view_box(svg)

    assert all(box.inside(frame) for box in [*text_boxes(svg), *rectangles(svg)])


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS.keys())
def test_draw_one_line_names_every_node_and_run_of_the_supply(design: Design) -> None:
    said = " ".join(box.words for box in text_boxes(draw_one_line(design)))

    for node in design.nodes:
        if node.kind not in (NodeKind.GROUND, NodeKind.CHASSIS):
            assert re.search(rf"\b{node.key}\b", said), node.key
    for run in design.runs:
        if run.side is RunSide.SUPPLY:
            assert re.search(rf"\b{run.key}\b", said), run.key


def test_draw_one_line_draws_a_circuit_that_hangs_on_the_bus() -> None:
    said = [box.words for box in text_boxes(draw_one_line(small_design()))]

    assert "301" in said
    assert "SHORE WINCH" in said
    assert "200 A breaker" in said


def test_draw_one_line_draws_a_converter_with_both_its_voltages() -> None:
    boxes = {box.words: box for box in text_boxes(draw_one_line(WITH_24_V))}

    taken, given = boxes["12 V"], boxes["24 V"]  # what it takes above and to the left of what it gives
    assert taken.bottom <= given.top and taken.left < given.left
    assert "converter: volts it takes above, gives below" in boxes
    assert "converter: volts it takes above, gives below" not in {
        box.words for box in text_boxes(draw_one_line(small_design()))
    }


def test_draw_one_line_draws_what_closes_a_ring_as_a_line_with_its_label() -> None:
    ring = _with_runs(small_design(), _supply("R9", "P1", "P2"))

    svg = draw_one_line(ring)
    said = [box.words for box in text_boxes(svg)]

    assert any(words.startswith("R9 · 6 ga") for words in said)
    assert any(words.startswith("to P2 ") for words in said)
    assert "not drawn" not in " ".join(said)
    lane = re.search(r"M696 ([\d.]+)H708V([\d.]+)H696", svg)
    assert lane is not None and lane.group(1) != lane.group(2)


@pytest.mark.parametrize("name", ["parallel feeds", "rings", "net C"])
def test_draw_one_line_leaves_no_supply_run_out(name: str) -> None:
    svg = draw_one_line(DESIGNS[name])
    drawn = set(re.findall(r'data-subject="run:([^"]+)"', svg))

    supply = {run.key for run in DESIGNS[name].runs if run.side is RunSide.SUPPLY}
    on_spine = {step.run.key for tree in power_trees(DESIGNS[name]) for step in tree.spine if step.run}
    on_spine |= {tree.bus.run.key for tree in power_trees(DESIGNS[name]) if tree.bus and tree.bus.run}
    assert supply - drawn - on_spine == set()
    assert "not drawn" not in svg


def test_parallel_conductors_are_two_lines_between_the_same_two_nodes() -> None:
    design = small_design()
    (run,) = [run for run in design.runs if run.to_node == "P1"]

    one, two = (draw_one_line(each) for each in (design, _with_runs(design, replace(run, key="R3b"))))

    lines = [len(re.findall(r"<path[^>]*stroke-linejoin", svg)) for svg in (one, two)]
    assert lines[1] == lines[0] + 1
    said = [box.words for box in text_boxes(two)]
    first, second = (next(words for words in said if words.startswith(f"{key} ·")) for key in (run.key, "R3b"))
    assert first.partition(" · ")[2] == second.partition(" · ")[2]


def test_draw_one_line_of_a_thousand_nodes_in_a_chain_and_a_ring_of_as_many() -> None:
    chain = _chain(1000)
    ring = _with_runs(chain, _supply("R1000", "N999", "N1"))

    for design in (chain, ring):
        svg = draw_one_line(design)
        assert svg.count('data-node="N') >= 1000 - 2
    assert "R1000 ·" in svg


def test_draw_one_line_of_nothing_says_so() -> None:
    said = [box.words for box in text_boxes(draw_one_line(_bare()))]

    assert "No power tree yet." in said


def test_draw_one_line_shows_each_finding_at_its_thing() -> None:
    plain, marked = (draw_one_line(small_design(), a) for a in (None, sample_assessment(small_design())))

    # blocking on a circuit of P1, caution on a run and on BAT2, note on P2; each once more in the key
    def shapes(svg: str) -> int:
        return svg.count("scale(0.94)")

    assert shapes(plain) == 0
    assert shapes(marked) == 4 + 3


def test_draw_one_line_dots_as_many_runs_as_stay_live() -> None:
    dots = draw_one_line(large_design()).count('stroke-dasharray="1.8 3"')

    # R0 to R3 up to the disconnect, R5 to the panel on BAT2, and the key
    assert dots == 4 + 1 + 1


def test_live_nodes_stops_at_the_open_disconnect() -> None:
    live = live_nodes(large_design())

    assert {"ALT", "BAT1", "ISO", "BAT2", "P1"} <= live
    assert not live & {"SW1", "MB", "P2", "RB", "P8"}


def test_power_trees_puts_the_bus_with_most_behind_it_last() -> None:
    (tree,) = power_trees(large_design())

    assert [step.node.key for step in tree.spine] == ["ALT", "BAT1", "ISO", "BAT2", "SW1"]
    assert tree.bus is not None
    assert tree.bus.node.key == "MB"


@pytest.mark.parametrize("palette", [PRINT, SCREEN], ids=["print", "screen"])
def test_draw_one_line_writes_no_style_and_no_id(palette: object) -> None:
    svg = draw_one_line(large_design(), sample_assessment(large_design()), palette=palette)  # type: ignore[arg-type]
    root = ElementTree.fromstring(svg)

    assert root.find("{http://www.w3.org/2000/svg}title") is not None
    assert root.find("{http://www.w3.org/2000/svg}desc") is not None
    assert not [node for node in root.iter() if node.get("style") or node.get("id")]
    assert ("class=" in svg.replace('class="one-line"', "")) is (palette is SCREEN)


def test_draw_one_line_repeats_itself_to_the_byte() -> None:
    assert draw_one_line(large_design(), sample_assessment(large_design())) == draw_one_line(
        large_design(), sample_assessment(large_design())
    )


def test_an_access_point_that_nobody_drew_hangs_on_its_source_through_the_makers_fuse() -> None:
    drawing = draw_one_line(NAMED, assess(NAMED))

    assert len(power_trees(with_makers_wires(NAMED))) == 1
    assert "60 A MRBF fuse" in drawing
    assert "AP1-maker from" in drawing  # said to whoever cannot see it
    assert 'data-subject="node:AP1"' in drawing
    assert 'data-subject="run:AP1-maker"' not in drawing
