"""
A source away from its battery: it feeds loads from its own node, and what the battery takes runs on the battery's cable.

Resistances by hand: AWG areas by ASTM B258, copper 17.241 mΩ·mm²/m at 20 °C, × (234.5 + 50) / 254.5 = 1.11788 at 50 °C.
Then 1/0: 0.32242 mΩ/m, 2: 0.51266, 4: 0.81520, 6: 1.2962, 10: 3.2770 at 20 °C.
"""

from pathlib import Path

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.document import read_document
from builds.engineering.findings import Change
from builds.engineering.flows import solve_conditions

HOT = 284.5 / 254.5
ON_A_BUS = Path(__file__).parents[2] / "cases" / "33-alternator-on-a-bus.json"
SHORE = Path(__file__).parents[2] / "cases" / "34-shore-charger-on-a-bus.json"


def read(path: Path) -> Design:
    return read_document(path.read_bytes())


def said(assessment: Assessment) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assessment.findings}


def test_a_load_between_alternator_and_battery_is_fed_from_the_alternator() -> None:
    design = read(ON_A_BUS)

    told = solve_conditions(design)["idle"]
    runs = {run.key: run.peak_a for run in told.runs()}
    sources = {source.key: source.peak_a for source in told.sources()}

    # Kirchhoff at the bus: 45 A come from the alternator, nothing from the battery, 45 A go to the panel
    assert runs == pytest.approx({"R0": 45.0, "R1": 0.0, "R2": 45.0, "N1": 0.0, "NA": 45.0}, abs=1e-9)
    assert sources == pytest.approx({"B1": 0.0, "ALT": 45.0}, abs=1e-9)


def test_its_voltage_is_the_alternators_less_what_its_own_way_loses() -> None:
    [circuit] = assess(read(ON_A_BUS)).circuits

    out_mohm = (0.32242 * 1 + 0.51266 * 2 + 1.2962 * 4) * HOT
    home_mohm = (1.2962 * 1 + 0.32242 * 0.8) * HOT + 0.4
    # 14.0 V at the alternator's terminals
    assert circuit.load_v == pytest.approx(14.0 - 0.045 * (out_mohm + home_mohm), abs=5e-4)
    # from the battery's posts, which stand where the bus and the body do: without the alternator's own cable and strap
    assert circuit.drop_v == pytest.approx(0.045 * ((0.51266 * 2 + 1.2962 * 5) * HOT + 0.4), abs=5e-4)
    [load] = solve_conditions(read(ON_A_BUS))["idle"].loads()
    assert (load.voltage_v, load.drop_v) == pytest.approx((circuit.load_v, circuit.drop_v), abs=1e-7)
    split = solve_conditions(read(ON_A_BUS))["idle"].split("A")
    assert sum(part.drop_v for part in split.parts) == pytest.approx(load.drop_v, abs=1e-9)


def test_the_batterys_cable_carries_what_the_alternator_sends_to_a_flat_battery() -> None:
    assessment = assess(read(ON_A_BUS))
    runs = {run.key: run for run in assessment.runs}

    # 200 A × 0.8 at road speed, all of it while nothing else is on
    assert [runs[key].continuous_a for key in ("R0", "R1", "NA", "N1")] == pytest.approx([160.0] * 4)
    assert runs["R2"].continuous_a == pytest.approx(45.0)
    assert runs["R1"].drop_v == pytest.approx(0.160 * 0.81520 * 5 * HOT, rel=1e-3)
    assert runs["R0"].drop_v == pytest.approx(0.160 * 0.32242 * HOT, rel=1e-3)
    assert {("conductor-below-load", "run:R1"), ("device-below-load", "run:R1")} <= said(assessment)


def test_a_short_alternator_leaves_the_rest_to_the_battery_over_its_own_cable() -> None:
    # asked for 200 A, the alternator gives 120 at idle: 80 A come over 5 m of 4 AWG from behind the battery's 8 mΩ and 12.8 V
    design = apply_changes(
        read(ON_A_BUS),
        (
            Change(subject="load:A", field="current_a", value=200.0),
            Change(subject="load:A", field="min_v", value=0.0),
        ),
    )

    [circuit] = assess(design).circuits
    told = solve_conditions(design)["idle"]
    runs = {run.key: run.peak_a for run in told.runs()}

    assert (runs["R0"], runs["R1"], runs["R2"]) == pytest.approx((120.0, 80.0, 200.0), abs=1e-6)
    from_battery_mohm = 8 + 0.81520 * 5 * HOT + 0.32242 * 0.8 * HOT
    to_load_mohm = (0.51266 * 2 + 1.2962 * 5) * HOT + 0.4
    by_hand_v = 12.8 - 0.080 * from_battery_mohm - 0.200 * to_load_mohm
    assert circuit.load_v == pytest.approx(by_hand_v, abs=2e-3)
    [load] = told.loads()
    assert load.voltage_v == pytest.approx(by_hand_v, abs=2e-3)


def test_a_shore_charger_on_the_panels_bus_charges_through_disconnect_and_main_fuse() -> None:
    assessment = assess(read(SHORE))
    runs = {run.key: run for run in assessment.runs}

    assert [runs[key].continuous_a for key in ("R1", "R2", "S1")] == pytest.approx([60.0] * 3)
    assert {("node-over-rating", "node:MD"), ("device-below-load", "run:R1")} <= said(assessment)
    # S1 only leads from the charger to the bus: no load's feed stands before its device
    assert ("device-above-feed", "run:S1") not in said(assessment)


def test_nodes_stand_at_the_voltages_of_the_way_from_the_alternator() -> None:
    nodes = {node.key: node for node in solve_conditions(read(ON_A_BUS))["idle"].nodes()}

    # counted from the battery's negative post, where nothing flows: the alternator's own negative is 0.8 m of 1/0 below it
    strap_v, cable_v = (0.045 * 0.32242 * length_m * HOT for length_m in (0.8, 1.0))
    assert nodes["ALT"].return_v == pytest.approx(-strap_v, abs=1e-5)
    assert nodes["ALT"].supply_v == pytest.approx(14.0 - strap_v, abs=1e-5)
    assert nodes["BUS"].supply_v == pytest.approx(14.0 - strap_v - cable_v, abs=1e-5)
    assert nodes["B1"].supply_v == pytest.approx(nodes["BUS"].supply_v)
    assert nodes["P1"].return_v is None
