"""Bundles counted as they are drawn: ways out, wires back, cables in parallel; what is never on together is left out and said."""

from dataclasses import replace
from typing import Any

import pytest

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.explaining import explain
from builds.engineering.findings import Finding
from tests.engineering.assess.designs import SOUND, changed, with_rule

# 33 CFR 183.425 as reprinted: 1-2 conductors 1.00, 3 0.70, 4-6 0.60, 7-24 0.50, 25 and more 0.40


def carried_a(design: Design, number: str) -> float:
    found = next(circuit for circuit in assess(design).circuits if circuit.number == number)
    assert found.ampacity_a is not None
    return found.ampacity_a


def bundled(*numbers: str, **more: Any) -> Design:
    design = SOUND
    for number in numbers:
        design = changed(design, "circuit", number, **{"bundle_name": "loom", **more})
    return design


def said(design: Design, id_: str) -> list[Finding]:
    return [finding for finding in assess(design).findings if finding.id == id_]


def test_a_named_bundle_counts_the_ways_out_that_lie_in_it() -> None:
    assert carried_a(bundled("101", "103", "104"), "101") == pytest.approx(0.7 * carried_a(SOUND, "101"))


def test_a_wire_back_along_the_way_out_counts_and_a_short_one_to_a_stud_does_not() -> None:
    back = bundled("101", "102", return_length_m=4.0)

    # two out and two back
    assert carried_a(back, "101") == pytest.approx(0.6 * carried_a(SOUND, "101"))
    assert carried_a(bundled("101", "102"), "101") == pytest.approx(carried_a(SOUND, "101"))


def test_parallel_cables_of_a_run_count_each_and_a_spare_circuit_not_at_all() -> None:
    design = changed(bundled("101"), "run", "R2", bundle_name="loom", parallel=3)
    spare = replace(design, loads=tuple(load for load in design.loads if load.circuit != "104"))

    assert carried_a(design, "101") == pytest.approx(0.6 * carried_a(SOUND, "101"))
    assert carried_a(changed(spare, "circuit", "104", bundle_name="loom"), "101") == carried_a(spare, "101")


def test_what_no_condition_has_on_with_the_rest_is_left_out_and_said() -> None:
    # light bar, scene light and winch are on at the scene; the siren only while driving, with the light bar
    design = bundled("101", "102", "103", "104")
    (finding,) = said(design, "bundle-loads-left-out")
    working = explain(design, "circuit-ampacity:101")

    assert carried_a(design, "101") == pytest.approx(0.7 * carried_a(SOUND, "101"))
    assert finding.subject == "circuit:102" and "counts 3 conductors" in finding.message
    assert [row.value for row in working.steps[0].rows] == [1, 1, 1]  # type: ignore[union-attr]
    assert "left out" in working.steps[0].note and "102" in working.steps[0].note  # type: ignore[union-attr]
    assert working.result == pytest.approx(carried_a(design, "101"))


def test_a_circuit_that_is_on_in_no_condition_always_counts() -> None:
    idle = tuple(replace(one, uses=tuple(use for use in one.uses if use.load != "SIREN")) for one in SOUND.conditions)
    design = replace(bundled("101", "102", "103", "104"), conditions=idle)

    assert carried_a(design, "101") == pytest.approx(0.6 * carried_a(SOUND, "101"))
    assert not said(design, "bundle-loads-left-out")


def test_a_typed_count_below_what_is_drawn_is_said_and_does_not_count() -> None:
    design = changed(bundled("101", "102", "103", return_length_m=4.0), "circuit", "101", bundle=3)
    (finding,) = said(design, "bundle-count-low")

    assert carried_a(design, "101") == pytest.approx(0.6 * carried_a(SOUND, "101"))
    assert finding.fix is not None and not said(apply_changes(design, finding.fix.changes), "bundle-count-low")


def test_a_larger_typed_count_holds_and_works_without_a_name() -> None:
    assert carried_a(changed(bundled("101", "102"), "circuit", "101", bundle=7), "101") == pytest.approx(
        0.5 * carried_a(SOUND, "101")
    )
    assert carried_a(changed(SOUND, "circuit", "101", bundle=7), "101") == pytest.approx(0.5 * carried_a(SOUND, "101"))


def test_circuits_on_one_way_that_nobody_counted_are_one_note_of_the_build() -> None:
    design = SOUND
    for number in ("101", "102", "103", "104"):
        design = changed(design, "circuit", number, zones=("cab", "roof"))

    (finding,) = said(design, "bundle-not-counted")
    assert finding.subject == "build" and "4 circuits" in finding.message
    assert not said(
        changed(changed(design, "circuit", "101", bundle=4), "circuit", "102", bundle_name="loom"), "bundle-not-counted"
    )
    assert not said(with_rule(SOUND, "tax-ratio", 0.08), "bundle-not-counted")


def test_blanks_and_capitals_do_not_part_a_bundle_and_blanks_alone_are_no_name() -> None:
    parted = changed(bundled("101", "103", "104"), "circuit", "103", bundle_name=" Loom ")

    assert carried_a(parted, "101") == pytest.approx(0.7 * carried_a(SOUND, "101"))
    assert carried_a(bundled("101", "103", "104", bundle_name="  "), "101") == carried_a(SOUND, "101")
