"""What cannot be computed has no figure: dead panels, missing returns, unknown conductors, no operating point."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import Design
from tests.engineering.assess.designs import SOUND, changed, without
from tests.engineering.assess.plants import PLANTS


def planted(name: str) -> Design:
    return next(plant.design for plant in PLANTS if plant.name == name)


def test_circuit_that_nothing_feeds_has_no_result_and_the_others_have() -> None:
    assessment = assess(planted("panel that nothing feeds"))

    assert [circuit.number for circuit in assessment.circuits] == ["101", "102", "103", "104"]


def test_circuit_over_an_unknown_conductor_has_no_result() -> None:
    assessment = assess(planted("gauge that no table has"))

    assert "104" not in [circuit.number for circuit in assessment.circuits]


def test_circuits_behind_an_unknown_run_have_no_result() -> None:
    assessment = assess(planted("run of a gauge that no table has"))

    assert [circuit.number for circuit in assessment.circuits] == ["101", "102", "103", "104"]
    assert "R6" not in [run.key for run in assessment.runs]


def test_condition_without_an_operating_point_has_no_result_and_the_others_have() -> None:
    design = changed(
        changed(SOUND, "load", "SCENE", current_a=100.0, min_v=0.0), "circuit", "103", gauge="16", length_m=20.0
    )
    assessment = assess(design)

    assert [condition.key for condition in assessment.conditions] == ["driving", "watch", "parked"]


def test_design_without_a_battery_is_only_told_that_nothing_is_fed() -> None:
    bare = without(SOUND, "node", "BAT1", "BAT2")
    assessment = assess(replace(bare, runs=()))

    assert assessment.circuits == ()
    assert {finding.id for finding in assessment.findings if finding.severity == "blocking"} == {"not-fed"}


def test_empty_design_is_assessed() -> None:
    empty = replace(SOUND, nodes=(), runs=(), circuits=(), loads=(), conditions=(), operations=(), parts=())

    assert assess(empty).findings == ()
    assert assess(empty).circuits == ()


def test_circuits_without_conditions_are_sized_on_their_data_sheets() -> None:
    assessment = assess(replace(SOUND, conditions=()))
    circuits = {circuit.number: circuit for circuit in assessment.circuits}

    assert circuits["101"].continuous_a == pytest.approx(12.0)
    assert {finding.id for finding in assessment.findings} == {"load-unused"}
