"""Whatever a document may hold is assessed: the ends of every range, and parts drawn where they do not belong."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import BatterySpec, ConverterSpec, Design, LoadUse, Run, SourceSpec, SourceUse
from builds.engineering.document.limits import limits_of
from builds.engineering.electrical.protection import device_margin_severity
from builds.engineering.findings import Severity
from builds.engineering.flows import solve_conditions
from builds.engineering.vocabulary import LoadModel, NodeKind, RunSide
from tests.engineering.assess.designs import SOUND, added, changed, supply, without


def ids_of(design: Design) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assess(design).findings}


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


def test_a_converter_that_gives_nothing_bounds_what_flows_behind_it() -> None:
    spec = ConverterSpec(output_v=24.0, limit_a=0.0, efficiency_ratio=0.9, return_node="G1")
    converter = replace(SOUND.nodes[0], key="CONV", kind=NodeKind.CONVERTER, battery=None, converter=spec)
    bus = replace(converter, key="BUS", kind=NodeKind.BUS, converter=None)
    runs = (supply("R8", "P1", "CONV", "8", 1.0), supply("R9", "CONV", "BUS", "8", 1.0))
    design = added(added(SOUND, "node", converter, bus), "run", *runs)

    assert next(run for run in assess(design).runs if run.key == "R9").continuous_a == 0.0


def test_forty_large_devices_that_let_current_through_together_are_one_figure() -> None:
    assert device_margin_severity(ampacity_a=400.0, rating_a=40 * 5000.0, margin_ratio=1.0) is Severity.BLOCKING


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


def test_a_charger_that_carries_its_loads_to_the_last_digit_leaves_the_battery_at_rest() -> None:
    both = SourceUse(node="SHORE", low_v=13.0, high_v=13.0)
    watch = replace(SOUND.conditions[2], sources=(both,), uses=(LoadUse(load="RADIO"), LoadUse(load="LOCKER")))
    spec = SourceSpec(limit_a=0.3, low_v=13.0, high_v=13.0)  # 0.1 + 0.2 is more by rounding alone
    shore = replace(SOUND.nodes[0], key="SHORE", kind=NodeKind.SHORE, battery=None, source=spec)
    design = added(replace(SOUND, conditions=(watch,)), "node", shore)
    for key, current_a in (("RADIO", 0.1), ("LOCKER", 0.2)):
        design = changed(design, "load", key, model=LoadModel.CONSTANT_CURRENT, current_a=current_a, quantity=1)
    cable = Run(key="R8", from_node="SHORE", to_node="BAT2", side=RunSide.SUPPLY, gauge="8", length_m=1.0)

    assert assess(added(design, "run", cable)).conditions[0].battery_h is None


def test_a_battery_label_with_no_reserve_minutes_is_one_without_the_figure() -> None:
    condition = replace(SOUND.conditions[2], reserve_test_min=15.0)
    design = replace(SOUND, conditions=(*SOUND.conditions[:2], condition, SOUND.conditions[3]))
    battery = next(node.battery for node in SOUND.nodes if node.key == "BAT2")
    assert battery is not None

    none = changed(design, "node", "BAT2", battery=replace(battery, reserve_min=0.0))

    assert ("reserve-unknown", "condition:watch") in ids_of(none)


def test_batteries_that_sink_to_nothing_under_what_charging_leaves_them_find_no_operating_point() -> None:
    weak = SOUND
    for node in SOUND.nodes:
        if node.battery is not None:
            weak = changed(weak, "node", node.key, battery=replace(node.battery, internal_mohm=1000.0))
    idle = changed(weak, "condition", "scene", sources=(SourceUse(node="ALT", limit_a=0.0),))
    for load in ("SCENE", "RADIO", "BAR"):
        idle = changed(idle, "load", load, min_v=0.0, model=LoadModel.CONSTANT_CURRENT)

    assert ("no-operating-point", "condition:scene") in ids_of(idle)


def test_a_return_at_a_battery_that_feeds_nothing_is_left_out_of_what_flows() -> None:
    spare = replace(next(node for node in SOUND.nodes if node.key == "BAT2"), key="BAT3")
    stud = replace(next(node for node in SOUND.nodes if node.key == "G1"), key="G3", chassis="BAT3")

    assert set(solve_conditions(added(SOUND, "node", spare, stud))) == set(solve_conditions(SOUND))


@pytest.mark.parametrize(
    ("inrush_a", "said"),
    [(10_000.0, "may open at that at once"), (18.0, "for 1,388 s at the least"), (15.5, "bears that.")],
)
def test_a_start_says_how_long_the_device_bears_it_in_plain_figures(inrush_a: float, said: str) -> None:
    load_v = next(circuit.load_v for circuit in assess(SOUND).circuits if circuit.number == "103")
    starting = changed(SOUND, "load", "SCENE", inrush_a=inrush_a, min_v=load_v - 0.01)
    message = next(one.message for one in assess(starting).findings if one.id == "inrush-below-least")

    assert said in message and "e+" not in message
