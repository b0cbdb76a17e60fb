"""The circuit-by-circuit solution held to the network as drawn, part by part, which is solved by other code."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.assess import assess
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.lockouts import draw_network
from builds.engineering.assessing.states import COOL_CONDUCTOR_C, State, solve_states
from builds.engineering.design import Design
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.vocabulary import LoadModel
from tests.engineering.assess.designs import SOUND, changed, without
from tests.engineering.assess.large_design import large_design

CLOSE_V = 1e-8


def voltages_as_drawn(design: Design, state: State, temperature_c: float, source_v: list[float]) -> np.ndarray:
    """Voltage at every load of the state with everything lit, by the network solver."""
    index = index_design(design)
    network = solve_states(index)
    drawn = draw_network(
        state.feeding,
        network.elements,
        state.resistances,
        network.demand,
        temperature_c=temperature_c,
        with_lockouts=True,
    )
    inside = dict(zip((node.key for node in index.batteries()), state.source_ohm, strict=True))
    posts = {node.key: node.resistance_mohm / 1000 for node in index.batteries()}
    scale = np.zeros((len(drawn.network.loads), len(state.chosen)))
    scale[: len(drawn.fed)] = network.demand.on[np.ix_(drawn.fed, state.chosen)]
    asleep = network.demand.asleep_a[:, state.chosen]
    for row, load in enumerate(design.loads):
        if load.circuit in state.feeding.column_of:
            scale[len(drawn.fed) + state.feeding.column_of[load.circuit]] += asleep[row]
    result = solve_network(
        drawn.network,
        emf_v=np.array([source_v] * len(drawn.roots)),
        source_ohm=np.array([[inside[root] + posts[root]] * len(source_v) for root in drawn.roots]),
        load_scale=scale,
    )
    assert not result.cut_out.any()
    return result.load_v[len(drawn.fed) :]


def assert_same_solution(design: Design) -> None:
    for state in solve_states(index_design(design)).states:
        if state.chosen and state.feeding.circuits:
            high_v = [design.conditions[place].source_high_v for place in state.chosen]
            drawn_v = voltages_as_drawn(design, state, COOL_CONDUCTOR_C, high_v)
            assert np.abs(state.high.voltage_v - drawn_v).max() < CLOSE_V


@pytest.mark.parametrize("design", [SOUND, large_design()], ids=["small", "large"])
def test_circuits_see_the_voltages_of_the_network_as_drawn(design: Design) -> None:
    assert_same_solution(design)


@settings(max_examples=30, deadline=None)
@given(
    model=st.sampled_from(list(LoadModel)),
    current_a=st.floats(0.1, 14.0),
    length_m=st.floats(0.1, 6.0),
    stud_mohm=st.floats(0.0, 4.0),
    disconnect_mohm=st.floats(0.0, 4.0),
)
def test_solutions_agree_whatever_the_wiring(
    model: LoadModel, current_a: float, length_m: float, stud_mohm: float, disconnect_mohm: float
) -> None:
    design = changed(SOUND, "load", "BAR", model=model, current_a=current_a)
    design = changed(design, "circuit", "101", length_m=length_m)
    design = changed(
        changed(design, "node", "G1", resistance_mohm=stud_mohm), "node", "DISC", resistance_mohm=disconnect_mohm
    )

    assert_same_solution(design)


def test_load_below_its_least_voltage_takes_nothing_from_its_neighbours() -> None:
    with_winch_off = assess(changed(SOUND, "load", "WINCH", min_v=13.5, current_a=8.0))
    without_winch = assess(changed(SOUND, "load", "WINCH", current_a=0.0))

    held = {circuit.number: circuit.load_v for circuit in with_winch_off.circuits}
    free = {circuit.number: circuit.load_v for circuit in without_winch.circuits}
    assert [finding.id for finding in with_winch_off.findings] == ["load-cuts-out"]
    assert held["101"] == pytest.approx(free["101"], abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(longer=st.floats(1.0, 3.0))
def test_longer_wire_never_loses_less(longer: float) -> None:
    before = {circuit.number: circuit for circuit in assess(SOUND).circuits}["101"]
    after = {
        circuit.number: circuit for circuit in assess(changed(SOUND, "circuit", "101", length_m=4.0 * longer)).circuits
    }["101"]

    assert after.drop_v >= before.drop_v


@settings(max_examples=25, deadline=None)
@given(more_a=st.floats(0.0, 5.0))
def test_more_load_never_raises_a_neighbours_voltage(more_a: float) -> None:
    before = {circuit.number: circuit.load_v for circuit in assess(SOUND).circuits}
    after = {
        circuit.number: circuit.load_v
        for circuit in assess(changed(SOUND, "load", "BAR", current_a=12.0 + more_a)).circuits
    }

    assert all(after[number] <= before[number] + 1e-9 for number in before)


def test_constant_currents_superpose() -> None:
    def drop_of_bar(bar_a: float, winch_a: float) -> float:
        design = without(SOUND, "condition", "driving", "watch", "parked")
        design = changed(design, "load", "WINCH", model=LoadModel.CONSTANT_CURRENT, current_a=winch_a)
        for key in ("SCENE", "RADIO", "LOCKER"):
            design = changed(design, "load", key, current_a=0.0)
        design = changed(design, "load", "BAR", current_a=bar_a)
        return {circuit.number: circuit.drop_v for circuit in assess(design).circuits}["101"]

    both = drop_of_bar(10.0, 5.0)

    assert both == pytest.approx(drop_of_bar(10.0, 0.0) + drop_of_bar(0.0, 5.0), abs=1e-9)


def test_currents_of_the_feed_are_the_sum_of_its_circuits() -> None:
    assessment = assess(SOUND)
    runs = {run.key: run for run in assessment.runs}
    panels = {panel.key: panel for panel in assessment.panels}

    assert runs["R2"].continuous_a == pytest.approx(panels["P1"].continuous_a)
    scene = next(condition for condition in assessment.conditions if condition.key == "scene")
    # the second battery is charged meanwhile with 0.2 of its 100 Ah
    assert runs["R1"].mean_a == pytest.approx(scene.mean_a + 20.0)
