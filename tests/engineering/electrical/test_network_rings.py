"""Rings of the supply and of the return side: shared by resistance, closed in any order, exact against nodal analysis."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.electrical import network_shared
from builds.engineering.electrical.network_collapse import fall
from builds.engineering.electrical.network_result import NetworkResult
from builds.engineering.electrical.network_shared import Shared, Swept
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.electrical.network_sources import Feeding
from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import Drawing, branch, load, made_mesh, resistive_drawings
from tests.engineering.electrical.test_network import TWO_BATTERIES

CURRENT, RESISTIVE, POWER = LoadModel.CONSTANT_CURRENT, LoadModel.RESISTIVE, LoadModel.CONSTANT_POWER


def flows(drawing: Drawing) -> dict[str, float]:
    return dict(zip((part.key for part in drawing.branches), drawing.solve().branch_a()[:, 0], strict=True))


def test_a_bus_fed_from_both_ends_takes_from_each_by_its_distance() -> None:
    # 30 A a third of the way along a bus of 9 mΩ whose ends both hang on the post: 20 A from the near end, 10 from the far
    drawing = Drawing(
        branches=(
            branch("near", "+", "tap", 0.003),
            branch("half", "tap", "far", 0.003),
            branch("far", "far", "+", 0.003),
        ),
        loads=(load("l", "tap", "-", CURRENT, 30),),
    )

    assert flows(drawing) == pytest.approx({"near": 20, "half": -10, "far": -10})


def test_a_balanced_bridge_carries_nothing_across() -> None:
    arms = (("a", "+", "p", 0.002), ("b", "+", "q", 0.004), ("c", "p", "s", 0.003), ("d", "q", "s", 0.006))
    drawing = Drawing(
        branches=(*(branch(*arm) for arm in arms), branch("across", "p", "q", 0.001)),
        loads=(load("l", "s", "-", CURRENT, 30),),
    )

    assert flows(drawing) == pytest.approx({"a": 20, "b": 10, "c": 20, "d": 10, "across": 0}, abs=1e-12)


def test_currents_come_home_through_body_frame_and_engine_by_the_straps_between_them() -> None:
    """
    The battery's negative is on the body, the lamp's ground too, the winch's on the frame, the engine hangs between both.

    Body to frame is 2 mΩ of strap beside 1 + 3 mΩ over the engine: 4/3 mΩ, of the winch's 30 A 20 by the strap.
    """
    drawing = Drawing(
        branches=(
            branch("cable", "-", "body", 0.0005),
            branch("strap", "body", "frame", 0.002),
            branch("engine strap", "body", "engine", 0.001),
            branch("mounts", "engine", "frame", 0.003),
            branch("stud", "frame", "stud", 0.0004),
        ),
        loads=(load("lamp", "+", "body", CURRENT, 10), load("winch", "+", "stud", CURRENT, 30)),
        emf_v=12.0,
    )

    result = drawing.solve()

    assert flows(drawing) == pytest.approx(
        {"cable": -40, "strap": -20, "engine strap": -10, "mounts": -10, "stud": -30}
    )
    assert result.load_v[:, 0] == pytest.approx([12 - 0.02, 12 - 0.02 - 0.04 - 0.012])
    assert [part.key for part in result.explain("winch", 0).branches] == ["stud", "strap", "cable"]


def test_a_ring_of_links_without_resistance_shares_equally_and_loses_nothing() -> None:
    # two links against one between the same two bars: a third and two thirds
    drawing = Drawing(
        branches=(
            branch("a", "+", "m", 0.0),
            branch("b", "m", "bus", 0.0),
            branch("c", "+", "bus", 0.0),
            branch("r", "bus", "+", 0.01),
        ),
        loads=(load("l", "bus", "-", CURRENT, 30),),
    )

    assert flows(drawing) == pytest.approx({"a": 10, "b": 10, "c": 20, "r": 0}, abs=1e-9)
    assert drawing.solve().load_v[0, 0] == 13.6


def test_rings_of_microhms_and_of_ohms_in_one_net_are_both_exact() -> None:
    # beside a bar of 2 µΩ a wire of 2 Ω: a millionth and one part in a million and one
    drawing = Drawing(
        branches=(
            branch("bar", "+", "m", 1e-6), branch("bar on", "m", "bus", 1e-6), branch("wire", "+", "bus", 2.0),
            branch("thin", "bus", "far", 1.0), branch("thin on", "far", "end", 1.0), branch("thin too", "bus", "end", 2.0),
        ),
        loads=(load("l", "bus", "-", CURRENT, 100), load("e", "end", "-", CURRENT, 1)),
    )  # fmt: skip

    found = flows(drawing)
    assert found["wire"] == pytest.approx(101 / 1_000_001, rel=1e-9)
    assert [found["thin"], found["thin too"]] == pytest.approx([0.5, 0.5])


def nodal_voltages(drawing: Drawing) -> dict[str, float]:
    """Constant currents by nodal analysis, with the source's own resistance as a branch."""
    names = sorted({end for b in drawing.branches for end in (b.from_node, b.to_node)} - {"-"})
    at = {name: row for row, name in enumerate(names)}
    siemens, amps = np.zeros((len(at), len(at))), np.zeros(len(at))
    for part in drawing.branches:
        ends = [at[end] for end in (part.from_node, part.to_node) if end != "-"]
        siemens[ends, ends] += 1 / part.resistance_ohm
        if len(ends) == 2:
            siemens[ends, ends[::-1]] -= 1 / part.resistance_ohm
    siemens[at["+"], at["+"]] += 1 / drawing.source_ohm
    amps[at["+"]] += drawing.emf_v / drawing.source_ohm
    for part in drawing.loads:
        for node, sign in ((part.supply_node, -1), (part.return_node, 1)):
            if node != "-":
                amps[at[node]] += sign * part.current_a
    return dict(zip(names, np.linalg.solve(siemens, amps), strict=True)) | {"-": 0.0}


def test_a_lattice_of_a_hundred_rings_agrees_with_nodal_analysis() -> None:
    rng = np.random.default_rng(3)
    names = [[f"n{x}.{y}" for y in range(11)] for x in range(11)]
    ends = [
        ((x, y), there) for x in range(11) for y in range(11) for there in ((x + 1, y), (x, y + 1)) if max(there) < 11
    ]
    branches = [branch("feed", "+", "n0.0", 0.001)]
    branches += [
        branch(f"{one} {other}", names[one[0]][one[1]], names[other[0]][other[1]], rng.uniform(0.001, 0.05))
        for one, other in ends
    ]
    loads = tuple(
        load(f"l{i}", names[rng.integers(11)][rng.integers(11)], "-", CURRENT, rng.uniform(0.1, 3)) for i in range(40)
    )
    drawing = Drawing(branches=tuple(branches), loads=loads, source_ohm=0.005)

    result, expected = drawing.solve(), nodal_voltages(drawing)

    assert len(result.network.forest.rings.closers) == 100
    ours = dict(zip(result.network.forest.names, result.node_v[:, 0], strict=True))
    assert {node: ours[node] for node in expected} == pytest.approx(expected, abs=1e-11)


def test_many_pairs_of_nodes_are_swept_and_few_are_not_and_both_agree(monkeypatch) -> None:
    drawing = made_mesh(6)
    few = drawing.solve()
    assert isinstance(few.network.shared, Shared)

    monkeypatch.setattr(network_shared, "MOST_PAIRS", 0)
    many = drawing.solve()

    assert isinstance(many.network.shared, Swept)
    assert many.load_v == pytest.approx(few.load_v, abs=1e-10)
    assert many.branch_a() == pytest.approx(few.branch_a(), abs=1e-9)


@settings(max_examples=25)
@given(resistive_drawings, st.floats(0.0005, 1.0), st.data())
def test_another_conductor_never_lowers_what_resistances_draw(drawing: Drawing, ohm: float, data) -> None:
    """Rayleigh's law."""
    part = data.draw(st.sampled_from(drawing.branches))
    side = [
        n
        for n in drawing.build().forest.names
        if (n in "-" or n[0] == "g") == (part.from_node in "-" or part.from_node[0] == "g")
    ]
    other = data.draw(
        st.sampled_from([n for n in side if n != part.from_node and not n.startswith("c")] or [part.to_node])
    )
    more = replace(drawing, branches=(*drawing.branches, branch("more", part.from_node, other, ohm)))

    assert more.solve().source_a[0, 0] >= drawing.solve().source_a[0, 0] - 1e-9


@pytest.mark.parametrize("seed", [4, 9, 17])
def test_close_to_its_largest_load_a_mesh_stays_on_the_upper_solution(seed: int) -> None:
    drawing = made_mesh(seed, models=[POWER])
    network, count = drawing.build(), len(drawing.loads)

    def solved(*scales: float) -> NetworkResult:
        ones = np.ones((1, len(scales)))
        return solve_network(
            network,
            emf_v=drawing.emf_v * ones,
            source_ohm=drawing.source_ohm * ones,
            load_scale=np.tile(scales, (count, 1)),
        )

    most, width = 1.0, 40.0
    for _ in range(8):  # to a part in a hundred million
        width /= 16
        most += width * (15 - len(solved(*(most + width * np.arange(1, 16))).no_operating_point))
    result = solved(*(most * np.array([0.5, 0.9, 0.99, 0.999, 0.999999, 1.000001])))

    assert [collapse.condition for collapse in result.no_operating_point] == [5]
    volts = result.load_v[:, :5]
    assert (np.diff(volts, axis=1) < 0).all()
    # the load that decides meets its lower solution at about half of what its wiring leaves it
    assert volts.min() > 0.4 * drawing.emf_v


# Two batteries whose ways back run through one strap in opposite senses: each one's current lifts the other's load.
OPPOSED = replace(
    TWO_BATTERIES,
    branches=(branch("strap", "s-", "a-", 0.08),),
    loads=(load("lamp", "s+", "a-", POWER, 40), load("radio", "a+", "s-", POWER, 40)),
)


def fallen(drawing: Drawing, scale: float) -> bool:
    network = drawing.build()
    ones, count = np.ones((2, 1)), len(drawing.loads)
    feeding = Feeding.of(network.posts, 12 * ones, 0 * ones, np.inf * ones, -np.inf * ones)
    return bool(fall(network.core, network.laws(np.full((count, 1), scale)), feeding).found[0])


def test_opposed_ways_back_let_each_battery_carry_what_neither_could_alone() -> None:
    # alone at most 12² / (4 x 0.08) = 450 W; together they carry 480 each, with nothing flowing in the strap
    result = OPPOSED.solve()

    assert not result.no_operating_point
    assert result.load_v[:, 0] == pytest.approx([12, 12])
    alone = replace(OPPOSED, loads=OPPOSED.loads[:1])
    assert alone.solve().no_operating_point


def test_newtons_method_decides_where_one_load_lifts_another() -> None:
    assert fallen(OPPOSED, 1.0)
    assert fallen(OPPOSED, 3.0)


def test_where_one_load_lifts_another_too_much_is_still_too_much() -> None:
    lopsided = replace(OPPOSED, loads=(load("lamp", "s+", "a-", POWER, 60), load("radio", "a+", "s-", POWER, 5)))

    assert not fallen(lopsided, 1.0)
    (collapse,) = lopsided.solve().no_operating_point
    assert collapse.load == "lamp"
    # what the lamp takes at v, the radio standing at 24 - v: v (60 / (24 - v) + (12 - v) / 0.08), most at 6.18 V
    volts = np.linspace(6, 6.4, 4001)
    assert collapse.largest_w() == pytest.approx((volts * (60 / (24 - volts) + (12 - volts) / 0.08)).max(), rel=1e-5)
