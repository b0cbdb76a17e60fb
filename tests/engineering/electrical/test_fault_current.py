"""Prospective current at a device, and the fault at the far end."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.electrical.fault_current import FaultSource, far_end_fault_a, prospective_current_a
from builds.engineering.errors import OutOfRange

volts = st.floats(6, 60)
ohms = st.floats(1e-4, 1)


def test_at_the_battery_post_only_the_battery_limits() -> None:
    # 12.8 V / 4 mΩ
    assert prospective_current_a(
        sources=[FaultSource(emf_v=12.8, resistance_ohm=0.004)], shared_ohm=0
    ) == pytest.approx(3200)


def test_down_a_cable_a_blade_fuse_need_not_break_the_battery() -> None:
    # 12.8 V / (4 mΩ + 12.3 mΩ of 3 m 12 AWG at -40 °C) = 785 A: within 1000 A, where 3200 A at the post is not
    shared = 3 * 5.2107e-3 * 0.76424
    current = prospective_current_a(sources=[FaultSource(emf_v=12.8, resistance_ohm=0.004)], shared_ohm=shared)

    assert current == pytest.approx(12.8 / (0.004 + shared))
    assert current < 1000


def test_parallel_strings_add_their_short_circuit_currents() -> None:
    # marine guidance: three strings of 2400 A each give 7200 A; batteries in series do not add
    strings = [FaultSource(emf_v=12, resistance_ohm=12 / 2400)] * 3

    assert prospective_current_a(sources=strings, shared_ohm=0) == pytest.approx(7200)


def test_limited_sources_are_added() -> None:
    battery = FaultSource(emf_v=12.8, resistance_ohm=0.01)

    assert prospective_current_a(sources=[battery], shared_ohm=0, limited_a=200) == pytest.approx(1280 + 200)


@given(st.lists(st.builds(FaultSource, emf_v=volts, resistance_ohm=ohms), min_size=1, max_size=4), ohms, volts, ohms)
def test_another_source_never_lowers_the_current_it_can_raise(sources, shared: float, emf: float, ohm: float) -> None:
    one = prospective_current_a(sources=sources, shared_ohm=shared)
    strongest = max(source.emf_v for source in sources)
    more = prospective_current_a(
        sources=[*sources, FaultSource(emf_v=max(emf, strongest), resistance_ohm=ohm)], shared_ohm=shared
    )

    assert more >= one * (1 - 1e-12)


@given(volts, ohms, ohms)
def test_equal_halves_in_parallel_are_the_whole(emf: float, ohm: float, shared: float) -> None:
    whole = prospective_current_a(sources=[FaultSource(emf_v=emf, resistance_ohm=ohm)], shared_ohm=shared)
    halves = prospective_current_a(sources=[FaultSource(emf_v=emf, resistance_ohm=2 * ohm)] * 2, shared_ohm=shared)

    assert halves == pytest.approx(whole)


def test_far_end_fault_by_hand() -> None:
    # 11.5 V / (10 + 80 + 25 mΩ) = 100 A
    assert far_end_fault_a(source_v=11.5, source_ohm=0.010, out_ohm=0.080, back_ohm=0.025) == pytest.approx(100)


@pytest.mark.parametrize(
    "call",
    [
        lambda: prospective_current_a(sources=[], shared_ohm=0),
        lambda: prospective_current_a(sources=[FaultSource(emf_v=12, resistance_ohm=1)], shared_ohm=-1),
        lambda: FaultSource(emf_v=12, resistance_ohm=0),
        lambda: far_end_fault_a(source_v=12, source_ohm=0, out_ohm=0, back_ohm=0),
        lambda: far_end_fault_a(source_v=12, source_ohm=-1, out_ohm=1, back_ohm=1),
    ],
)
def test_figures_out_of_range_are_refused(call) -> None:
    with pytest.raises(OutOfRange):
        call()
