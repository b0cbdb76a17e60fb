"""Coulombs are conserved, whatever happens on the way; and the result agrees with small fixed steps."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.electrical.energy.banks import Bank, bank_in_the_cold
from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.posts import Supply, Transfer
from builds.engineering.electrical.energy.run_records import EventKind
from builds.engineering.electrical.energy.simulation import simulate
from builds.engineering.electrical.energy.stages import Crank, Plan, Post, ShedRule, Stage
from builds.engineering.errors import OutOfRange
from tests.engineering.electrical.energy.vehicles import bank

# 1e-9 of the throughput is what is asked for; sums stepped with the same weights agree to rounding
CONSERVED = 1e-9

supply = st.builds(Supply, st.floats(12.2, 14.8), st.floats(0, 250))
converter = st.builds(Supply, st.floats(13.0, 14.8), st.floats(0, 40), st.just(Transfer(1, 0.88, 3.0)))
posts = st.one_of(
    st.just(()),
    st.builds(lambda one: (Post(banks=(0, 1), supplies=(one,), link_ohm=(0.0, 0.003)),), supply),
    st.builds(
        lambda one, other: (Post(banks=(1,), supplies=(one,)), Post(banks=(0,), supplies=(other,))), converter, supply
    ),
)
stages = st.one_of(
    st.builds(Stage, segment=st.just("s"), duration_s=st.floats(1, 20_000), posts=posts),
    st.just(Stage(segment="s", duration_s=3.0, cranks=True)),
)
laws = st.builds(LoadLaw, st.floats(0, 60), st.floats(0, 3), st.floats(0, 400))


@settings(max_examples=30)
@given(
    st.lists(stages, min_size=1, max_size=5),
    st.lists(laws, min_size=4, max_size=4),
    st.floats(0.05, 1),
    st.floats(0.05, 1),
)
def test_coulombs_are_conserved(drawn: list[Stage], taken: list[LoadLaw], first: float, second: float) -> None:
    banks = (
        bank("start", recovery_ohm=0.004, charge_ratio=0.9),
        bank("house", capacity_ah=200, recovery_ohm=0.002),
    )
    rules = tuple(
        ShedRule(key=f"S{n}", bank=n, off_below_v=12.2, off_delay_s=30 * n, on_above_v=12.4, on_delay_s=60)
        for n in (0, 1)
    )
    plan = Plan(
        banks=banks, stages=tuple(drawn), rules=rules, start_ratio=(first, second),
        crank=Crank(bank=0, current_a=250, least_v=9.6),
    )  # fmt: skip

    accounts = simulate(plan, lambda stage, off: tuple(taken[n + 2 * (f"S{n}" in off)] for n in (0, 1))).accounts

    limit_ah = CONSERVED * max(accounts.throughput_ah, 1e-6)
    assert abs(accounts.difference_ah) <= limit_ah
    assert all(abs(account.difference_ah) <= limit_ah for account in accounts.banks)
    assert all(account.peukert_extra_ah >= 0.0 for account in accounts.banks)


def small_steps(one: Bank, law: LoadLaw, shed: LoadLaw, rule: ShedRule, hours: float) -> tuple[float, float, float]:
    """The instant of shedding, and charge and voltage at the end: classic fourth-order steps of one second."""
    points = ([0.0, 0.25, 0.5, 0.75, 1.0], [11.7, 12.0, 12.3, 12.6, 12.8])

    def voltage_v(at: np.ndarray, taken: LoadLaw) -> float:
        emf_v = float(np.interp(1 - at[0] / one.capacity_ah, *points)) - at[1]
        volts = emf_v
        for _ in range(12):  # the loads' current at a voltage decides the voltage
            volts = emf_v - one.internal_ohm * taken.current_a(volts)
        return volts

    def rate(at: np.ndarray, taken: LoadLaw) -> np.ndarray:
        amps = taken.current_a(voltage_v(at, taken))
        ratio = amps / (one.capacity_ah / one.rated_hours)
        times = ratio ** (one.peukert_exponent - 1) if ratio > 1 else 1.0
        return np.array([amps * times / 3600, (one.recovery_ohm * amps - at[1]) / one.recovery_s])

    state, taken, low_since, shed_at, before_v = np.zeros(2), law, None, None, 13.0
    for second in range(int(hours * 3600)):
        volts = voltage_v(state, taken)
        if shed_at is None and volts < rule.off_below_v and low_since is None:
            low_since = second - (rule.off_below_v - volts) / (before_v - volts)
        span = 1.0
        if shed_at is None and low_since is not None and second + 1 > low_since + rule.off_delay_s:
            shed_at = low_since + rule.off_delay_s
            part = shed_at - second
            state = state + part * rate(state, taken)
            taken, span = shed, 1.0 - part
        one_, two = rate(state, taken), rate(state + span / 2 * rate(state, taken), taken)
        three = rate(state + span / 2 * two, taken)
        state = state + span / 6 * (one_ + 2 * two + 2 * three + rate(state + span * three, taken))
        before_v = volts
    assert shed_at is not None
    return shed_at, 1 - state[0] / one.capacity_ah, voltage_v(state, taken)


def test_the_instant_of_shedding_agrees_with_small_fixed_steps_to_a_millisecond() -> None:
    one = bank(capacity_ah=60, recovery_ohm=0.005, recovery_s=400)
    rule = ShedRule(key="S1", bank=0, off_below_v=12.45, off_delay_s=90.0, on_above_v=13.0, on_delay_s=60.0)
    law, less = LoadLaw(6.0, 0.8, 120.0), LoadLaw(2.0, 0.2, 30.0)

    run = simulate(
        Plan(banks=(one,), stages=(Stage(segment="s", duration_s=3600),), rules=(rule,)),
        lambda stage, off: (less if off else law,),
    )

    shed_at, ratio, volts = small_steps(one, law, less, rule, 1.0)
    (event,) = [event for event in run.events if event.kind is EventKind.SHED]
    assert event.at_s == pytest.approx(shed_at, abs=1e-3)
    assert run.trace.charge_ratio[-1, 0] == pytest.approx(ratio, abs=1e-7)
    assert run.trace.bank_v[-1, 0] == pytest.approx(volts, abs=1e-6)


def test_stages_may_be_cut_in_two_without_changing_anything() -> None:
    banks = (bank(recovery_ohm=0.004),)
    laws_of = lambda stage, off: (LoadLaw(4.0, 0.5, 100.0),)  # noqa: E731
    whole = simulate(Plan(banks=banks, stages=(Stage(segment="s", duration_s=7200),)), laws_of)
    cut = simulate(Plan(banks=banks, stages=(Stage(segment="s", duration_s=1234.5), Stage(segment="s", duration_s=5965.5))), laws_of)  # fmt: skip

    assert cut.trace.charge_ratio[-1, 0] == pytest.approx(whole.trace.charge_ratio[-1, 0], abs=1e-8)
    assert cut.trace.bank_v[-1, 0] == pytest.approx(whole.trace.bank_v[-1, 0], abs=1e-7)


def test_time_never_runs_backwards_and_ends_where_the_stages_end() -> None:
    stages = tuple(Stage(segment="s", duration_s=span) for span in (0.0, 10.0, 3600.0))
    run = simulate(Plan(banks=(bank(),), stages=stages), lambda stage, off: (LoadLaw(5.0),))

    assert (np.diff(run.trace.time_s) >= 0).all()
    assert run.trace.time_s[-1] == pytest.approx(3610.0)


@pytest.mark.parametrize(
    ("at_c", "capacity", "resistance"), [(25, 1.0, 1.0), (60, 1.0, 1.0), (-18, 0.6, 1.8), (-9, 0.7, 1.55)]
)
def test_cold_costs_capacity_and_raises_resistance(at_c: float, capacity: float, resistance: float) -> None:
    assert bank_in_the_cold(temperature_c=at_c) == pytest.approx((capacity, resistance))


@pytest.mark.parametrize(
    "make",
    [
        pytest.param(lambda: bank(internal_ohm=0.0), id="no resistance"),
        pytest.param(lambda: bank(usable_ratio=0.0), id="nothing usable"),
        pytest.param(lambda: ShedRule(key="S", bank=0, off_below_v=12.5, off_delay_s=0, on_above_v=12.0, on_delay_s=0), id="restores below where it sheds"),
        pytest.param(lambda: Plan(banks=(), stages=()), id="no battery"),
        pytest.param(lambda: Plan(banks=(bank(),), stages=(), start_ratio=(0.5, 0.5)), id="charge of another battery"),
        pytest.param(lambda: Plan(banks=(bank(),), stages=(Stage(segment="s", duration_s=1, cranks=True),)), id="no starter"),
        pytest.param(lambda: Stage(segment="s", duration_s=1, cranks=True, posts=(Post(banks=(0,)),)), id="cranked while something charges"),
        pytest.param(lambda: Stage(segment="s", duration_s=1, posts=(Post(banks=(0,)), Post(banks=(0,)))), id="a battery twice"),
        pytest.param(lambda: Post(banks=(0, 1), link_ohm=(0.0,)), id="a link too few"),
        pytest.param(lambda: LoadLaw(0.0, -1.0, 0.0), id="a load that gives"),
        pytest.param(lambda: bank_in_the_cold(temperature_c=-60), id="too cold"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(make: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        make()
