"""Changes of the power tree: what steps they take, that the tree stays whole, and what is refused in which words."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessing.battery_ends import battery_ends
from builds.engineering.design import Design, Run
from builds.engineering.errors import TreeRefused
from builds.engineering.tree_edits import (
    add_below,
    design_with_steps,
    fed_by,
    feed_from,
    feeds_of,
    move_circuit,
    split_run,
    take_out_node,
    take_out_run,
)
from builds.engineering.vocabulary import RunSide
from tests.factories.designs import large_design, small_design

SMALL = small_design()  # ALT, BAT1 - ISO - BAT2 - SW1 - MB, which feeds P1, P2 and the winch's circuit 301
LARGE = large_design()  # twelve panels; P8 and P9 hang on the rear bus RB, P1 on BAT2
BUS = {"key": "B1", "kind": "bus", "name": "Sub-bus", "zone": "deck"}


def places(design: Design) -> set[tuple[str, str, str]]:
    return {(run.key, run.from_node, run.to_node) for run in design.runs}


def test_feed_from_elsewhere_changes_the_one_run() -> None:
    after = design_with_steps(LARGE, feed_from(LARGE, run="R12", source="MB"))

    assert places(LARGE) ^ places(after) == {("R12", "RB", "P8"), ("R12", "MB", "P8")}
    assert len(assess(after).circuits) == len(LARGE.circuits)  # every circuit is still fed


def test_split_feed_shares_the_length_and_keeps_the_device_at_the_battery_end() -> None:
    before = next(run for run in SMALL.runs if run.key == "R6")

    after = design_with_steps(SMALL, split_run(SMALL, run="R6", at_m=1.5, node=BUS, new_run="R7"))

    upper, lower = (next(run for run in after.runs if run.key == key) for key in ("R6", "R7"))
    assert (upper.from_node, upper.to_node, lower.from_node, lower.to_node) == ("MB", "B1", "B1", "P2")
    assert upper.length_m + lower.length_m == pytest.approx(before.length_m, abs=1e-9)
    assert (upper.device_rating_a, lower.device_rating_a, lower.gauge) == (80, None, before.gauge)
    drops = {result.number: result.drop_v for result in assess(SMALL).circuits}
    # splitting a cable in place moves no voltage: the same copper carries the same current
    for result in assess(after).circuits:
        assert result.drop_v == pytest.approx(drops[result.number], rel=1e-9)


def test_a_split_leaves_each_half_of_a_link_the_device_at_its_own_source() -> None:
    link = Run(
        key="R20", from_node="BAT1", to_node="BAT2", side=RunSide.SUPPLY, gauge="1", length_m=3.0,
        device_family="MRBF", device_rating_a=150.0, device_distance_m=0.1, device_at_both_ends=True,
    )  # fmt: skip
    design = replace(SMALL, runs=(*SMALL.runs, link))

    after = design_with_steps(design, split_run(design, run="R20", at_m=1.5, node=BUS, new_run="R21"))

    halves = [next(run for run in after.runs if run.key == key) for key in ("R20", "R21")]
    assert [(run.device_rating_a, run.device_at_both_ends) for run in halves] == [(150.0, False), (150.0, False)]
    assert [battery_ends(after)[run.key] for run in halves] == ["BAT1", "BAT2"]
    with pytest.raises(TreeRefused, match="second device"):
        split_run(design, run="R20", at_m=2.95, node=BUS, new_run="R21")


def test_add_below_adds_the_node_with_its_feed() -> None:
    run = {"key": "R9", "side": "supply", "gauge": "8", "length_m": 1.0, "device_family": "MIDI", "device_rating_a": 40}

    after = design_with_steps(SMALL, add_below(SMALL, source="MB", node=BUS, run=run))

    assert [(item.key, item.from_node) for item in feeds_of(after, "B1")] == [("R9", "MB")]
    assert after.nodes[-1].key == "B1"


def test_take_out_closed_up_feeds_what_hung_there_from_above() -> None:
    steps = take_out_node(LARGE, node="RB", close_up=True)

    after = design_with_steps(LARGE, steps)

    assert {run.to_node for run in fed_by(after, "MB")} >= {"P8", "P9"}
    assert "RB" not in {node.key for node in after.nodes} and not feeds_of(after, "RB")
    assert [step.key for step in steps][-1] == "RB"  # last, so that nothing names what is gone


def test_take_out_run_leaves_its_nodes() -> None:
    after = design_with_steps(SMALL, take_out_run(SMALL, run="R5"))

    assert not feeds_of(after, "P1") and after.nodes == SMALL.nodes


def test_move_circuit_takes_the_first_free_position_or_the_one_asked_for() -> None:
    first = move_circuit(SMALL, number="101", panel="P2")
    asked = move_circuit(SMALL, number="101", panel="P1", position=12)

    assert first[0].values == {"panel": "P2", "position": 8}
    assert asked[0].values == {"panel": "P1", "position": 12}


@pytest.mark.parametrize(
    ("ask", "field", "words"),
    [
        (lambda: feed_from(SMALL, run="R5", source="MB"), "source", "comes from MB already"),
        (lambda: feed_from(SMALL, run="R5", source="P1"), "source", "cannot feed itself"),
        (lambda: feed_from(SMALL, run="R5", source="G1"), "source", "takes current back"),
        (lambda: feed_from(SMALL, run="N1", source="P1"), "source", "a return cannot lead to it"),
        (lambda: feed_from(SMALL, run="R4", source="P1"), "source", "hangs below MB"),
        (lambda: feed_from(LARGE, run="R20", source="P8"), "source", "hangs below RB"),
        (lambda: feed_from(SMALL, run="R5", source="XX"), "source", "no XX"),
        (lambda: feed_from(SMALL, run="R99", source="MB"), "run", "no run R99"),
        (lambda: move_circuit(SMALL, number="101", panel="P1"), "source", "starts at P1 already"),
        (lambda: move_circuit(SMALL, number="101", panel="MB"), "source", "MB is a bus"),
        (lambda: move_circuit(SMALL, number="101", panel="P1", position=2), "position", "Circuit 102 sits"),
        (lambda: move_circuit(SMALL, number="101", panel="P1", position=13), "position", "12 positions"),
        (lambda: move_circuit(SMALL, number="999", panel="P1"), "circuit", "no circuit 999"),
        (lambda: split_run(SMALL, run="R6", at_m=4.9, node=BUS, new_run="R7"), "at_m", "between its ends"),
        (lambda: split_run(SMALL, run="R6", at_m=0, node=BUS, new_run="R7"), "at_m", "between its ends"),
        (lambda: add_below(SMALL, source="G1", node=BUS, run={"key": "R9", "side": "supply"}), "source", "takes current"),
        (
            lambda: add_below(SMALL, source="MB", node=None, run={"key": "R9", "side": "supply", "to_node": "MB"}),
            "to_node", "cannot feed itself",
        ),
        (lambda: take_out_node(SMALL, node="P1"), "", "holds circuits 101, 102, 103, 104 and 6 more"),
        (lambda: take_out_node(SMALL, node="G1"), "", "return to G1"),
        (lambda: take_out_node(SMALL, node="BODY"), "", "G0, G1 are bolted to BODY"),
        (lambda: take_out_node(LARGE, node="RB"), "", "feeds P8, P9"),
        (lambda: take_out_node(SMALL, node="BAT1", close_up=True), "", "fed by nothing"),
        (lambda: take_out_node(SMALL, node="XX"), "node", "no XX"),
        (lambda: take_out_run(SMALL, run="XX"), "run", "no run XX"),
    ],
)  # fmt: skip
def test_what_makes_no_tree_is_refused_in_words(ask: Callable[[], Any], field: str, words: str) -> None:
    with pytest.raises(TreeRefused, match=words) as refused:
        ask()

    assert refused.value.field == field


def test_no_feed_that_is_allowed_leaves_a_fed_thing_unfed() -> None:
    """Each run of the tree, tried from each node: refused, or everything that was reached is reached still."""
    fed = _reached(LARGE)
    for run in (run for run in LARGE.runs if run.side is RunSide.SUPPLY):
        for node in LARGE.nodes:
            try:
                steps = feed_from(LARGE, run=run.key, source=node.key)
            except TreeRefused:
                continue
            assert _reached(design_with_steps(LARGE, steps)) | {run.from_node} >= fed - {run.from_node}


def _reached(design: Design) -> set[str]:
    """Nodes joined to a battery over supply runs, whichever way each was drawn."""
    reached = {node.key for node in design.nodes if node.battery is not None}
    while True:
        more = {
            end
            for run in design.runs
            if run.side is RunSide.SUPPLY and {run.from_node, run.to_node} & reached
            for end in (run.from_node, run.to_node)
        }
        if more <= reached:
            return reached
        reached |= more


def test_a_key_that_is_taken_is_not_added_again() -> None:
    steps = split_run(SMALL, run="R6", at_m=1.5, node=BUS, new_run="R7")
    after = design_with_steps(SMALL, steps)

    with pytest.raises(TreeRefused, match=f"{BUS['key']} is taken"):
        design_with_steps(after, steps[:1])
