"""Sources side by side, with limits, off, and converters between buses of different voltage."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.electrical import network_conditions
from builds.engineering.electrical.network import NetworkConverter, NetworkSource
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.errors import NetworkError, OutOfRange, SelfFed, ShortCircuit, Unconnected
from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import Drawing, branch, load, made_mesh

CURRENT, RESISTIVE, POWER = LoadModel.CONSTANT_CURRENT, LoadModel.RESISTIVE, LoadModel.CONSTANT_POWER


def posts(*names: str) -> tuple[NetworkSource, ...]:
    return tuple(NetworkSource(key=name, positive_node=f"{name}+", negative_node="-") for name in names)


def engine_running(*loads, cable_ohm: float = 0.002) -> Drawing:
    """A battery and an alternator joined by the charging cable; loads at the battery's post."""
    return Drawing(sources=posts("bat", "alt"), branches=(branch("charge", "alt+", "bat+", cable_ohm),), loads=loads)


# A battery of 12.6 V behind 5 mΩ that is full and takes nothing, an alternator held at 14.2 V that gives 100 A.
ENDS = {"each_v": [12.6, 14.2], "each_ohm": [0.005, 0.0], "limit_a": [np.inf, 100.0], "intake_a": [0.0, 0.0]}


def test_two_like_batteries_side_by_side_share_by_their_own_resistance() -> None:
    # 30 A from 12 V behind 6 and 3 mΩ, tied by nothing: 2 mΩ together, a third and two thirds of the current
    drawing = Drawing(
        sources=posts("a", "b"), branches=(branch("tie", "a+", "b+", 0.0),), loads=(load("l", "a+", "-", CURRENT, 30),)
    )

    result = drawing.solve(each_v=[12.0, 12.0], each_ohm=[0.006, 0.003])

    assert result.source_a[:, 0] == pytest.approx([10, 20], abs=1e-9)
    assert result.load_v[0, 0] == pytest.approx(12 - 30 * 0.002, abs=1e-12)


def test_a_full_battery_closed_on_a_flat_one_equalises_through_what_lies_between() -> None:
    # (12.7 - 11.5) / (5 + 10 + 3 mΩ) = 66.7 A out of one and into the other, with nothing else on
    drawing = Drawing(sources=posts("full", "flat"), branches=(branch("link", "full+", "flat+", 0.003),), loads=())

    result = drawing.solve(each_v=[12.7, 11.5], each_ohm=[0.005, 0.010])

    assert result.source_a[:, 0] == pytest.approx([1.2 / 0.018, -1.2 / 0.018])


def test_an_alternator_within_its_limit_carries_everything() -> None:
    result = engine_running(load("all", "bat+", "-", CURRENT, 80)).solve(**ENDS)

    assert result.source_a[:, 0] == pytest.approx([0, 80], abs=1e-9)
    assert result.load_v[0, 0] == pytest.approx(14.2 - 80 * 0.002)
    assert result.at_limit[:, 0].tolist() == [True, False]  # the battery takes no more than nothing


def test_past_the_alternators_limit_the_battery_gives_the_rest_at_its_own_voltage() -> None:
    # 135 A: 100 from the alternator and 35 from the battery, 12.6 - 35 x 5 mΩ at the post
    result = engine_running(load("all", "bat+", "-", CURRENT, 135)).solve(**ENDS)

    assert result.source_a[:, 0] == pytest.approx([35, 100], abs=1e-9)
    assert result.load_v[0, 0] == pytest.approx(12.6 - 35 * 0.005)
    assert result.at_limit[:, 0].tolist() == [False, True]
    # the alternator's own post stands where 100 A through the cable put it
    assert result.terminal_v[1, 0] == pytest.approx(12.425 + 100 * 0.002)


@pytest.mark.parametrize("left_on_a", [0.0, 20.0])
def test_when_a_load_cuts_out_the_alternator_carries_what_is_left(left_on_a: float) -> None:
    # 12.6 - 35 A × 5 mΩ is below 12.6 V: it goes off, and the alternator is not held at its limit any longer
    heavy = load("heavy", "bat+", "-", CURRENT, 135, min_v=12.6)

    result = engine_running(heavy, load("small", "bat+", "-", CURRENT, left_on_a or 1e-9)).solve(**ENDS)

    assert result.no_operating_point == ()
    assert result.cut_out[:, 0].tolist() == [True, False]
    assert result.load_v[0, 0] == pytest.approx(14.2 - left_on_a * 0.002)


def test_between_regulated_and_battery_voltage_heaters_settle_where_they_take_the_limit() -> None:
    # 0.13 Ω would take 108 A at 14 V and 97 A at 12.6 V: the alternator's 100 A stand at 13 V and the battery is idle
    result = engine_running(load("heat", "bat+", "-", RESISTIVE, 12 / 0.13)).solve(**ENDS)

    assert result.load_v[0, 0] == pytest.approx(13.0)
    assert result.source_a[:, 0] == pytest.approx([0, 100], abs=1e-9)
    assert result.at_limit[:, 0].tolist() == [True, True]


def test_a_battery_takes_what_it_accepts_and_no_more() -> None:
    # unlimited it would take (14.2 - 12.6) / (5 + 2 mΩ) = 229 A
    result = engine_running(load("all", "bat+", "-", CURRENT, 20)).solve(**ENDS | {"intake_a": [30.0, 0.0]})

    assert result.source_a[:, 0] == pytest.approx([-30, 50], abs=1e-9)


def test_charging_gives_way_when_loads_need_the_alternators_limit() -> None:
    # 90 A of loads leave the battery 10 of the 30 it would accept, which stand at 12.6 + 10 x 5 mΩ
    result = engine_running(load("all", "bat+", "-", CURRENT, 90)).solve(**ENDS | {"intake_a": [30.0, 0.0]})

    assert result.source_a[:, 0] == pytest.approx([-10, 100], abs=1e-9)
    assert result.load_v[0, 0] == pytest.approx(12.65)


POSTS = {"bat": (12.6, 0.005, np.inf, 0.0), "aux": (12.8, 0.004, np.inf, 0.0), "alt": (14.2, 0.0, 100.0, 0.0)}


@pytest.mark.parametrize("order", list(permutations(POSTS)), ids=" ".join)
@settings(max_examples=15, deadline=None)
@given(constant_a=st.floats(0.0, 70.0), heater_a=st.just(0.0) | st.floats(0.01, 70.0), power_a=st.floats(1.0, 70.0))
def test_the_order_in_which_sources_are_drawn_changes_nothing(order, constant_a, heater_a, power_a) -> None:
    # nearly all constant power, the sum settles far above every source once the alternator is held and batteries idle
    tie = (branch("charge", "alt+", "bat+", 0.002), branch("link", "aux+", "bat+", 0.003))
    loads = tuple(
        load(model.value, "bat+", "-", model, amps)
        for model, amps in ((CURRENT, constant_a), (RESISTIVE, heater_a), (POWER, power_a))
    )
    figures = [[POSTS[name][at] for name in order] for at in range(4)]

    result = Drawing(sources=posts(*order), branches=tie, loads=loads).solve(
        each_v=figures[0], each_ohm=figures[1], limit_a=figures[2], intake_a=figures[3]
    )

    assert result.no_operating_point == ()
    given_a = dict(zip(order, result.source_a[:, 0].tolist(), strict=True))
    assert min(given_a.values()) >= -1e-9
    assert given_a["alt"] <= 100 + 1e-9
    # a battery gives only where the alternator gives all it can and its own post has come down to it
    for name in ("bat", "aux"):
        if given_a[name] > 1e-6:
            assert given_a["alt"] == pytest.approx(100)
            post_v = float(result.terminal_v[order.index(name), 0])
            assert post_v == pytest.approx(POSTS[name][0] - POSTS[name][1] * given_a[name])
    assert result.load_v[0, 0] < 14.2 + 1e-9


def test_conditions_with_and_without_the_engine_are_solved_together() -> None:
    drawing = engine_running(load("all", "bat+", "-", CURRENT, 50))

    result = solve_network(
        drawing.build(),
        emf_v=[[12.6, 12.6, 12.6], [14.2, 14.2, 14.2]],
        source_ohm=[[0.005] * 3, [0.0] * 3],
        load_scale=[[1.0, 1.0, 3.0]],
        limit_a=[[np.inf] * 3, [100.0, 0.0, 100.0]],
        intake_a=[[0.0] * 3, [0.0] * 3],
    )

    assert result.source_a == pytest.approx(np.array([[0, 50, 50], [50, 0, 100]]), abs=1e-9)
    assert result.at_limit[1].tolist() == [False, False, True]  # off is not at its limit


def test_an_alternator_alone_past_its_limit_has_no_operating_point_on_a_constant_current() -> None:
    drawing = Drawing(
        sources=posts("alt"),
        branches=(),
        loads=(load("pump", "alt+", "-", CURRENT, 120), load("fan", "alt+", "-", CURRENT, 10)),
    )

    result = drawing.solve(each_v=[14.0], each_ohm=[0.0], limit_a=[100.0], intake_a=[0.0])

    (collapse,) = result.no_operating_point
    assert collapse.load == "pump"
    assert collapse.largest_w() == pytest.approx(12 * 90, rel=1e-6)


def test_an_alternator_alone_past_its_limit_sags_on_heaters() -> None:
    drawing = Drawing(sources=posts("alt"), branches=(), loads=(load("heat", "alt+", "-", RESISTIVE, 120),))

    result = drawing.solve(each_v=[14.0], each_ohm=[0.0], limit_a=[100.0], intake_a=[0.0])

    assert result.load_v[0, 0] == pytest.approx(10.0)  # 100 A through 0.1 Ω


def test_a_constant_power_with_heaters_on_a_limited_source_takes_the_upper_root() -> None:
    # v / 0.2 + 480 / v = 100 at v = 8 and at v = 12: v (20 - v) = 0.2 x 480
    loads = (load("heat", "alt+", "-", RESISTIVE, 60), load("radio", "alt+", "-", POWER, 40))

    result = Drawing(sources=posts("alt"), branches=(), loads=loads).solve(
        each_v=[14.0], each_ohm=[0.0], limit_a=[100.0], intake_a=[0.0]
    )

    assert result.load_v[0, 0] == pytest.approx(12)


def test_a_load_that_nothing_feeds_in_a_condition_takes_nothing() -> None:
    drawing = Drawing(
        sources=posts("bat", "shore"),
        branches=(),
        loads=(load("lamp", "bat+", "-", RESISTIVE, 5), load("heater", "shore+", "-", CURRENT, 10)),
    )

    result = solve_network(
        drawing.build(), emf_v=[[12, 12], [14, 14]], source_ohm=[[0.01, 0.01], [0.0, 0.0]],
        load_scale=[[1, 1], [1, 1]], limit_a=[[np.inf, np.inf], [20, 0]],
    )  # fmt: skip

    assert result.unfed.tolist() == [[False, False], [False, True]]
    assert result.load_a[1] == pytest.approx([10, 0])
    assert result.load_v[1] == pytest.approx([14, 0])
    assert result.load_v[0, 0] == result.load_v[0, 1]


def test_with_every_source_off_everything_stands_at_nothing() -> None:
    result = engine_running(load("all", "bat+", "-", CURRENT, 50)).solve(**ENDS | {"limit_a": [0.0, 0.0]})

    assert result.unfed.all()
    assert not result.load_a.any() and not result.load_v.any() and not result.source_a.any()


def test_two_parts_that_only_a_source_that_is_off_joins_are_solved_each_for_itself() -> None:
    # two batteries with returns of their own; a charger between them, isolated from neither
    sources = tuple(NetworkSource(key=k, positive_node=f"{k}+", negative_node=f"{k}-") for k in "ab")
    charger = NetworkSource(key="charger", positive_node="b+", negative_node="a-")
    loads = (
        load("one", "a+", "a-", CURRENT, 10),
        load("two", "b+", "b-", CURRENT, 20),
        load("across", "b+", "a-", CURRENT, 5),
    )
    drawing = Drawing(sources=(*sources, charger), branches=(), loads=loads)

    result = drawing.solve(each_v=[12.0, 24.0, 25.0], each_ohm=[0.01, 0.01, 0.0], limit_a=[np.inf, np.inf, 0.0])

    assert result.load_v[:2, 0] == pytest.approx([11.9, 23.8])
    assert result.unfed[:, 0].tolist() == [False, False, True]


def test_batteries_in_series_make_one_of_twice_the_voltage() -> None:
    sources = (
        NetworkSource(key="low", positive_node="mid-", negative_node="-"),
        NetworkSource(key="high", positive_node="+", negative_node="mid+"),
    )
    loads = (load("truck", "+", "-", CURRENT, 20, at_v=24), load("radio", "mid-", "-", CURRENT, 5))
    drawing = Drawing(sources=sources, branches=(branch("link", "mid-", "mid+", 0.001),), loads=loads)

    result = drawing.solve(each_v=[12.5, 12.5], each_ohm=[0.004, 0.004])

    assert result.source_a[:, 0] == pytest.approx([25, 20])
    assert result.load_v[:, 0] == pytest.approx([25 - 25 * 0.004 - 20 * 0.005, 12.5 - 25 * 0.004])
    assert result.explain("radio", 0).source == "low"


def test_a_source_that_cannot_give_takes_what_another_can_give() -> None:
    # a capacitor bank at 12 V that would take 5 A from a charger of 14 V that has 3
    drawing = Drawing(sources=posts("bank", "charger"), branches=(branch("link", "charger+", "bank+", 0.01),), loads=())

    result = drawing.solve(each_v=[12.0, 14.0], each_ohm=[0.0, 0.0], limit_a=[0.0, 3.0], intake_a=[5.0, 0.0])

    assert result.source_a[:, 0] == pytest.approx([-3, 3])
    assert result.terminal_v[:, 0] == pytest.approx([12.0, 12.03])


def test_what_will_not_come_to_rest_counts_as_no_operating_point(monkeypatch) -> None:
    """No such network is known; the end of patience is shortened to see what follows from it."""
    monkeypatch.setattr(network_conditions, "_MOST_CHANGES", 1)

    (collapse,) = converted(load("pump", "24+", "-", CURRENT, 5, at_v=24)).solve().no_operating_point

    assert collapse.load == "step-up"


def test_two_sources_without_resistance_at_one_place_are_refused() -> None:
    drawing = Drawing(sources=posts("a", "b"), branches=(branch("tie", "a+", "b+", 0.0),), loads=())

    with pytest.raises(NetworkError, match="side by side"):
        drawing.solve(each_v=[12.0, 13.0], each_ohm=[0.0, 0.0])


@pytest.mark.parametrize("ends", [{"limit_a": [-1.0]}, {"limit_a": [float("nan")]}, {"intake_a": [-1.0]}])
def test_limits_out_of_range_are_refused(ends) -> None:
    with pytest.raises(OutOfRange):
        Drawing(branches=(), loads=()).solve(**ends)


@settings(max_examples=40)
@given(
    seed=st.integers(0, 2**32 - 1),
    limit_a=st.floats(0.5, 60),
    battery_v=st.floats(11.8, 12.9),
    intake_a=st.floats(0, 40),
    more_ohm=st.floats(0.0005, 0.01),
)
def test_every_source_is_free_or_rightly_held(
    seed: int, limit_a: float, battery_v: float, intake_a: float, more_ohm: float
) -> None:
    """What holding means, checked on the answer alone, in meshes with a battery and an alternator of any size."""
    plain = made_mesh(seed)
    alternator = NetworkSource(key="alternator", positive_node="alt", negative_node="-")
    drawing = replace(
        plain, sources=(*plain.sources, alternator), branches=(*plain.branches, branch("charge", "alt", "+", more_ohm))
    )
    volts, ohm, most, least = [battery_v, 14.2], [0.005, 0.0], [np.inf, limit_a], [-intake_a, 0.0]

    result = drawing.solve(each_v=volts, each_ohm=ohm, limit_a=most, intake_a=[intake_a, 0.0])

    assert not result.no_operating_point
    for source in range(2):
        amps, missing_v = (
            result.source_a[source, 0],
            volts[source] - ohm[source] * result.source_a[source, 0] - result.terminal_v[source, 0],
        )
        assert least[source] - 2e-9 <= amps <= most[source] + 2e-9
        if amps < most[source] - 2e-9:
            assert missing_v <= 2e-9  # it would give more, were its post below what it holds
        if amps > least[source] + 2e-9:
            assert missing_v >= -2e-9


# 12 V in, 24 V out, at most 10 A, nine tenths of what goes in come out, 6 W for itself.
CONVERTER = NetworkConverter(
    key="step-up", supply_node="panel", return_node="-", positive_node="24+", negative_node="-",
    output_v=24.0, limit_a=10.0, efficiency_ratio=0.9, idle_w=6.0,
)  # fmt: skip


def converted(*loads, converter: NetworkConverter = CONVERTER, feed_ohm: float = 0.02) -> Drawing:
    return Drawing(branches=(branch("feed", "+", "panel", feed_ohm),), loads=loads, converters=(converter,), emf_v=12.5)


def test_a_converter_asks_for_what_it_gives_and_loses_and_for_itself() -> None:
    result = converted(load("pump", "24+", "-", CURRENT, 5, at_v=24)).solve()

    # 24 V x 5 A / 0.9 + 6 W = 139.33 W at v: v (12.5 - v) / 0.02 Ω
    watts = 120 / 0.9 + 6
    upper = 6.25 + (6.25**2 - 0.02 * watts) ** 0.5
    assert result.load_v[0, 0] == pytest.approx(24)
    assert result.load_v[1, 0] == pytest.approx(upper)
    assert result.load_a[1, 0] == pytest.approx(watts / upper, abs=2e-9)
    assert result.source_a[:, 0] == pytest.approx([watts / upper, 5], abs=2e-9)


def test_a_converter_with_nothing_on_its_bus_takes_what_it_takes_for_itself() -> None:
    result = converted(load("pump", "24+", "-", CURRENT, 5, at_v=24)).solve(scale=[0.0])

    assert result.load_v[1, 0] * result.load_a[1, 0] == pytest.approx(6.0)


def test_at_its_limit_a_converters_bus_sags() -> None:
    result = converted(load("heat", "24+", "-", RESISTIVE, 12, at_v=24)).solve()

    # 2 Ω would take 12 A; 10 A stand at 20 V, 200 W out
    assert result.load_v[0, 0] == pytest.approx(20)
    assert result.at_limit[1, 0]
    assert result.load_v[1, 0] * result.load_a[1, 0] == pytest.approx(200 / 0.9 + 6)


def test_a_load_past_a_converters_limit_is_named_with_the_largest_it_could_be() -> None:
    (collapse,) = converted(load("pump", "24+", "-", POWER, 15, at_v=24)).solve().no_operating_point

    assert (collapse.load, collapse.wanted_w) == ("pump", 360)
    assert collapse.largest_w() == pytest.approx(240, rel=1e-6)


def test_a_converter_that_its_feed_cannot_carry_is_named() -> None:
    # 12.5² / (4 x 0.4 Ω) = 97.66 W is the most the feed brings
    (collapse,) = converted(load("pump", "24+", "-", CURRENT, 5, at_v=24), feed_ohm=0.4).solve().no_operating_point

    assert collapse.load == "step-up"
    assert collapse.wanted_w == pytest.approx(120 / 0.9 + 6)
    assert collapse.largest_w() == pytest.approx(97.656, rel=1e-4)


def test_a_converter_below_its_least_voltage_is_off_and_so_is_its_bus() -> None:
    loads = (load("pump", "24+", "-", CURRENT, 5, at_v=24), load("lamp", "panel", "-", RESISTIVE, 1))
    result = converted(*loads, converter=replace(CONVERTER, min_v=12.4)).solve()

    assert result.cut_out[:, 0].tolist() == [False, False, True]
    assert result.unfed[:, 0].tolist() == [True, False, False]
    assert result.load_a[[0, 2], 0].tolist() == [0, 0]
    assert result.load_v[1, 0] == pytest.approx(12.5 * 12 / 12.02)


def test_a_converter_behind_a_converter_settles() -> None:
    second = replace(
        CONVERTER, key="step-down", supply_node="24+", positive_node="5+", output_v=5.0, limit_a=20.0, idle_w=1.0
    )
    drawing = replace(converted(load("usb", "5+", "-", CURRENT, 6, at_v=5)), converters=(CONVERTER, second))

    result = drawing.solve()

    inner = 30 / 0.9 + 1
    assert result.load_v[2, 0] * result.load_a[2, 0] == pytest.approx(inner)
    assert result.load_v[1, 0] * result.load_a[1, 0] == pytest.approx(inner / 0.9 + 6)


def test_a_charger_for_a_second_battery_takes_more_the_lower_its_input() -> None:
    # 40 A at 14.4 V through nine tenths from 12.2 V: 52.5 A in
    charger = replace(CONVERTER, output_v=14.4, limit_a=40.0, idle_w=0.0, positive_node="aux+")
    drawing = replace(
        converted(converter=charger, feed_ohm=0.0),
        sources=posts("start", "aux"),
        branches=(branch("feed", "start+", "panel", 0.0),),
    )

    result = drawing.solve(each_v=[12.2, 12.8], each_ohm=[0.0, 0.04], intake_a=[np.inf, 100.0])

    assert result.source_a[2, 0] == pytest.approx(40)
    assert result.terminal_v[1, 0] == pytest.approx(14.4)
    assert result.load_a[0, 0] == pytest.approx(52.459, abs=5e-4)


def test_converters_that_feed_only_each_other_are_named() -> None:
    one = replace(CONVERTER, key="one", supply_node="b+", positive_node="a+")
    other = replace(CONVERTER, key="other", supply_node="a+", positive_node="b+")

    with pytest.raises(SelfFed) as caught:
        replace(converted(), converters=(one, other)).build()

    assert caught.value.keys == ("one", "other")


@pytest.mark.parametrize(
    ("converter", "error"),
    [
        (replace(CONVERTER, supply_node="nowhere"), Unconnected),
        (replace(CONVERTER, positive_node="-"), OutOfRange),
        (replace(CONVERTER, positive_node="stud"), ShortCircuit),
    ],
)
def test_converters_drawn_wrongly_are_refused(converter: NetworkConverter, error: type[Exception]) -> None:
    with pytest.raises(error):
        replace(
            converted(converter=converter), branches=(*converted().branches, branch("stud", "-", "stud", 0.001))
        ).build()


@pytest.mark.parametrize(
    "wrong", [{"efficiency_ratio": 0.0}, {"output_v": 0.0}, {"limit_a": -1.0}, {"idle_w": -1.0}, {"output_ohm": -1.0}]
)
def test_a_converter_out_of_range_is_refused(wrong) -> None:
    with pytest.raises(OutOfRange):
        replace(CONVERTER, **wrong)
