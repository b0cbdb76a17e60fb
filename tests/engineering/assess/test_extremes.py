"""Whatever a document may hold is assessed: the ends of every range, and parts drawn where they do not belong."""

import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from builds.engineering.assess import assess
from builds.engineering.design import BatterySpec, ConverterSpec, Design, Run
from builds.engineering.document.limits import limits_of
from builds.engineering.vocabulary import LoadModel, NodeKind, RunSide
from tests.engineering.assess.designs import SOUND, added, changed, without
from tests.engineering.document.designs import designs


def ids_of(design: Design) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assess(design).findings}


@given(design=designs())
@settings(
    max_examples=40, phases=(Phase.explicit, Phase.generate), suppress_health_check=list(HealthCheck)
)  # none made smaller where one fails: a design is shown whole
def test_any_design_that_a_document_can_hold_is_assessed(design: Design) -> None:
    findings = assess(design).findings

    assert all(math.isfinite(number.value) for finding in findings for number in finding.numbers)


@pytest.mark.parametrize("model", LoadModel)
def test_as_many_of_the_largest_load_as_can_be_counted_are_assessed(model: LoadModel) -> None:
    most_a, most = limits_of("Load", "current_a").most, int(limits_of("Load", "quantity").most)
    huge = changed(SOUND, "load", "WINCH", model=model, current_a=most_a, quantity=most, min_v=9.0)

    assert ("load-cuts-out", "load:WINCH") in ids_of(huge)
    if model is not LoadModel.RESISTIVE:  # a short across the source has an operating point, however low
        assert ("no-operating-point", "condition:scene") in ids_of(changed(huge, "load", "WINCH", min_v=0.0))


def test_a_converter_that_gives_a_ten_thousandth_of_what_it_takes_is_assessed() -> None:
    spec = ConverterSpec(output_v=60.0, limit_a=5000.0, efficiency_ratio=0.0001, return_node="G1")
    converter = replace(SOUND.nodes[0], key="CONV", kind=NodeKind.CONVERTER, battery=None, converter=spec)
    run = Run(key="R9", from_node="P1", to_node="CONV", side=RunSide.SUPPLY, gauge="8", length_m=1.0)
    design = added(added(SOUND, "node", converter), "run", run)
    design = changed(design, "circuit", "104", panel="CONV")

    assert any(id_ == "no-operating-point" for id_, _ in ids_of(design))


def test_figures_of_another_kind_of_node_count_for_nothing() -> None:
    spec = BatterySpec(
        capacity_ah=95, rated_hours=20, peukert_exponent=1.2, internal_mohm=4, open_circuit_v=12.8, usable_ratio=0.5
    )
    for key in ("P1", "DISC", "G1"):
        assert assess(changed(SOUND, "node", key, battery=spec)) == assess(SOUND)


def test_a_device_in_a_return_that_ends_at_another_battery_names_its_post() -> None:
    to_post = changed(without(SOUND, "run", "S2"), "circuit", "101", return_node="BAT2")
    back = Run(
        key="S3", from_node="BAT1", to_node="BAT2", side=RunSide.RETURN, gauge="4", length_m=1.0,
        device_family="MRBF", device_rating_a=100.0,
    )  # fmt: skip
    findings = assess(added(to_post, "run", back)).findings

    assert [one.message for one in findings if one.id == "return-device-bypassed"] == [
        "Run S3 (BAT1 to BAT2) has a 100 A device in a way back: when it opens, BAR, RADIO and LOCKER may return over the post of BAT2."
    ]
