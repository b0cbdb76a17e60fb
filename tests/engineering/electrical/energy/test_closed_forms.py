"""What can be worked out by hand: constant currents, the taper of a charge, the sag, a source at its limit."""

import math

import pytest

from builds.engineering.electrical.battery import discharge_at
from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.posts import Supply, Transfer, flows_at_post
from builds.engineering.electrical.energy.run_records import EventKind
from builds.engineering.electrical.energy.simulation import simulate
from builds.engineering.electrical.energy.stages import Plan, Post, Stage
from tests.engineering.electrical.energy.vehicles import always, bank, charged, one_stage


# P3 to P8 of the published rated-hours form: capacity, exponent, current, hours to empty
@pytest.mark.parametrize(
    ("capacity", "k", "current", "hours"),
    [
        pytest.param(100, 1.2, 5, 20.0, id="P3"),
        pytest.param(100, 1.2, 10, 8.7055, id="P4"),
        pytest.param(100, 1.2, 20, 3.7893, id="P5"),
        pytest.param(100, 1.1, 10, 9.3303, id="P6"),
        pytest.param(200, 1.15, 25, 6.9727, id="P7"),
        pytest.param(75, 1.25, 12.5, 4.4405, id="P8"),
    ],
)
def test_a_constant_current_empties_a_battery_when_the_law_says(
    capacity: float, k: float, current: float, hours: float
) -> None:
    plan = one_stage(24, capacity_ah=capacity, peukert_exponent=k)

    run = simulate(plan, always(LoadLaw(current)))

    half_h = discharge_at(
        capacity_ah=capacity, rated_hours=20, peukert_exponent=k, current_a=current, usable_ratio=0.5
    ).time_h
    emptied = next(event for event in run.events if event.kind is EventKind.EMPTY)
    assert emptied.at_s / 3600 == pytest.approx(hours, abs=5e-5)
    assert run.floor_s[0] == pytest.approx(half_h * 3600, abs=1e-3)
    assert run.accounts.load_ah == pytest.approx(current * hours, rel=1e-4)


def test_below_the_rated_current_nothing_is_lost_to_the_rate() -> None:
    # 70 Ah bear 0.1 A for 29 days, not for the 58 that the bare law would give
    run = simulate(one_stage(24 * 35, capacity_ah=70), always(LoadLaw(0.1)))

    emptied = next(event for event in run.events if event.kind is EventKind.EMPTY)
    assert emptied.at_s / 86_400 == pytest.approx(70 / 0.1 / 24, abs=1e-6)
    assert run.accounts.banks[0].peukert_extra_ah == 0.0


def test_a_resistive_load_follows_the_falling_voltage() -> None:
    # within the first quarter rest voltage falls 0.2 V for 25 Ah: with R in all, I = E/R and dE/dt = -0.2/25 I / 3600
    load_ohm, own_ohm = 2.996, 0.004
    run = simulate(one_stage(4, peukert_exponent=1.0), always(LoadLaw(0.0, 1 / load_ohm, 0.0)))

    ohm = load_ohm + own_ohm
    charge_ah = 25 * 12.8 / 0.2 * (1 - math.exp(-0.2 / 25 / ohm * 4))
    assert run.accounts.load_ah == pytest.approx(charge_ah, rel=1e-7)


def test_charge_comes_back_at_the_acceptance_and_then_with_its_time_constant() -> None:
    # from half: 50 Ah missing at 20 A until 20 A x 1.5 h = 30 Ah are missing, which is 1 h; then exp(-t / 1.5 h)
    banks = (bank(absorption_h=1.5),)
    stage = charged("charge", 3600 * 4, 14.4, 200.0)

    run = simulate(Plan(banks=banks, stages=(stage,), start_ratio=(0.5,)), always(LoadLaw(10.0)))

    assert run.trace.charge_ratio[-1, 0] == pytest.approx(1 - 0.30 * math.exp(-3 / 1.5), abs=1e-6)
    assert run.trace.source_a[0] == pytest.approx(30.0)
    assert run.accounts.source_ah == pytest.approx(10 * 4 + run.accounts.banks[0].taken_ah, rel=1e-12)


def test_what_charging_loses_is_an_account_of_its_own() -> None:
    stage = charged("charge", 1800, 14.4, 200.0)
    plan = Plan(banks=(bank(charge_ratio=0.8),), stages=(stage,), start_ratio=(0.5,))

    account = simulate(plan, always(LoadLaw())).accounts.banks[0]

    assert account.removed_ah == pytest.approx(-10.0)  # 0.2 of 100 Ah an hour, half an hour
    assert account.taken_ah == pytest.approx(12.5)
    assert account.charge_lost_ah == pytest.approx(2.5)


def test_a_source_at_its_limit_leaves_the_rest_to_the_battery() -> None:
    # 135 A of loads, 100 A at idle: 35 A from the battery, 35 Ah an hour but for Peukert's extra
    stage = charged("idle", 3600, 14.2, 100.0)
    run = simulate(Plan(banks=(bank(peukert_exponent=1.0),), stages=(stage,)), always(LoadLaw(135.0)))

    assert run.accounts.source_ah == pytest.approx(100.0)
    assert run.accounts.banks[0].given_ah == pytest.approx(35.0)
    assert run.trace.bank_v[0, 0] == pytest.approx(12.8 - 35 * 0.004)


def test_voltage_sags_and_comes_back_with_its_time_constant() -> None:
    # 20 A for an hour, then nothing: sag = 20 A x 6 mΩ (1 - exp(-t/τ)), then exp(-t/τ) of it
    banks = (bank(recovery_ohm=0.006, recovery_s=900, peukert_exponent=1.0, capacity_ah=1000.0),)
    stages = (Stage(segment="on", duration_s=3600), Stage(segment="off", duration_s=1800))
    run = simulate(Plan(banks=banks, stages=stages), lambda stage, off: (LoadLaw(20.0 if stage == 0 else 0.0),))

    rest_v = 12.8 - 0.2 / 250 * 20
    sag_v = 20 * 0.006 * (1 - math.exp(-3600 / 900))
    at_end = run.trace.bank_v[:, 0]
    last_on = at_end[run.trace.time_s == 3600][0]
    assert last_on == pytest.approx(rest_v - 20 * 0.004 - sag_v, abs=1e-7)
    assert at_end[-1] == pytest.approx(rest_v - sag_v * math.exp(-1800 / 900), abs=1e-7)


def test_of_two_sources_the_higher_set_gives_first() -> None:
    # 100 A from the one at 14.2 V, then 40 A from the one at 13.6 V, which sets the voltage; above 150 A the battery helps
    supplies = [Supply(14.2, 100.0), Supply(13.6, 50.0)]

    first, both, all_ = (
        flows_at_post([12.8], [0.005], [0.0], LoadLaw(amps), supplies) for amps in (90.0, 140.0, 180.0)
    )

    assert (first.voltage_v, first.source_a) == (14.2, 90.0)
    assert (both.voltage_v, both.source_a) == (13.6, 140.0)
    assert all_.source_a == 150.0
    assert all_.voltage_v == pytest.approx(12.8 - 30 * 0.005)


def test_what_a_converter_charges_with_is_paid_for_behind_it() -> None:
    # 20 A at 14.4 V into the house battery, 90 % efficient, 2 W for itself: 322 W from the other at about 12.5 V
    banks = (bank("house", internal_ohm=0.004), bank("start", internal_ohm=0.004))
    posts = (Post(banks=(0,), supplies=(Supply(14.4, 20.0, Transfer(1, 0.9, 2.0)),)), Post(banks=(1,)))
    stage = Stage(segment="s", duration_s=600, posts=posts)
    run = simulate(Plan(banks=banks, stages=(stage,), start_ratio=(0.5, 1.0)), always(LoadLaw(0.0), LoadLaw(5.0)))

    # 50 Ah are missing, so the battery takes its 20 A; the other gives 5 A and 322 W: 12.8 - (5 + 322 / V) x 4 mΩ = V
    given_a = run.trace.bank_a[0, 1]
    volts = 12.8 - given_a * 0.004
    assert run.trace.bank_a[0, 0] == pytest.approx(-20.0)
    assert given_a == pytest.approx(5.0 + (14.4 * 20 / 0.9 + 2) / volts)
    assert abs(run.accounts.difference_ah) < 1e-9 * run.accounts.throughput_ah


def test_joined_batteries_even_out_through_their_resistances() -> None:
    # 12.8 V and 12.3 V behind 4 and 4 + 6 mΩ: 0.5 V / 14 mΩ = 35.7 A flow, but the flat one takes 20 A at most
    banks = (bank("full"), bank("flat"))
    freely = (bank("full"), bank("flat", acceptance_per_h=1.0))
    stage = Stage(segment="joined", duration_s=60, posts=(Post(banks=(0, 1), link_ohm=(0.0, 0.006)),))

    held = simulate(Plan(banks=banks, stages=(stage,), start_ratio=(1.0, 0.5)), always(LoadLaw()))
    free = simulate(Plan(banks=freely, stages=(stage,), start_ratio=(1.0, 0.5)), always(LoadLaw()))

    assert held.trace.bank_a[0].tolist() == pytest.approx([20.0, -20.0])
    assert free.trace.bank_a[0].tolist() == pytest.approx([0.5 / 0.014, -0.5 / 0.014])


def test_constant_power_meets_the_upper_of_two_voltages() -> None:
    # 12 V behind 10 mΩ and 600 W: V = (12 + sqrt(144 - 24)) / 2
    flows = flows_at_post([12.0], [0.01], [0.0], LoadLaw(0.0, 0.0, 600.0))

    assert flows.voltage_v == pytest.approx((12 + math.sqrt(120)) / 2, rel=1e-12)
    assert flows.works


def test_loads_that_no_voltage_can_carry_take_nothing() -> None:
    flows = flows_at_post([12.0], [0.01], [0.0], LoadLaw(0.0, 0.0, 4000.0))  # 12² / (4 x 10 mΩ) = 3600 W at most

    assert not flows.works
    assert flows.load_a == 0.0
    assert flows.voltage_v == 12.0
