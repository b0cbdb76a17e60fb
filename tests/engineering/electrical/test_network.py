"""The solved distribution: reference nets, collapse, cut-out, two batteries, and what cannot be solved."""

from dataclasses import replace

import numpy as np
import pytest

from builds.engineering.electrical.network import NetworkSource
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.errors import Floating, NetworkError, OutOfRange, ShortCircuit, Unconnected, UnknownTableEntry
from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import NET_A, NET_B, NET_C, NET_D, Drawing, branch, load, made_drawing, wire

CURRENT, RESISTIVE, POWER = LoadModel.CONSTANT_CURRENT, LoadModel.RESISTIVE, LoadModel.CONSTANT_POWER


# The reference nets were solved twice elsewhere (dense nodal analysis and ngspice 39) and agree in all digits given.
@pytest.mark.parametrize(
    ("key", "volts", "drop", "percent"),
    [("L1", 12.633760, 0.966240, 7.1047), ("L2", 12.588060, 1.011940, 7.4407), ("L3", 12.991700, 0.608300, 4.4728)],
)
def test_net_a_two_wire_tree(key: str, volts: float, drop: float, percent: float) -> None:
    way = NET_A.solve().explain(key, 0)

    assert way.load_v == pytest.approx(volts, abs=5e-7)
    assert way.drop_v == pytest.approx(drop, abs=5e-7)
    assert 100 * way.drop_v / 13.6 == pytest.approx(percent, abs=5e-5)


def test_net_a_feeder_and_source() -> None:
    result = NET_A.solve()
    volts = dict(zip(result.network.forest.names, result.node_v[:, 0], strict=True))

    assert volts["D"] - volts["D-"] == pytest.approx(13.391260, abs=5e-7)
    assert result.source_a[0, 0] == pytest.approx(35.0, abs=1e-9)


def test_net_b_shared_chassis_return() -> None:
    result = NET_B.solve()
    volts = dict(zip(result.network.forest.names, result.node_v[:, 0], strict=True))

    assert result.source_a[0, 0] == pytest.approx(33.208918, abs=5e-7)
    assert result.terminal_v[0, 0] == pytest.approx(13.334329, abs=5e-7)
    assert volts["D"] == pytest.approx(13.235300, abs=5e-7)
    assert volts["G"] == pytest.approx(0.066418, abs=5e-7)
    assert result.load_v[:, 0] == pytest.approx([12.812075, 12.791166, 12.978235], abs=5.1e-7)
    assert result.load_a[:, 0] == pytest.approx([9.420643, 4.702635, 19.085640], abs=5.1e-7)


def test_net_d_constant_power_takes_the_upper_root() -> None:
    result = NET_D.solve()

    assert result.load_v[0, 0] == pytest.approx(12.433695, abs=5e-7)
    assert result.load_a[0, 0] == pytest.approx(9.651194, abs=5e-7)
    assert result.explain("P", 0).drop_v == pytest.approx(0.766305, abs=5e-7)


def test_net_d_past_its_largest_power_has_no_operating_point() -> None:
    # Pmax = V² / 4R = 13.2² / (4 x 79.4 mΩ) = 548.61 W
    result = NET_D.solve(scale=[5])

    (collapse,) = result.no_operating_point
    assert (collapse.condition, collapse.load) == (0, "P")
    assert collapse.wanted_w == pytest.approx(600)
    assert collapse.largest_w() == pytest.approx(548.61, abs=5e-3)
    assert np.isnan(result.load_v).all() and np.isnan(result.source_a).all()


@pytest.mark.parametrize("part", [0.5, 0.9, 0.99, 0.999, 0.999999])
def test_close_to_collapse_the_upper_root_is_still_found(part: float) -> None:
    ohm = 2 * 1.588 * 25 / 1000
    power = part * 13.2**2 / (4 * ohm)
    upper = 6.6 + (6.6**2 - ohm * power) ** 0.5

    result = NET_D.solve(scale=[power / 120])

    assert not result.no_operating_point
    assert result.load_v[0, 0] == pytest.approx(upper, rel=1e-7)


def test_one_condition_that_collapses_leaves_the_others_solved() -> None:
    result = solve_network(NET_D.build(), emf_v=[13.2, 5.0, 13.2], source_ohm=[0, 0, 0], load_scale=[[1, 4, 1]])

    assert [c.condition for c in result.no_operating_point] == [1]
    assert result.load_v[0, [0, 2]] == pytest.approx(12.433695, abs=5e-7)
    assert np.isnan(result.load_v[0, 1])


def test_a_constant_current_that_would_turn_the_voltage_over_is_named() -> None:
    # 200 A through 79.4 mΩ is more than 13.2 V: at most 166.2 A, or 1995 W at 12 V
    drawing = replace(NET_D, loads=(load("winch", "P", "P-", CURRENT, 200),))

    (collapse,) = drawing.solve().no_operating_point
    assert collapse.load == "winch"
    assert collapse.largest_w() == pytest.approx(12 * 13.2 / 0.0794, rel=1e-5)


def test_a_constant_current_at_the_end_of_its_own_thin_wire_is_named_beside_a_healthy_constant_power() -> None:
    # 20 A through 1 Ω is more than 13.6 V; the other load on the feed has its operating point
    drawing = Drawing(
        branches=(branch("feed", "+", "bus", 0.001), branch("thin", "bus", "far", 1.0)),
        loads=(load("winch", "far", "-", CURRENT, 20), load("lamp", "bus", "-", POWER, 5)),
    )

    (collapse,) = drawing.solve().no_operating_point
    assert collapse.load == "winch"
    assert 0.67 < collapse.largest_w() / collapse.wanted_w < 0.68  # 13.6 V less some millivolts of feed, over 1 Ω


def test_a_constant_current_that_leaves_a_constant_power_nothing_is_the_one_named() -> None:
    # the winch's 300 A on the shared 79.4 mΩ turn the voltage over before the lamp has taken anything
    loads = (load("winch", "P", "P-", CURRENT, 300), load("lamp", "P", "P-", POWER, 2))

    (collapse,) = replace(NET_D, loads=loads).solve().no_operating_point

    assert collapse.load == "winch"


def test_four_times_the_largest_power_meets_a_flat_slope_and_is_still_decided() -> None:
    # z p = e²: the very first Newton step divides by nothing. 8² / 0.25 = 256 W, largest 8² / (4 x 0.25) = 64 W.
    drawing = Drawing(
        branches=(branch("wire", "+", "P", 0.25),), loads=(load("P", "P", "-", POWER, 16, at_v=16),), emf_v=8.0
    )

    (collapse,) = drawing.solve().no_operating_point
    assert collapse.wanted_w == 256
    assert collapse.largest_w() == pytest.approx(64, rel=1e-5)


def test_of_two_loads_the_one_that_asks_too_much_is_named() -> None:
    loads = (load("lamp", "P", "P-", POWER, 1), load("winch", "P", "P-", POWER, 60))

    (collapse,) = replace(NET_D, loads=loads).solve().no_operating_point

    assert collapse.load == "winch"
    # together at most 548.61 W; the lamp takes 12 of them
    assert collapse.largest_w() == pytest.approx(548.61 - 12, abs=5e-3)


def test_where_taking_the_named_load_away_is_not_enough_the_largest_is_nothing() -> None:
    loads = (load("one", "P", "P-", POWER, 60), load("other", "P", "P-", POWER, 60))

    (collapse,) = replace(NET_D, loads=loads).solve().no_operating_point

    assert collapse.largest_w() == 0


def test_heavy_resistive_loads_are_solved_though_half_the_voltage_is_lost() -> None:
    # ten loads of 1.2 Ω behind a shared 0.5 Ω: 0.12 Ω of load, so 13.6 x 0.12 / 0.62 V at each
    loads = tuple(load(f"h{i}", "N", "-", RESISTIVE, 10) for i in range(10))
    drawing = Drawing(branches=(branch("thin", "+", "N", 0.5),), loads=loads)

    assert drawing.solve().load_v[:, 0] == pytest.approx(13.6 * 0.12 / 0.62, rel=1e-9)


def test_a_load_below_its_least_voltage_is_off() -> None:
    drawing = replace(NET_D, loads=(load("radio", "P", "P-", POWER, 10, min_v=12.5),))

    result = drawing.solve()

    # on it would stand at 12.434 V; off, its terminals see the whole source
    assert result.cut_out[0, 0]
    assert result.load_a[0, 0] == 0
    assert result.load_v[0, 0] == pytest.approx(13.2)
    assert result.explain("radio", 0).cut_out


def test_the_load_furthest_below_goes_off_first_and_may_save_the_other() -> None:
    # 60 A through 79.4 mΩ leave 8.44 V; without the winch the radio's 10 A leave 12.41 V, above its 11 V
    loads = (load("radio", "P", "P-", CURRENT, 10, min_v=11), load("winch", "P", "P-", CURRENT, 50, min_v=11.5))

    result = replace(NET_D, loads=loads).solve()

    assert result.cut_out[:, 0].tolist() == [False, True]
    assert result.load_v[0, 0] == pytest.approx(13.2 - 10 * 0.0794)


def test_a_load_with_a_cut_out_goes_off_before_the_distribution_collapses() -> None:
    loads = (load("inverter", "P", "P-", POWER, 60, min_v=10.5), load("lamp", "P", "P-", RESISTIVE, 2))

    result = replace(NET_D, loads=loads).solve()

    assert not result.no_operating_point
    assert result.cut_out[:, 0].tolist() == [True, False]


def test_a_load_that_is_off_takes_nothing_and_shows_what_stands_there() -> None:
    result = NET_A.solve(scale=[0, 1, 1])

    assert result.load_a[0, 0] == 0
    # only the feeder's 25 A count: 13.6 - 25 x 2 x 12 x 0.2485 / 1000
    assert result.load_v[0, 0] == pytest.approx(13.6 - 25 * 24 * 0.2485e-3)


def test_explain_names_every_branch_out_and_back_with_the_shared_current() -> None:
    way = NET_B.solve().explain("L1", 0)

    assert [(part.key, part.is_return) for part in way.branches] == [("feed", False), ("L1", False), ("chassis", True)]
    assert way.branches[2].drop_v == pytest.approx(0.066418, abs=5e-7)
    assert way.branches[0].current_a == pytest.approx(33.208918, abs=5e-7)
    assert sum(part.drop_v for part in way.branches) == pytest.approx(way.drop_v, abs=1e-12)
    assert (way.source, way.emf_v) == ("battery", 13.6)


def test_two_conductors_side_by_side_share_by_conductance() -> None:
    # net C's double feed with what flows in it there: 40.361809 A part into 26.482798 and 13.879012, and dp is at 13.033635
    drawing = Drawing(
        branches=(wire("a", "+", "bus", "8", 10), wire("b", "bus", "+", "10", 12)),
        loads=(load("sink", "bus", "-", CURRENT, 40.361809),),
        emf_v=13.2,
    )

    result = drawing.solve()

    assert result.load_v[0, 0] == pytest.approx(13.033635, abs=5e-7)
    # the second is drawn from the bus to the post, and so counted
    assert result.branch_a()[:, 0] == pytest.approx([26.482798, -13.879012], abs=1e-6)
    way = result.explain("sink", 0)
    assert sum(part.drop_v for part in way.branches) == pytest.approx(way.drop_v, abs=1e-12)


def test_links_without_resistance_share_equally_and_lose_nothing() -> None:
    drawing = Drawing(
        branches=(branch("a", "+", "bus", 0.0), branch("b", "+", "bus", 0.0), branch("c", "+", "bus", 0.01)),
        loads=(load("sink", "bus", "-", CURRENT, 10),),
    )

    result = drawing.solve()

    assert result.load_v[0, 0] == 13.6
    assert result.branch_a()[:, 0].tolist() == [5, 5, 0]


# Two batteries with an open isolator share only the chassis: each one's current goes home to its own negative post.
TWO_BATTERIES = Drawing(
    sources=(
        NetworkSource(key="starting", positive_node="s+", negative_node="s-"),
        NetworkSource(key="auxiliary", positive_node="a+", negative_node="a-"),
    ),
    branches=(
        branch("s strap", "s-", "body", 0.001),
        branch("a strap", "body", "a-", 0.003),
        branch("stud", "body", "stud", 0.002),
        branch("s feed", "s+", "panel", 0.010),
        branch("a feed", "a+", "rack", 0.020),
    ),
    loads=(load("lamp", "panel", "stud", CURRENT, 10), load("radio", "rack", "stud", CURRENT, 20)),
    emf_v=12.0,
)


def test_each_battery_gets_its_own_current_back_through_the_shared_chassis() -> None:
    result = TWO_BATTERIES.solve()

    # lamp: 12 - 10 (10 + 1 mΩ) - 30 x 2 mΩ = 11.83; radio: 12 - 20 (20 + 3 mΩ) - 30 x 2 mΩ = 11.48
    assert result.load_v[:, 0] == pytest.approx([11.83, 11.48], abs=1e-12)
    assert result.source_a[:, 0].tolist() == [10, 20]


def test_the_second_batterys_posts_stand_where_its_strap_puts_them() -> None:
    result = TWO_BATTERIES.solve()
    volts = dict(zip(result.network.forest.names, result.node_v[:, 0], strict=True))

    # counted from s-: body +10 mV, stud 60 mV above it, a- 60 mV below it
    assert volts["body"] == pytest.approx(0.010)
    assert volts["stud"] == pytest.approx(0.070)
    assert volts["a-"] == pytest.approx(-0.050)
    assert volts["a+"] == pytest.approx(11.950)


def test_a_second_batterys_way_back_is_explained_to_its_own_post() -> None:
    way = TWO_BATTERIES.solve().explain("radio", 0)

    assert [part.key for part in way.branches] == ["a feed", "stud", "a strap"]
    assert way.branches[2].current_a == pytest.approx(20)
    assert sum(part.drop_v for part in way.branches) == pytest.approx(way.drop_v, abs=1e-12)


def test_a_battery_with_a_return_of_its_own_stands_apart() -> None:
    apart = replace(
        TWO_BATTERIES,
        branches=(branch("s feed", "s+", "panel", 0.01), branch("a feed", "a+", "rack", 0.02)),
        loads=(load("lamp", "panel", "s-", CURRENT, 10), load("radio", "rack", "a-", CURRENT, 20)),
    )

    assert apart.solve().load_v[:, 0] == pytest.approx([11.9, 11.6])


def test_constant_power_on_two_batteries_agrees_with_each_alone() -> None:
    # heavy loads, so that the sweeps hand over: each battery's net is Net D with another EMF
    legs = [wire(f"{s}{side}", f"{s}{side}", f"{s}P{side}", "12", 25) for s in "ab" for side in "+-"]
    drawing = Drawing(
        sources=tuple(NetworkSource(key=s, positive_node=f"{s}+", negative_node=f"{s}-") for s in "ab"),
        branches=tuple(legs),
        loads=tuple(load(s, f"{s}P+", f"{s}P-", POWER, 45) for s in "ab"),
        emf_v=13.2,
    )
    upper = 6.6 + (6.6**2 - 0.0794 * 540) ** 0.5

    assert drawing.solve().load_v[:, 0] == pytest.approx(upper, rel=1e-9)


def test_no_loads_draw_nothing() -> None:
    result = replace(NET_A, loads=()).solve()

    assert result.source_a[0, 0] == 0
    assert result.load_v.shape == (0, 1)


def test_results_cannot_be_written_to() -> None:
    result = NET_A.solve()

    for array in (result.load_a, result.load_v, result.source_a, result.terminal_v, result.down_a, result.node_v):
        with pytest.raises(ValueError, match="read-only"):
            array[0, 0] = 1.0


def test_net_c_a_ring_as_printed() -> None:
    result = NET_C.solve()
    volts = dict(zip(result.network.forest.names, result.node_v[:, 0], strict=True))

    assert volts["dp"] == pytest.approx(13.033635, abs=5e-7)
    assert volts["m"] == pytest.approx(13.030188, abs=5e-7)
    assert result.branch_a()[:, 0] == pytest.approx([26.482798, 13.879012, 0.361809, 7.638191], abs=5e-7)


@pytest.mark.parametrize(("node", "milliohms"), [("dp", 3.648353852), ("m", 8.457293388)])
def test_net_c_resistance_between_two_nodes_as_printed(node: str, milliohms: float) -> None:
    # one ampere taken at a node loses its resistance from there to the bus bar in volts
    result = replace(NET_C, loads=(load("one", node, "-", CURRENT, 1),)).solve()

    assert 1000 * (13.2 - result.load_v[0, 0]) == pytest.approx(milliohms, abs=5e-8)


@pytest.mark.parametrize(
    ("extra", "keys"),
    [
        pytest.param(branch("x", "D", "D-", 0.1), {"feed", "feed back", "x"}, id="a short between the sides"),
        pytest.param(branch("x", "+", "-", 0.1), {"x"}, id="a short across the posts"),
    ],
)
def test_shorts_name_their_branches(extra, keys: set[str]) -> None:
    with pytest.raises(ShortCircuit) as caught:
        replace(NET_A, branches=(*NET_A.branches, extra)).build()

    assert set(caught.value.keys) == keys


def test_a_branch_to_its_own_node_is_named() -> None:
    with pytest.raises(NetworkError) as caught:
        replace(NET_A, branches=(*NET_A.branches, branch("x", "D", "D", 0.1))).build()

    assert caught.value.keys == ("x",)


@pytest.mark.parametrize(
    ("extra", "keys"),
    [
        pytest.param({"branches": (branch("loose", "X", "Y", 1),)}, ("loose",), id="a branch nobody reaches"),
        pytest.param({"loads": (load("dark", "X", "-", CURRENT, 1),)}, ("dark",), id="a load nobody feeds"),
        pytest.param({"loads": (load("turned", "D-", "D", CURRENT, 1),)}, ("turned",), id="a load the wrong way round"),
    ],
)
def test_what_hangs_on_no_post_is_named(extra, keys: tuple[str, ...]) -> None:
    drawing = replace(
        NET_A,
        branches=(*NET_A.branches, *extra.get("branches", ())),
        loads=(*NET_A.loads, *extra.get("loads", ())),
    )
    with pytest.raises(Unconnected) as caught:
        drawing.build()

    assert caught.value.keys == keys


def test_a_load_without_a_way_back_is_named() -> None:
    with pytest.raises(Floating) as caught:
        replace(NET_A, loads=(*NET_A.loads, load("stuck", "D", "X", CURRENT, 1))).build()

    assert caught.value.keys == ("stuck",)


def test_a_load_between_two_batteries_is_refused() -> None:
    apart = (branch("s feed", "s+", "panel", 0.01), branch("a feed", "a+", "rack", 0.02))
    with pytest.raises(Floating, match="astray"):
        replace(TWO_BATTERIES, branches=apart, loads=(load("astray", "panel", "a-", CURRENT, 1),)).build()


@pytest.mark.parametrize(
    "drawing",
    [
        replace(NET_A, branches=(*NET_A.branches, branch("feed", "D", "Z", 1))),
        replace(NET_A, loads=(*NET_A.loads, load("L1", "D", "D-", CURRENT, 1))),
        replace(NET_A, sources=()),
    ],
)
def test_keys_used_twice_and_no_source_are_refused(drawing: Drawing) -> None:
    with pytest.raises(NetworkError):
        drawing.build()


def test_a_source_with_one_post_is_refused() -> None:
    with pytest.raises(OutOfRange):
        replace(NET_A, sources=(NetworkSource(key="s", positive_node="+", negative_node="+"),)).build()


def test_a_load_that_is_not_in_the_net_is_named() -> None:
    with pytest.raises(UnknownTableEntry, match="siren"):
        NET_A.solve().explain("siren", 0)


@pytest.mark.parametrize(
    "arrays",
    [
        {"emf_v": [0.0]},
        {"emf_v": [float("nan")]},
        {"source_ohm": [-0.1]},
        {"source_ohm": [0.0, 0.0]},
        {"load_scale": [[1], [1]]},
        {"load_scale": [[1], [1], [-1]]},
        {"load_scale": [[1], [1], [float("inf")]]},
    ],
)
def test_arrays_of_the_wrong_shape_or_range_are_refused(arrays) -> None:
    good = {"emf_v": [13.6], "source_ohm": [0.0], "load_scale": [[1], [1], [1]]}

    with pytest.raises(OutOfRange):
        solve_network(NET_A.build(), **good | arrays)


@pytest.mark.parametrize("wrong", [-1.0, float("nan"), 1e7])
def test_a_resistance_out_of_range_is_refused(wrong: float) -> None:
    with pytest.raises(OutOfRange):
        branch("x", "a", "b", wrong)


@pytest.mark.parametrize("wrong", [{"amperes": -1.0}, {"at_v": 0.0}, {"min_v": -1.0}])
def test_a_load_out_of_range_is_refused(wrong) -> None:
    with pytest.raises(OutOfRange):
        load("x", "a", "b", POWER, **{"amperes": 1.0} | wrong)


def test_all_conditions_together_are_each_condition_alone() -> None:
    drawing = made_drawing(7)
    rng = np.random.default_rng(7)
    network, count = drawing.build(), len(drawing.loads)
    emf, ohm = rng.uniform(11, 14.5, 12), rng.uniform(0, 0.01, 12)
    scale = rng.uniform(0, 1.2, (count, 12)) * (rng.random((count, 12)) < 0.7)

    together = solve_network(network, emf_v=emf, source_ohm=ohm, load_scale=scale)

    for c in range(12):
        alone = solve_network(network, emf_v=emf[c : c + 1], source_ohm=ohm[c : c + 1], load_scale=scale[:, c : c + 1])
        assert together.load_v[:, c] == pytest.approx(alone.load_v[:, 0], rel=1e-10)
