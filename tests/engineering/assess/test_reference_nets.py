"""
Reference networks through the whole assessment.

Source: three small distributions worked out with a matrix solver and with ngspice, which agree to all digits given here;
resistances from the printed AWG table (Ω per 1000 ft: 4 AWG 0.2485, 10 0.9989, 12 1.588, 14 2.525, 16 4.016). The engine
takes copper's resistivity over the area instead, which is within 0.1 % of the printed column, so drops are held to 0.1 %.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.design import (
    BatterySpec,
    Buyer,
    Circuit,
    Conventions,
    Design,
    DropRule,
    Load,
    LoadUse,
    OperatingCondition,
    PanelSpec,
    PowerNode,
    Run,
)
from builds.engineering.document import read_document
from builds.engineering.vocabulary import DropCurrent, GaugeBasis, LoadModel, NodeKind, RunSide, SourceState
from tests.engineering.assess.designs import SOUND

CASES = Path(__file__).parents[2] / "cases"

FT = 0.3048
SAME = 1e-3

AT_20C = DropRule(
    key="all",
    drop_class="*",
    limit_ratio=1.0,
    base_v=13.6,
    current=DropCurrent.PEAK,
    conductor_temp_c=20.0,
    source="net A",
)
BATTERY = BatterySpec(
    capacity_ah=100.0, rated_hours=20.0, peukert_exponent=1.1, internal_mohm=8.0, open_circuit_v=13.6, usable_ratio=1.0
)


def node(key: str, kind: NodeKind, **more: object) -> PowerNode:
    return PowerNode(key=key, kind=kind, name=key, zone="cool", **more)  # type: ignore[arg-type]


def wire(number: str, gauge: str, out_ft: float, back_ft: float, back_to: str) -> Circuit:
    return Circuit(
        number=number,
        legend=number,
        panel="D",
        position=int(number),
        device_family="ATO",
        device_rating_a=30.0,
        gauge=gauge,
        length_m=out_ft * FT,
        return_node=back_to,
        return_length_m=back_ft * FT,
    )


def takes(number: str, model: LoadModel, current_a: float, at_v: float) -> Load:
    return Load(key=f"L{number}", circuit=number, name=number, zone="cool", model=model, current_a=current_a, at_v=at_v)


def net(
    circuits: tuple[Circuit, ...],
    loads: tuple[Load, ...],
    runs: tuple[Run, ...],
    nodes: tuple[PowerNode, ...],
    state: SourceState,
    source_v: float,
) -> Design:
    condition = OperatingCondition(
        key="on",
        name="all on",
        source_state=state,
        source_low_v=source_v,
        source_high_v=source_v,
        uses=tuple(LoadUse(load=load.key) for load in loads),
    )
    battery = node("BAT", NodeKind.BATTERY, battery=BATTERY)
    panel = node("D", NodeKind.PANEL, panel=PanelSpec(positions=6, columns=1))
    return replace(
        SOUND,
        conventions=Conventions(gauge_basis=GaugeBasis.AWG),
        buyer=Buyer(customer="bench", profile="bench", drop_rules=(AT_20C,)),
        nodes=(battery, panel, *nodes),
        runs=runs,
        circuits=circuits,
        loads=loads,
        conditions=(condition,),
        operations=(),
        parts=(),
    )


def feeder(key: str, from_node: str, to_node: str, side: RunSide, gauge: str, length_ft: float) -> Run:
    return Run(key=key, from_node=from_node, to_node=to_node, side=side, gauge=gauge, length_m=length_ft * FT)


def net_a() -> Design:
    """Two wires all the way from an ideal 13.6 V source, constant currents."""
    return net(
        circuits=(wire("1", "14", 15, 15, "E"), wire("2", "16", 20, 20, "E"), wire("3", "10", 10, 10, "E")),
        loads=tuple(
            takes(number, LoadModel.CONSTANT_CURRENT, current_a, 13.6)
            for number, current_a in (("1", 10.0), ("2", 5.0), ("3", 20.0))
        ),
        runs=(feeder("F", "BAT", "D", RunSide.SUPPLY, "4", 12), feeder("B", "BAT", "E", RunSide.RETURN, "4", 12)),
        nodes=(node("E", NodeKind.GROUND),),
        state=SourceState.IDLE,
        source_v=13.6,
    )


def net_b() -> Design:
    """Resistive loads on a shared chassis return of 2 mΩ, EMF 13.6 V behind 8 mΩ."""
    return net(
        circuits=(wire("1", "14", 15, 0, "G"), wire("2", "16", 20, 0, "G"), wire("3", "10", 10, 0, "G")),
        loads=tuple(
            takes(number, LoadModel.RESISTIVE, 13.6 / ohm, 13.6)
            for number, ohm in (("1", 1.36), ("2", 2.72), ("3", 0.68))
        ),
        runs=(
            feeder("F", "BAT", "D", RunSide.SUPPLY, "4", 12),
            Run(
                key="B", from_node="BAT", to_node="G", side=RunSide.RETURN, gauge="", length_m=0.0, resistance_mohm=2.0
            ),
        ),
        nodes=(node("G", NodeKind.CHASSIS),),
        state=SourceState.ENGINE_OFF,
        source_v=13.6,
    )


def net_d(power_w: float) -> Design:
    """One constant-power load at the end of 25 ft of 12 AWG and back, from 13.2 V."""
    return net(
        circuits=(replace(wire("1", "12", 25, 25, "BAT"), device_rating_a=40.0),),
        loads=(takes("1", LoadModel.CONSTANT_POWER, power_w / 13.2, 13.2),),
        runs=(
            Run(
                key="F", from_node="BAT", to_node="D", side=RunSide.SUPPLY, gauge="", length_m=0.0, resistance_mohm=0.0
            ),
        ),
        nodes=(),
        state=SourceState.IDLE,
        source_v=13.2,
    )


def load_v(assessment: Assessment) -> dict[str, float]:
    return {circuit.number: circuit.load_v for circuit in assessment.circuits}


@pytest.mark.parametrize(("number", "drop_v"), [("1", 0.966240), ("2", 1.011940), ("3", 0.608300)])
def test_net_a_drops_agree_with_the_worked_network(number: str, drop_v: float) -> None:
    circuits = {circuit.number: circuit for circuit in assess(net_a()).circuits}

    assert circuits[number].drop_v == pytest.approx(drop_v, rel=SAME)
    assert circuits[number].drop_ratio == pytest.approx(drop_v / 13.6, rel=SAME)


def test_net_a_feeder_loses_its_part_and_carries_everything() -> None:
    assessment = assess(net_a())
    panel = {panel.key: panel for panel in assessment.panels}["D"]

    # out and back are equal halves of the feeder's 0.208740 V; the panel reports the way out, of its nominal 12 V
    assert panel.feed_drop_ratio * 12 == pytest.approx(0.208740 / 2, rel=SAME)
    assert {run.key: run.peak_a for run in assessment.runs} == pytest.approx({"F": 35.0, "B": 35.0})


@pytest.mark.parametrize(
    ("number", "voltage_v", "current_a"),
    [("1", 12.812075, 9.420643), ("2", 12.791166, 4.702635), ("3", 12.978235, 19.085640)],
)
def test_net_b_loads_see_the_worked_voltages(number: str, voltage_v: float, current_a: float) -> None:
    circuit = {circuit.number: circuit for circuit in assess(net_b()).circuits}[number]

    assert circuit.load_v == pytest.approx(voltage_v, rel=1e-4)
    assert circuit.peak_a == pytest.approx(current_a, rel=1e-4)


def test_net_b_chassis_rises_and_the_post_sags_as_worked() -> None:
    assessment = assess(net_b())
    [condition] = assessment.conditions

    assert condition.peak_a == pytest.approx(33.208918, rel=1e-4)
    assert [ground.rise_v for ground in assessment.grounds] == pytest.approx([0.066418], rel=1e-4)
    # drop is counted from the post, which stands at 13.334329 V behind the battery's own resistance
    assert assessment.circuits[0].drop_v == pytest.approx(13.334329 - 12.812075, rel=SAME)


def test_net_d_constant_power_settles_on_the_upper_root() -> None:
    [circuit] = assess(net_d(120.0)).circuits

    assert circuit.load_v == pytest.approx(12.433695, rel=1e-4)
    assert circuit.peak_a == pytest.approx(9.651194, rel=1e-4)
    assert circuit.drop_v == pytest.approx(0.766305, rel=SAME)


def test_net_d_past_its_largest_power_has_no_operating_point() -> None:
    assessment = assess(net_d(560.0))
    [finding] = [finding for finding in assessment.findings if finding.id == "no-operating-point"]

    assert assessment.conditions == ()
    assert finding.numbers[0].value == pytest.approx(548.61, rel=SAME)  # V² / 4R


def test_net_d_just_below_its_largest_power_is_solved() -> None:
    assessment = assess(net_d(548.0))

    assert [condition.key for condition in assessment.conditions] == ["on"]
    assert assessment.circuits[0].load_v == pytest.approx(6.6, rel=0.05)  # half the source at the limit


@pytest.mark.parametrize(("basis", "gauge"), [(GaugeBasis.AWG, "6"), (GaugeBasis.SAE, "4")])
def test_the_marine_feed_is_sized_as_printed_in_either_basis(basis: GaugeBasis, gauge: str) -> None:
    # 24 A over 18 + 18 ft at 3 % of 12 V asks for 25 800 cmil: 6 AWG has 26 250, SAE 6 gauge 24 538 and 4 gauge 37 360
    design = read_document((CASES / "27-marine-feed.json").read_bytes())
    design = replace(design, conventions=replace(design.conventions, gauge_basis=basis))

    proposed = {circuit.number: circuit for circuit in assess(design).circuits}

    assert (proposed["104"].proposed_gauge, proposed["104"].deciding_rule) == (gauge, "drop")
