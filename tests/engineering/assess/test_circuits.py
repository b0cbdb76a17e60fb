"""Circuits at their worst: currents, bounds of the sizing rules, proposals and the rule that decided."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessing.circuit_results import Needs, gauge_for
from builds.engineering.assessing.devices import device_at
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.wires import wire_of_circuit
from builds.engineering.assessment import CircuitResult
from builds.engineering.changes import apply_changes
from builds.engineering.design import Circuit, Design, Zone
from builds.engineering.electrical.conductors import ConductorSize, resistance_ratio
from builds.engineering.electrical.sizing import DecidingRule, SizingRequest, choose_conductor_and_device
from builds.engineering.vocabulary import GaugeBasis, LoadModel
from tests.engineering.assess.designs import SOUND, added, changed, circuit, load, with_rule


def result_of(design: Design, number: str) -> CircuitResult:
    return {circuit.number: circuit for circuit in assess(design).circuits}[number]


def ids(design: Design) -> set[str]:
    return {finding.id for finding in assess(design).findings}


def test_flashing_load_that_can_be_steady_is_sized_steady() -> None:
    # 12 A at half duty: mean 6 A; a lamp test may hold it on, so 12 A
    bar = result_of(SOUND, "101")

    assert (bar.mean_a, bar.continuous_a, bar.peak_a) == pytest.approx((6.0, 12.0, 12.0))


def test_flashing_load_that_cannot_be_steady_is_sized_on_its_rms() -> None:
    # 12 A at half duty: 12 × sqrt(0.5) = 8.485 A; drop is judged at the lit 12 A all the same
    bar = result_of(changed(SOUND, "load", "BAR", can_be_steady=False), "101")

    assert bar.continuous_a == pytest.approx(8.485, abs=1e-3)
    assert bar.peak_a == pytest.approx(12.0)
    assert bar.drop_v == pytest.approx(result_of(SOUND, "101").drop_v)


def test_lamp_takes_most_at_the_high_voltage_and_constant_power_at_the_low() -> None:
    # 4 A at 12.8 V is 3.2 Ω: up to 14.2 V less what is lost; 102.4 W at a little under 13.0 V
    winch, scene = result_of(SOUND, "104"), result_of(SOUND, "103")

    assert 4.0 * 14.0 / 12.8 < winch.continuous_a < 4.0 * 14.2 / 12.8
    assert 102.4 / 13.0 < scene.continuous_a < 102.4 / 12.5


def test_twenty_four_amperes_just_fit_a_thirty_ampere_device() -> None:
    # 24 / 0.8 is exactly 30, at 25 °C where nothing is rerated
    shade = Zone(key="shade", name="shade", ambient_c=25.0, x_mm=0.0, y_mm=0.0)
    cool = replace(SOUND, platform=replace(SOUND.platform, zones=(*SOUND.platform.zones, shade)))
    cool = changed(cool, "node", "P1", zone="shade")
    bar = changed(cool, "load", "BAR", current_a=24.0)
    design = changed(bar, "circuit", "101", device_rating_a=30.0, gauge="8", zones=("cab",))

    assert "device-loading-exceeded" not in ids(design)
    assert "device-loading-exceeded" in ids(changed(design, "load", "BAR", current_a=24.1))


@pytest.mark.parametrize(
    ("bundle", "factor"), [(1, 1.0), (2, 1.0), (3, 0.7), (4, 0.6), (6, 0.6), (7, 0.5), (24, 0.5), (25, 0.4)]
)
def test_bundle_counts_at_the_edges_of_the_bands(bundle: int, factor: float) -> None:
    # 33 CFR 183.425 Note 2 as marine practice reads it: 35.6 A alone (14 gauge, 125 °C insulation, 50 °C)
    assert result_of(changed(SOUND, "circuit", "104", bundle=bundle), "104").ampacity_a == pytest.approx(35.6 * factor)


def test_wire_lies_in_the_hottest_of_its_zones() -> None:
    # 14 gauge with 125 °C insulation: 40 A at 30 °C; engine bay at 85 °C leaves sqrt(40/95)
    hot = changed(SOUND, "circuit", "104", zones=("cab", "engine"))

    assert result_of(hot, "104").ampacity_a == pytest.approx(40 * (40 / 95) ** 0.5)


def test_insulation_as_hot_as_its_place_carries_nothing() -> None:
    hot = changed(changed(SOUND, "circuit", "104", zones=("engine",)), "circuit", "104", insulation_c=85.0)

    assert result_of(hot, "104").ampacity_a == 0.0
    found = next(one for one in assess(hot).findings if one.id == "insulation-below-ambient")
    assert "conductor-below-load" not in ids(hot)
    assert "90 °C or more" in found.hint  # the first column of the table in 33 CFR 183.425 above the engine bay's 85 °C
    assert found.fix is not None
    assert "insulation-below-ambient" not in ids(apply_changes(hot, found.fix.changes))
    assert result_of(apply_changes(hot, found.fix.changes), "104").ampacity_a >= 15.0  # its device


def test_intermittent_load_may_use_all_of_its_device_and_a_continuous_one_only_part() -> None:
    # 5 A blade at 50 °C carries 4.69 A; the winch contactor takes 4.37 A: 93 %
    design = changed(SOUND, "circuit", "104", device_rating_a=5.0)

    assert ids(design) == set()
    assert ids(changed(design, "load", "WINCH", continuous=True)) == {"device-loading-exceeded"}


def test_unused_load_is_counted_for_its_own_circuit_and_nothing_else() -> None:
    before, after = assess(SOUND), assess(added(SOUND, "load", load("FAN", "104", "fan", "cab", 1.5)))
    wire = {circuit.number: circuit.continuous_a for circuit in after.circuits}["104"]

    assert wire == pytest.approx({circuit.number: circuit.continuous_a for circuit in before.circuits}["104"] + 1.5)
    assert after.conditions == before.conditions
    assert after.runs == before.runs


def test_circuit_that_feeds_nothing_keeps_its_device() -> None:
    spare = result_of(added(SOUND, "circuit", circuit("105", "SPARE", "P1", 5, 10.0, "14", 1.0)), "105")

    assert (spare.continuous_a, spare.proposed_rating_a, spare.worst_condition) == (0.0, 10.0, "")


# ---- proposals against the core's own choice -------------------------------------------------------------------------

WORDS = {
    "load": DecidingRule.AMPACITY_LOAD,
    "device": DecidingRule.DEVICE_MARGIN,
    "drop": DecidingRule.DROP,
    "far-end fault": DecidingRule.FAR_END_FAULT,
    "smallest allowed": DecidingRule.SHOP_MINIMUM,
}


@pytest.mark.parametrize("margin", [1.0, 1.35])
@pytest.mark.parametrize("length_m", [0.0, 1.5, 6.0, 20.0, 60.0])
@pytest.mark.parametrize("rating_a", [5.0, 15.0, 30.0])
@pytest.mark.parametrize("bundle", [1, 8])
def test_gauge_and_rule_are_those_of_the_published_order(
    margin: float, length_m: float, rating_a: float, bundle: int
) -> None:
    design = with_rule(changed(SOUND, "circuit", "101", length_m=length_m, bundle=bundle), "conductor-margin", margin)
    index = index_design(design)
    wire = wire_of_circuit(index, _circuit(design, "101"))
    drop_limit_v, elsewhere_v, current_a = 1.2, 0.1, 12.0
    needs = Needs(
        current_a=current_a,
        continuous_a=current_a,
        most_drop_ohm=(drop_limit_v - elsewhere_v) / current_a / resistance_ratio(temperature_c=50.0),
        loop_ohm=0.01,
        fault_v=12.0,
        fault_temp_ratio=resistance_ratio(temperature_c=50.0),
    )

    gauge, rule = gauge_for(index, wire, needs, device_at("ATO", rating_a, 50.0))
    chosen = choose_conductor_and_device(
        SizingRequest(
            basis=GaugeBasis.SAE,
            continuous_a=current_a,
            family="ATO",
            loading_ratio=0.8,
            device_ambient_c=50.0,
            insulation_c=125.0,
            ambient_c=wire.ambient_c,
            bundle_count=bundle,
            margin_ratio=margin,
            length_out_m=length_m,
            length_back_m=0.5,
            drop_current_a=current_a,
            drop_limit_v=drop_limit_v,
            drop_elsewhere_v=elsewhere_v,
            drop_conductor_c=50.0,
            fault_v=12.0,
            fault_source_ohm=0.01,
            fault_conductor_c=50.0,
            given_rating_a=rating_a,
            min_gauge=ConductorSize(GaugeBasis.SAE, "18"),
        )
    )

    assert gauge == (chosen.size.gauge if chosen.size else "")
    assert WORDS[rule] is chosen.decided_by


def _circuit(design: Design, number: str) -> Circuit:
    return next(one for one in design.circuits if one.number == number)


@pytest.mark.parametrize("number", [one.number for one in SOUND.circuits])
def test_proposed_pair_brings_no_finding(number: str) -> None:
    proposed = result_of(SOUND, number)
    design = changed(
        SOUND, "circuit", number, gauge=proposed.proposed_gauge, device_rating_a=proposed.proposed_rating_a
    )

    assert {finding.id for finding in assess(design).findings} <= {"drop-near-limit"}


def test_deciding_rule_is_the_drop_of_a_long_wire() -> None:
    assert result_of(changed(SOUND, "circuit", "103", length_m=12.0), "103").deciding_rule == "drop"


def test_radio_is_held_to_its_own_rule() -> None:
    radio = result_of(SOUND, "201")

    assert radio.drop_rule == "drop-radio"
    assert radio.drop_limit_ratio * radio.drop_base_v == pytest.approx(0.2)


def test_mean_never_exceeds_rms_nor_rms_the_peak() -> None:
    for one in assess(changed(SOUND, "load", "WINCH", model=LoadModel.RESISTIVE)).circuits:
        assert one.mean_a <= one.continuous_a + 1e-12
        assert one.continuous_a <= one.peak_a + 1e-12
