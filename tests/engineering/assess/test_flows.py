"""Each condition told as it stands: sources at their own voltage and limit, currents and losses of runs, drops split by run."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.assess import assess
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.states import solve_states
from builds.engineering.design import (
    AlternatorPoint,
    AlternatorSpec,
    Design,
    LoadUse,
    PowerNode,
    Run,
    SourceSpec,
    SourceUse,
)
from builds.engineering.document import read_document
from builds.engineering.flows import ConditionFlows, solve_conditions
from builds.engineering.vocabulary import LoadModel, NodeKind, RunSide
from tests.engineering.assess.designs import SOUND, STARTING, added, changed, supply, without
from tests.engineering.assess.plants_feeding import WITH_24_V, WITH_STUD, converter

BUILDS = pytest.mark.parametrize("design", [SOUND, WITH_24_V, WITH_STUD], ids=["sound", "24 V bus", "maker's stud"])


def flows(design: Design, condition: str) -> ConditionFlows:
    return solve_conditions(design)[condition]


def given_by(told: ConditionFlows) -> dict[str, float]:
    return {source.key: source.peak_a for source in told.sources()}


@BUILDS
def test_loads_stand_at_the_voltage_that_the_assessment_gives_them(design: Design) -> None:
    found = {circuit.number: circuit for circuit in assess(design).circuits}
    loads = {load.key: load for load in design.loads}

    compared = 0
    for key, told in solve_conditions(design).items():
        for load in told.loads():
            circuit = found[loads[load.key].circuit]
            if circuit.worst_condition == key:
                compared += 1
                assert load.voltage_v == pytest.approx(circuit.load_v, abs=1e-7)
                assert load.drop_v == pytest.approx(circuit.drop_v, abs=1e-7)

    assert compared >= len(found)


@BUILDS
def test_the_drop_of_a_load_is_the_sum_of_its_parts(design: Design) -> None:
    for told in solve_conditions(design).values():
        for load in told.loads():
            split = told.split(load.key)

            assert sum(part.drop_v for part in split.parts) == pytest.approx(load.drop_v, abs=1e-9)


def test_the_split_names_what_to_thicken() -> None:
    # the radio's own 8 gauge is short: with 40 times the length its feed is still 4 gauge and 1.5 m
    told = flows(changed(SOUND, "circuit", "201", length_m=4.0), "scene").split("RADIO")

    assert told.most is not None
    assert told.most.subject == "circuit:201"
    assert {part.subject for part in told.parts} >= {"run:R1", "run:R4", "node:ISO", "node:G2", "run:S1"}


def test_runs_lose_their_current_squared_times_their_resistance() -> None:
    told = {run.key: run for run in flows(SOUND, "scene").runs()}

    # R6: 1.5 m of 4 SAE gauge at 50 °C carries radio and lockers; its drop over its current is its resistance
    assert told["R6"].peak_loss_w == pytest.approx(told["R6"].drop_v * told["R6"].peak_a)
    assert told["R7"].peak_a == pytest.approx(given_by(flows(SOUND, "scene"))["ALT"])


def test_an_alternator_past_its_limit_leaves_the_rest_to_the_batteries() -> None:
    small = AlternatorSpec(rated_a=40.0, idle_ratio=0.4, speed_ratio=0.8)
    told = flows(changed(SOUND, "node", "ALT", alternator=small), "scene")
    sources = {source.key: source for source in told.sources()}
    post_v = next(node.supply_v for node in told.nodes() if node.key == "BAT1")

    assert sources["ALT"].at_limit
    assert sources["ALT"].peak_a == pytest.approx(16.0)
    assert sources["BAT1"].peak_a + sources["BAT2"].peak_a == pytest.approx(
        sum(given_by(flows(SOUND, "scene")).values()) - 16, rel=0.03
    )
    # behind 6 mΩ the starting battery stands as far below its 12.8 V as it gives
    assert post_v == pytest.approx(12.8 - 0.006 * sources["BAT1"].peak_a)


def test_an_alternators_return_comes_home_at_the_engine() -> None:
    # engine block strapped to the body by 1 mΩ: with the engine on, the loads' current goes home over the strap
    design = added(SOUND, "node", PowerNode(key="BLOCK", kind=NodeKind.CHASSIS, name="engine block", zone="engine"))
    strap = Run(
        key="S9", from_node="BLOCK", to_node="BODY", side=RunSide.RETURN, gauge="1/0", length_m=0.3, resistance_mohm=1.0
    )
    housing = Run(
        key="S8", from_node="ALT", to_node="BLOCK", side=RunSide.RETURN, gauge="1/0", length_m=0.1, resistance_mohm=0.1
    )
    design = added(design, "run", strap, housing)

    on = {run.key: run.peak_a for run in flows(design, "scene").runs()}
    off = {run.key: run.peak_a for run in flows(design, "watch").runs()}

    assert on["S9"] == pytest.approx(sum(given_by(flows(design, "scene")).values()), rel=1e-6)
    assert on["S1"] == pytest.approx(0.0, abs=1e-9)
    assert off["S9"] == pytest.approx(0.0, abs=1e-9)


def test_a_dc_dc_takes_more_than_it_gives_at_a_low_voltage() -> None:
    # correction E19: 40 A × 14.4 V / (0.9 × 12.2 V) = 52.5 A
    design = without(SOUND, "run", "R3", "R4")
    design = added(
        without(design, "node", "ISO"),
        "node",
        PowerNode(key="CV", kind=NodeKind.CONVERTER, name="battery charger", zone="cargo",
                  converter=replace(converter(output_v=14.4, limit_a=40.0), return_node="BAT1")),
    )  # fmt: skip
    feed = supply("R8", "BAT1", "CV", "4", 0.0, device_family="MRBF", device_rating_a=80.0)
    design = added(
        design, "run", feed, supply("R9", "CV", "BAT2", "6", 1.0, device_family="MRBF", device_rating_a=60.0)
    )
    design = changed(design, "condition", "scene", source_low_v=12.2, source_high_v=12.2, uses=())

    runs = {run.key: run for run in assess(design).runs}

    assert runs["R8"].peak_a == pytest.approx(52.5, abs=0.05)  # 52.459
    assert runs["R9"].peak_a == 40.0


def test_a_shore_charger_feeds_where_a_condition_says_so() -> None:
    shore = PowerNode(key="SH", kind=NodeKind.SHORE, name="shore charger", zone="cargo",
                      source=SourceSpec(limit_a=20.0, low_v=13.5, high_v=14.4))  # fmt: skip
    design = added(
        added(SOUND, "node", shore),
        "run",
        supply("R8", "BAT2", "SH", "8", 1.0, device_family="MRBF", device_rating_a=30.0),
    )
    plugged = changed(design, "condition", "watch", sources=(SourceUse(node="SH"),))

    away, there = (next(one for one in assess(built).conditions if one.key == "watch") for built in (design, plugged))

    assert away.source is None
    assert away.battery_h is not None
    assert there.battery_h is None
    assert there.source is not None
    assert there.source.margin_a == pytest.approx(20.0 - there.mean_a)
    assert not there.source.estimate
    # the radio's 76.8 W, and four lockers of 0.5 A at 12.8 V, at 13.5 V less what is lost on the way
    assert given_by(flows(plugged, "watch"))["SH"] == pytest.approx(76.8 / 13.5 + 2.0 * 13.5 / 12.8, rel=0.01)


def test_an_isolator_is_closed_or_open_as_a_condition_says() -> None:
    joined = flows(changed(SOUND, "condition", "watch", closed_nodes=("ISO",)), "watch")
    parted = changed(SOUND, "condition", "scene", open_nodes=("ISO",))

    shared = given_by(joined)
    # 7 mΩ beside 6 mΩ and the cables between: each battery gives its part
    assert 0 < shared["BAT1"] < shared["BAT2"]
    assert given_by(flows(parted, "scene"))["BAT2"] > 0
    told = next(one for one in assess(parted).conditions if one.key == "scene")
    assert told.battery_h is not None  # the auxiliary battery is on its own with the engine on


def test_an_open_low_voltage_disconnect_takes_its_loads_off() -> None:
    design = changed(SOUND, "node", "DISC2", kind=NodeKind.LOW_VOLTAGE_DISCONNECT)
    shut = changed(design, "condition", "watch", open_nodes=("DISC2",))

    assert {source.key: source.peak_a for source in flows(design, "watch").sources()}["BAT2"] > 8
    assert [finding.id for finding in assess(shut).findings if finding.subject == "load:RADIO"] == ["load-not-fed"]


def test_an_alternator_is_read_from_its_curves_where_the_speed_is_stated() -> None:
    # marine diesel data: hot 16, 41, 48 A and cold 24, 50 A at 1300, 2500 alternator rpm; half way between, 700 × 2.5 = 1750
    points = ((1300, 25, 24), (2500, 25, 50), (1300, 93, 16), (2500, 93, 41), (5000, 93, 48))
    spec = AlternatorSpec(
        rated_a=50.0, idle_ratio=0.4, speed_ratio=0.9, pulley_ratio=2.5,
        points=tuple(AlternatorPoint(speed_rpm=s, ambient_c=c, output_a=a) for s, c, a in points),
    )  # fmt: skip
    design = changed(
        changed(SOUND, "node", "ALT", alternator=spec),
        "condition",
        "scene",
        engine_rpm=700,
        uses=(LoadUse(load="RADIO"),),
    )

    hot = next(one for one in assess(design).conditions if one.key == "scene").source
    mild = next(
        one for one in assess(changed(design, "condition", "scene", ambient_c=59.0)).conditions if one.key == "scene"
    ).source

    assert hot is not None
    assert mild is not None
    assert hot.available_a == pytest.approx(16 + (1750 - 1300) / 1200 * 25)  # 25.375 A
    assert mild.available_a == pytest.approx((hot.available_a + 24 + (1750 - 1300) / 1200 * 26) / 2)
    assert not hot.estimate


def test_what_a_variable_alternator_is_set_to_stands_for_the_conditions_own_range() -> None:
    spec = replace(
        SOUND.nodes[1].alternator or AlternatorSpec(rated_a=1, idle_ratio=1, speed_ratio=1), low_v=12.4, high_v=15.0
    )
    design = changed(SOUND, "node", "ALT", alternator=spec)

    posts = {node.key: node.supply_v for node in flows(design, "scene").nodes()}

    assert posts["BAT1"] == pytest.approx(12.4, abs=0.4)
    low = {circuit.number: circuit.load_v for circuit in assess(design).circuits}
    assert low["104"] < {circuit.number: circuit.load_v for circuit in assess(SOUND).circuits}["104"]


DEMO = sorted((Path(__file__).parents[3] / "demo").glob("*.json"))


@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_a_condition_that_the_assessment_can_judge_can_be_told(path: Path) -> None:
    # with a full battery beside the alternator it is the alternator that gives, until it gives all it can
    design = read_document(path.read_bytes())
    judged = {condition.key for condition in assess(design).conditions}

    told = solve_conditions(design)

    assert {key for key, one in told.items() if one.no_operating_point is None} >= judged


@settings(max_examples=25, deadline=None)
@given(
    output_v=st.sampled_from((5.0, 19.0, 24.0, 48.0)),
    efficiency=st.floats(0.6, 0.98),
    idle_w=st.floats(0.0, 15.0),
    amps=st.floats(0.1, 12.0),
    model=st.sampled_from(list(LoadModel)),
    condition_v=st.floats(11.5, 14.5),
)
def test_sweeps_and_the_network_as_drawn_agree_behind_a_converter(
    output_v: float, efficiency: float, idle_w: float, amps: float, model: LoadModel, condition_v: float
) -> None:
    design = changed(
        WITH_24_V, "node", "CV", converter=converter(output_v=output_v, efficiency_ratio=efficiency, idle_w=idle_w)
    )
    design = changed(design, "load", "CAM", current_a=amps, at_v=output_v, model=model, max_v=None)
    design = changed(design, "condition", "scene", source_low_v=condition_v, source_high_v=condition_v)
    design = changed(changed(design, "load", "RADIO", min_v=0.0), "load", "SCENE", min_v=0.0)
    battery = replace(STARTING, open_circuit_v=11.0)  # below every condition, so that the alternator feeds all
    design = changed(changed(design, "node", "BAT1", battery=battery), "node", "BAT2", battery=battery)

    drawn = {load.key: load.voltage_v for load in flows(design, "scene").loads()}
    swept = solve_states(index_design(design)).states[0]

    at_loads_v = swept.feeds.at_loads(swept.low.voltage_v)[:, swept.chosen.index(1)]
    for key, voltage_v in drawn.items():
        row = [load.key for load in design.loads].index(key)
        assert at_loads_v[row] == pytest.approx(voltage_v, abs=1e-7)
