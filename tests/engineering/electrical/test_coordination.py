"""Opening times with tolerance, and which of two devices in a row opens first. Gates are from memory, editable data."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.electrical.coordination import opening_time, selectivity
from builds.engineering.electrical.protection import device_families, opening_gates
from builds.engineering.errors import OutOfRange, UnknownTableEntry

FAMILIES = [family.key for family in device_families()]


@pytest.mark.parametrize("family", FAMILIES)
def test_at_a_gate_the_times_are_those_of_the_table(family: str) -> None:
    for gate in opening_gates(family):
        found = opening_time(family=family, rating_a=20, current_a=20 * gate.load_ratio)

        assert found.least_s == pytest.approx(gate.least_s if gate.least_s is not None else math.inf)
        assert found.most_s == pytest.approx(gate.most_s if gate.most_s is not None else math.inf)


def test_between_gates_times_go_straight_in_logarithms() -> None:
    # ATO: at most 5 s at 200 %, 0.5 s at 350 %; half way in the logarithm of current (264.6 %) half way in that of time
    middle = 10 * math.sqrt(2.0 * 3.5)

    assert opening_time(family="ATO", rating_a=10, current_a=middle).most_s == pytest.approx(math.sqrt(5 * 0.5))


def test_above_the_last_gate_the_heat_let_through_stays() -> None:
    # at most 0.1 s at 600 %: at 1200 % a quarter of it
    assert opening_time(family="ATO", rating_a=10, current_a=120).most_s == pytest.approx(0.025)


def test_below_the_first_gates_a_device_may_hold_for_good() -> None:
    assert opening_time(family="ATO", rating_a=10, current_a=10).least_s == math.inf
    assert opening_time(family="ATO", rating_a=10, current_a=13).most_s == math.inf


def test_a_larger_rating_is_not_enough_to_open_later() -> None:
    # an ANL of 100 A takes at most 60 s at 200 A; an MRBF of 175 A may open at 350 A in 1 s, at 200 A in over an hour:
    # they cross between, although 175 is more than 100
    held = selectivity(family="ANL", rating_a=100, before_family="MRBF", before_rating_a=175, fault_a=3000)

    assert not held.selective
    assert 200 < held.upto_a < 350


def test_where_they_cross_the_latest_is_the_soonest() -> None:
    held = selectivity(family="ANL", rating_a=100, before_family="MRBF", before_rating_a=175, fault_a=3000)

    latest = opening_time(family="ANL", rating_a=100, current_a=held.upto_a).most_s
    soonest = opening_time(family="MRBF", rating_a=175, current_a=held.upto_a).least_s
    assert latest == pytest.approx(soonest, rel=1e-6)


def test_a_small_fault_may_be_selective_where_a_large_one_is_not() -> None:
    pair = {"family": "ANL", "rating_a": 100, "before_family": "MRBF", "before_rating_a": 175}

    assert selectivity(**pair, fault_a=200).selective
    assert not selectivity(**pair, fault_a=1000).selective


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(FAMILIES), st.sampled_from(FAMILIES), st.floats(5, 100), st.floats(20, 400), st.floats(50, 5000))
def test_selective_means_later_at_every_current_looked_at(
    family: str, before: str, rating: float, before_rating: float, fault: float
) -> None:
    held = selectivity(
        family=family, rating_a=rating, before_family=before, before_rating_a=before_rating, fault_a=fault
    )

    first = rating * next(gate.load_ratio for gate in opening_gates(family) if gate.most_s is not None)
    for step in range(60):
        current = first * (fault / first) ** (step / 59) if fault > first else fault
        latest = opening_time(family=family, rating_a=rating, current_a=current).most_s
        soonest = opening_time(family=before, rating_a=before_rating, current_a=current).least_s
        if held.selective and fault > first:
            assert latest < soonest * (1 + 1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: opening_time(family="ATO", rating_a=0, current_a=1),
        lambda: opening_time(family="ATO", rating_a=1, current_a=math.nan),
        lambda: selectivity(family="ATO", rating_a=1, before_family="ATO", before_rating_a=-1, fault_a=1),
        lambda: selectivity(family="ATO", rating_a=1, before_family="ATO", before_rating_a=2, fault_a=0),
    ],
)
def test_currents_out_of_range_are_refused(call) -> None:
    with pytest.raises(OutOfRange):
        call()


def test_a_family_that_is_not_there_is_named() -> None:
    with pytest.raises(UnknownTableEntry):
        opening_time(family="glass", rating_a=1, current_a=1)
    with pytest.raises(UnknownTableEntry):
        selectivity(family="ATO", rating_a=1, before_family="glass", before_rating_a=2, fault_a=10)
