"""Load, then device, then conductor: the pair chosen and the rule that decided."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.electrical.conductors import ConductorSize, area_mm2
from builds.engineering.electrical.sizing import (
    DecidingRule,
    SizingCandidate,
    SizingRequest,
    choose_conductor_and_device,
)
from builds.engineering.errors import NoStandardSize, OutOfRange, UnknownTableEntry
from builds.engineering.vocabulary import GaugeBasis

# 24 A continuous on a blade fuse, cool cabin, short run: nothing but the fuse asks for much.
PLAIN = SizingRequest(
    basis=GaugeBasis.AWG,
    continuous_a=24,
    family="ATO",
    loading_ratio=0.8,
    device_ambient_c=25,
    insulation_c=105,
    ambient_c=30,
    margin_ratio=1.0,
    length_out_m=1,
    length_back_m=1,
    drop_current_a=24,
    drop_limit_v=1.2,
    drop_conductor_c=50,
    fault_v=11.5,
    fault_source_ohm=0.01,
    fault_conductor_c=105,
)


def check_of(candidate: SizingCandidate, rule: DecidingRule):
    return next(check for check in candidate.checks if check.rule is rule)


def candidate_of(request: SizingRequest, gauge: str) -> SizingCandidate:
    return next(c for c in choose_conductor_and_device(request).candidates if c.size.gauge == gauge)


def test_the_device_follows_from_the_load_and_the_conductor_from_the_device() -> None:
    # 24 / 0.8 = 30 A. At 105 °C 16 AWG carries 25 A (enough for the load), 14 AWG 35 A (enough for the fuse).
    choice = choose_conductor_and_device(PLAIN)

    assert (choice.needed_rating_a, choice.rating_a) == (30, 30)
    assert choice.size == ConductorSize(GaugeBasis.AWG, "14")
    assert choice.decided_by is DecidingRule.DEVICE_MARGIN


# Each rule in turn made the one that asks for most.
@pytest.mark.parametrize(
    ("changes", "gauge", "rule"),
    [
        # margin 0.80 by a cited rule: 24 A on 16 AWG's 25 A
        ({"margin_ratio": 0.8}, "16", DecidingRule.AMPACITY_LOAD),
        # the buyer's 1.25: 37.5 A
        ({"margin_ratio": 1.25}, "12", DecidingRule.DEVICE_MARGIN),
        # bundle of four to six in an engine space at 50 °C: 8 AWG's 40.8 A is the first above 37.5 A
        ({"margin_ratio": 1.25, "ambient_c": 50, "bundle_count": 5}, "8", DecidingRule.DEVICE_MARGIN),
        # 0.5 V over 11 m at 24 A and 50 °C: see the drop tests
        ({"length_out_m": 5.5, "length_back_m": 5.5, "drop_limit_v": 0.5}, "6", DecidingRule.DROP),
        # at the far end of 2 x 8 m 60 A must flow: 11.5 V / 60 A = 191.7 mΩ, less 150 before the run. 16 m at 105 °C leave
        # 41.7 mΩ: 2.60 mΩ/m; 10 AWG has 4.37, 8 AWG 2.75, 6 AWG 1.73
        (
            {"length_out_m": 8, "length_back_m": 8, "fault_source_ohm": 0.150, "drop_limit_v": 6},
            "6",
            DecidingRule.FAR_END_FAULT,
        ),
        ({"min_gauge": ConductorSize(GaugeBasis.AWG, "10")}, "10", DecidingRule.SHOP_MINIMUM),
        ({"stocked": ("18", "16", "10", "8")}, "10", DecidingRule.STOCKED),
    ],
)
def test_the_largest_size_asked_for_is_chosen_and_its_rule_named(changes, gauge: str, rule: DecidingRule) -> None:
    choice = choose_conductor_and_device(replace(PLAIN, **changes))

    assert choice.size is not None and choice.size.gauge == gauge
    assert choice.decided_by is rule


def test_a_minimum_in_another_basis_is_compared_by_area() -> None:
    # metric 4 mm² lies between AWG 12 (3.31) and 10 (5.26)
    choice = choose_conductor_and_device(replace(PLAIN, min_gauge=ConductorSize(GaugeBasis.METRIC, "4")))

    assert choice.size is not None and choice.size.gauge == "10"


def test_sae_and_awg_can_decide_differently() -> None:
    # V15's 24 A over 36 ft at 3 % of 12 V (K form, 29.3 °C): AWG areas pass at 6, SAE areas only at 4
    leg_m = 18 * 0.3048
    asked = replace(PLAIN, length_out_m=leg_m, length_back_m=leg_m, drop_limit_v=0.36, drop_conductor_c=29.3)

    sizes = [
        choose_conductor_and_device(replace(asked, basis=basis)).size for basis in (GaugeBasis.AWG, GaugeBasis.SAE)
    ]

    assert [size.gauge for size in sizes if size] == ["6", "4"]


def test_every_candidate_carries_its_reasons_with_figures() -> None:
    fourteen = candidate_of(PLAIN, "14")
    sixteen = candidate_of(PLAIN, "16")

    assert [check.rule for check in fourteen.checks] == list(DecidingRule)
    assert fourteen.passes and not sixteen.passes
    margin = check_of(sixteen, DecidingRule.DEVICE_MARGIN)
    assert (margin.value, margin.limit, margin.unit, margin.passed) == (25, 30, "A", False)
    # 24 A through 2 m of 14 AWG at 50 °C: 8.285 mΩ/m x 1.1179
    assert check_of(fourteen, DecidingRule.DROP).value == pytest.approx(24 * 2 * 8.285e-3 * 1.1179, rel=1e-3)


def test_what_is_lost_elsewhere_is_taken_off_the_limit() -> None:
    assert candidate_of(replace(PLAIN, drop_elsewhere_v=0.4), "14").checks[2].value == pytest.approx(
        candidate_of(PLAIN, "14").checks[2].value + 0.4
    )


def test_a_device_already_fixed_is_kept_and_the_conductor_follows_it() -> None:
    choice = choose_conductor_and_device(replace(PLAIN, given_rating_a=40))

    assert (choice.needed_rating_a, choice.rating_a) == (30, 40)
    assert choice.size is not None and choice.size.gauge == "12"


def test_where_no_size_will_do_the_rule_that_none_satisfies_is_named() -> None:
    choice = choose_conductor_and_device(replace(PLAIN, drop_elsewhere_v=1.3))

    assert choice.size is None
    assert choice.decided_by is DecidingRule.DROP
    assert not any(candidate.passes for candidate in choice.candidates)


def test_insulation_as_hot_as_its_zone_carries_nothing() -> None:
    choice = choose_conductor_and_device(replace(PLAIN, ambient_c=105))

    assert choice.size is None
    assert choice.decided_by is DecidingRule.AMPACITY_LOAD


def test_a_run_of_no_length_is_sized_by_its_device() -> None:
    assert (
        choose_conductor_and_device(replace(PLAIN, length_out_m=0, length_back_m=0, fault_source_ohm=0)).size
        is not None
    )


requests = st.builds(
    replace,
    st.just(PLAIN),
    basis=st.sampled_from(GaugeBasis),
    continuous_a=st.floats(0, 30),
    drop_current_a=st.floats(0, 40),
    ambient_c=st.floats(20, 104),
    bundle_count=st.integers(1, 30),
    margin_ratio=st.sampled_from([0.8, 1.0, 1.25, 1.35]),
    length_out_m=st.floats(0, 15),
    length_back_m=st.floats(0, 15),
    drop_limit_v=st.sampled_from([0.2, 0.36, 1.2]),
    fault_source_ohm=st.floats(0, 0.1),
)


@settings(max_examples=50)
@given(requests)
def test_no_smaller_size_passes_and_every_larger_one_does(request: SizingRequest) -> None:
    choice = choose_conductor_and_device(request)
    verdicts = [candidate.passes for candidate in choice.candidates]

    assert verdicts == sorted(
        verdicts
    )  # all that fail, then all that pass: a larger size never fails what a smaller passes
    areas = [area_mm2(candidate.size) for candidate in choice.candidates if candidate.passes]
    assert (choice.size is None) if not areas else area_mm2(choice.size) == min(areas)


@settings(max_examples=50)
@given(requests)
def test_the_deciding_rule_stops_the_next_smaller_size(request: SizingRequest) -> None:
    choice = choose_conductor_and_device(request)
    chosen = len(choice.candidates) if choice.size is None else [c.size for c in choice.candidates].index(choice.size)

    if chosen:
        assert not check_of(choice.candidates[chosen - 1], choice.decided_by).passed


def test_a_load_no_rating_carries_is_an_error() -> None:
    with pytest.raises(NoStandardSize):
        choose_conductor_and_device(replace(PLAIN, continuous_a=60))


def test_a_family_that_is_not_there_is_an_error() -> None:
    with pytest.raises(UnknownTableEntry):
        choose_conductor_and_device(replace(PLAIN, family="glass"))


@pytest.mark.parametrize(
    "wrong",
    [{"continuous_a": -1}, {"length_out_m": float("nan")}, {"margin_ratio": 0.1}, {"fault_v": 0}, {"drop_limit_v": -1}],
)
def test_figures_out_of_range_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        replace(PLAIN, **wrong)
