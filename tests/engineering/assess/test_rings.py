"""Rings of the power tree in the assessment: shared by resistance, the same figures as the network as drawn."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.assess import assess
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.states import solve_states
from builds.engineering.assessing.supply_graph import SupplyGraph
from builds.engineering.assessment import Assessment, RunResult
from builds.engineering.design import Design, PowerNode, Run
from builds.engineering.vocabulary import LoadModel, NodeKind, RunSide, SourceState
from tests.engineering.assess.designs import SOUND, added, changed, circuit, load, supply, without
from tests.engineering.assess.test_reference_nets import BATTERY, feeder, net, node, takes, wire
from tests.engineering.assess.test_solving import assert_same_solution


def back(key: str, from_node: str, to_node: str, gauge: str, length_m: float) -> Run:
    return Run(key=key, from_node=from_node, to_node=to_node, side=RunSide.RETURN, gauge=gauge, length_m=length_m)


def runs_of(assessment: Assessment) -> dict[str, RunResult]:
    return {run.key: run for run in assessment.runs}


def volts_of(assessment: Assessment) -> dict[str, float]:
    return {circuit.number: circuit.load_v for circuit in assessment.circuits}


TWIN = added(SOUND, "run", supply("R2B", "DISC", "P1", "8", 2.0, device_family="ANL", device_rating_a=60.0))
FED_TWICE = added(SOUND, "run", supply("R9", "DISC2", "P1", "4", 1.0))
STRAPPED_TWICE = added(SOUND, "run", back("S9", "BAT1", "BODY", "2", 1.0))
JOINED = added(SOUND, "run", supply("R9", "BAT1", "BAT2", "2", 3.0))
# the second battery's own negative goes to the first's as well as to the body, so ways home mix with ways out
JOINED_TWICE = added(JOINED, "run", back("S9", "BAT1", "BAT2", "2", 3.0))
# a second stud of the body is strapped to the first, and one of them to the battery
STUDS = added(SOUND, "run", back("S9", "G1", "G2", "4", 2.0), back("S8", "BAT1", "G1", "2", 0.5))
RINGED = {
    "two runs side by side": TWIN,
    "panel fed twice": FED_TWICE,
    "chassis strapped twice": STRAPPED_TWICE,
    "batteries joined": JOINED,
    "batteries joined out and back": JOINED_TWICE,
    "studs strapped": STUDS,
}


@pytest.mark.parametrize("design", RINGED.values(), ids=RINGED)
def test_circuits_in_rings_see_the_voltages_of_the_network_as_drawn(design: Design) -> None:
    assert_same_solution(design)


@settings(max_examples=20, deadline=None)
@given(
    name=st.sampled_from(list(RINGED)),
    model=st.sampled_from(list(LoadModel)),
    current_a=st.floats(0.1, 14.0),
    stud_mohm=st.floats(0.0, 4.0),
    disconnect_mohm=st.floats(0.0, 4.0),
    isolator_mohm=st.floats(0.0, 4.0),
    length_m=st.floats(0.1, 5.0),
)
def test_solutions_in_rings_agree_whatever_the_wiring(
    name: str,
    model: LoadModel,
    current_a: float,
    stud_mohm: float,
    disconnect_mohm: float,
    isolator_mohm: float,
    length_m: float,
) -> None:
    design = changed(RINGED[name], "load", "BAR", model=model, current_a=current_a)
    for key, mohm in (("G1", stud_mohm), ("DISC", disconnect_mohm), ("ISO", isolator_mohm)):
        design = changed(design, "node", key, resistance_mohm=mohm)
    closing = next(run.key for run in reversed(design.runs))

    assert_same_solution(changed(design, "run", closing, length_m=length_m))


def net_c() -> Design:
    """
    Bus bar, distribution panel and module, each joined to the others, the first two twice: constant currents at both panels.

    Source: solved with a matrix solver and with ngspice; wire from the printed AWG table.
    """
    panels = tuple(node(key, NodeKind.PANEL, panel=SOUND_PANEL) for key in ("DP", "M"))
    design = net(
        circuits=(replace(wire("1", "10", 0, 0, "BAT"), panel="DP"), replace(wire("2", "10", 0, 0, "BAT"), panel="M")),
        loads=(takes("1", LoadModel.CONSTANT_CURRENT, 40.0, 13.2), takes("2", LoadModel.CONSTANT_CURRENT, 8.0, 13.2)),
        runs=(
            feeder("A", "BAT", "DP", RunSide.SUPPLY, "8", 10),
            feeder("B", "BAT", "DP", RunSide.SUPPLY, "10", 12),
            feeder("C", "DP", "M", RunSide.SUPPLY, "12", 6),
            feeder("D", "BAT", "M", RunSide.SUPPLY, "12", 14),
        ),
        nodes=panels,
        state=SourceState.IDLE,
        source_v=13.2,
    )
    return without(design, "node", "D")


SOUND_PANEL = next(one.panel for one in SOUND.nodes if one.panel is not None)


def test_net_c_comes_out_as_printed() -> None:
    assessment = assess(net_c())

    # the drop below 13.2 V, within what the wire table is printed to
    assert 13.2 - volts_of(assessment)["1"] == pytest.approx(13.2 - 13.033635, rel=1e-3)
    assert 13.2 - volts_of(assessment)["2"] == pytest.approx(13.2 - 13.030188, rel=1e-3)
    currents = {key: run.peak_a for key, run in runs_of(assessment).items()}
    # the link's current is the small difference of two large ones
    assert currents == pytest.approx({"A": 26.482798, "B": 13.879012, "C": 0.361809, "D": 7.638191}, rel=1e-3, abs=1e-3)


def test_runs_side_by_side_share_by_conductance_and_lose_alike() -> None:
    runs, alone = runs_of(assess(TWIN)), runs_of(assess(SOUND))["R2"]

    # 8 gauge of 2 m beside 4 gauge of 1 m: 14,810 and 37,360 circular mils
    ohm_ratio = 2 * 37360 / 14810
    assert runs["R2"].peak_a / runs["R2B"].peak_a == pytest.approx(ohm_ratio, rel=0.03)
    assert runs["R2"].drop_v == pytest.approx(runs["R2B"].drop_v, rel=1e-9)
    assert runs["R2"].peak_a + runs["R2B"].peak_a == pytest.approx(alone.peak_a, rel=2e-3)


def test_a_second_way_never_takes_voltage_from_a_constant_current() -> None:
    plain = volts_of(assess(SOUND))
    for design in RINGED.values():
        assert all(volts >= plain[number] - 5e-3 for number, volts in volts_of(assess(design)).items())


def test_joined_batteries_share_what_is_on_and_last_longer_together() -> None:
    watch = next(condition for condition in assess(SOUND).conditions if condition.key == "watch")
    joined = next(condition for condition in assess(JOINED).conditions if condition.key == "watch")

    assert joined.mean_a == pytest.approx(watch.mean_a, rel=1e-2)
    assert joined.battery_h is not None and watch.battery_h is not None
    assert joined.battery_h > watch.battery_h
    state = solve_states(index_design(JOINED)).states[1]
    parts = state.feeding.battery.sum(axis=0)
    assert parts == pytest.approx(1.0)
    assert (state.feeding.battery > 0.1).all()


def test_a_run_of_a_gauge_that_no_table_has_leaves_a_ring_without_figures_and_the_others_with() -> None:
    assessment = assess(changed(FED_TWICE, "run", "R9", gauge="13"))

    assert volts_of(assessment) == {}
    assert [finding.subject for finding in assessment.findings if finding.id == "size-unknown"] == ["run:R9"]


def test_a_short_behind_two_ways_draws_more_than_behind_one() -> None:
    assert max(c.prospective_a for c in assess(TWIN).circuits) > max(c.prospective_a for c in assess(SOUND).circuits)


def test_the_far_end_of_a_circuit_behind_two_ways_is_nearer() -> None:
    one, two = ({c.number: c.far_end_fault_a for c in assess(design).circuits} for design in (SOUND, TWIN))

    assert two["101"] > one["101"]


def test_a_collapse_in_a_ring_names_its_load() -> None:
    heavy = changed(
        changed(TWIN, "load", "SCENE", current_a=100.0, min_v=0.0), "circuit", "103", gauge="16", length_m=20.0
    )

    assert "load SCENE" in next(f.message for f in assess(heavy).findings if f.id == "no-operating-point")


def test_survivors_of_conductors_in_one_run_must_carry_the_whole() -> None:
    # the charging cable's 176 A: one 4 gauge of two carries about 110 A in the engine bay
    thin = changed(SOUND, "run", "R7", gauge="4", parallel=2)

    messages = [finding.message for finding in assess(thin).findings if finding.id == "parallel-survivor"]
    assert len(messages) == 1
    assert messages[0].startswith("Should one of the 2 conductors of run R7 open, the rest carries 176 A")


def test_straps_side_by_side_without_a_table_size_are_not_judged() -> None:
    strap = replace(back("S9", "BAT1", "BODY", "", 0.0), resistance_mohm=0.3)

    assert "parallel-survivor" not in [finding.id for finding in assess(added(SOUND, "run", strap)).findings]


def test_a_disconnect_that_every_way_passes_leaves_nothing_alive() -> None:
    assert [f.id for f in assess(TWIN).findings if f.id == "disconnect-leaves-live"] == []


def test_a_run_from_a_node_to_itself_changes_nothing() -> None:
    looped = assess(added(SOUND, "run", supply("R9", "P1", "P1", "4", 1.0)))

    assert volts_of(looped) == pytest.approx(volts_of(assess(SOUND)), abs=1e-9)


# ---- what devices let through ----------------------------------------------------------------------------------------


def guards(design: Design, node_key: str) -> list[str] | None:
    found = SupplyGraph.of(index_design(design), isolators_closed=True).guards_of(node_key)
    return None if found is None else [run.key for run in found]


def test_devices_in_series_bound_by_the_smaller() -> None:
    assert guards(SOUND, "P1") == ["R2"]
    assert guards(changed(SOUND, "run", "R2", device_rating_a=500.0), "P1") == ["R1", "R4"]


def test_devices_side_by_side_add_up_to_what_stands_before_them() -> None:
    assert guards(TWIN, "P1") == ["R2", "R2B"]
    assert guards(changed(TWIN, "run", "R2B", device_rating_a=400.0), "P1") == ["R1", "R4"]


def test_a_battery_is_bound_by_nothing_and_what_nothing_feeds_by_nothing_at_all() -> None:
    assert guards(SOUND, "BAT1") is None
    assert guards(without(SOUND, "run", "R6"), "P2") == []
    assert guards(changed(SOUND, "run", "R1", device_family="", device_rating_a=None), "DISC") is None


def test_a_flow_that_must_be_led_back_is_led_back() -> None:
    """
    The first way found runs over the middle link; the largest flow does not, so it is taken back there.

    Two batteries, two buses with a link between: 10 A and 20 A in, 20 A and 10 A out.
    """
    nodes = tuple(PowerNode(key=key, kind=NodeKind.BUS, name=key, zone="cab") for key in ("U", "V", "W"))
    batteries = tuple(
        PowerNode(key=key, kind=NodeKind.BATTERY, name=key, zone="cab", battery=BATTERY) for key in ("A", "B")
    )
    links = [
        ("1", "A", "U", 10.0),
        ("2", "U", "V", 10.0),
        ("3", "V", "W", 10.0),
        ("4", "B", "V", 10.0),
        ("5", "U", "W", 10.0),
    ]
    runs = tuple(supply(key, one, two, "4", 1.0, device_family="ANL", device_rating_a=a) for key, one, two, a in links)
    design = replace(SOUND, nodes=(*batteries, *nodes), runs=runs)

    found = SupplyGraph.of(index_design(design), isolators_closed=True).guards_of("W")

    assert found is not None
    assert sum(run.device_rating_a or 0.0 for run in found) == 20.0


def test_circuit_behind_two_feeds_is_set_against_both_devices() -> None:
    # 100 A and 60 A: a branch device of 120 A is smaller than both together
    wide = added(TWIN, "circuit", circuit("105", "HEATER", "P1", 5, 120.0, "1/0", 1.0, device_family="MEGA"))
    wide = added(wide, "load", load("HEATER", "105", "heater", "cab", 20.0))

    assert "device-above-feed" not in [f.id for f in assess(wide).findings if f.subject == "circuit:105"]


def test_a_ring_elsewhere_leaves_the_shorts_of_other_feeds_judged() -> None:
    # 40 m of 8 gauge behind a 100 A device carry far less than the 200 A that open it quickly
    long = changed(SOUND, "run", "R6", gauge="8", length_m=40.0)
    beside = added(long, "run", supply("R2B", "DISC", "P1", "8", 2.0, device_family="ANL", device_rating_a=60.0))
    ids = [{(item.id, item.subject) for item in assess(design).findings} for design in (long, beside)]

    assert all(("feed-fault-not-cleared", "run:R5") in found for found in ids)


def test_shorts_behind_a_ring_are_judged_feed_by_feed() -> None:
    """The walked way is the thin one: its own device misses the short that the other feed's opens on."""
    thin = changed(TWIN, "run", "R2", gauge="18", length_m=30.0)

    assert [one.subject for one in assess(thin).findings if one.id == "feed-fault-not-cleared"] == ["run:R2"]


def test_every_strap_of_a_ring_between_bodies_is_held_against_the_feeds_device() -> None:
    # 18 gauge carries 25 A; the 100 A device of the cab panel's feed can drive a short from the frame through either strap
    frame = PowerNode(key="FRAME", kind=NodeKind.CHASSIS, name="frame", zone="cab")
    design = changed(added(SOUND, "node", frame), "node", "G1", chassis="FRAME")
    straps = added(design, "run", back("T1", "BODY", "FRAME", "18", 0.5), back("T2", "BODY", "FRAME", "18", 0.5))

    ids = {(item.id, item.subject) for item in assess(straps).findings}

    assert {("device-above-conductor", "run:T1"), ("device-above-conductor", "run:T2")} <= ids


def test_straps_to_a_body_that_nothing_returns_over_are_held_against_nothing() -> None:
    engine = PowerNode(key="BLOCK", kind=NodeKind.CHASSIS, name="engine block", zone="engine")
    design = added(SOUND, "node", engine)
    straps = added(design, "run", back("T1", "BODY", "BLOCK", "18", 0.5), back("T2", "BODY", "BLOCK", "18", 0.5))

    assert not {item.subject for item in assess(straps).findings} & {"run:T1", "run:T2"}
