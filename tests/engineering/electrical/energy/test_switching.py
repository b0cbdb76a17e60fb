"""Shedding with its delays, rebound and chatter; loads that cut out; a blanked crank; starts; empty batteries."""

import math

import pytest

from builds.engineering.electrical.energy.crank import cranking_v
from builds.engineering.electrical.energy.laws import NOTHING, LoadLaw
from builds.engineering.electrical.energy.posts import Supply, Transfer
from builds.engineering.electrical.energy.run_records import EnergyRun, EventKind
from builds.engineering.electrical.energy.simulation import simulate
from builds.engineering.electrical.energy.stages import Crank, CutOut, Plan, Post, ShedRule, Stage
from builds.engineering.electrical.energy.timers import MOST_CYCLES
from tests.engineering.electrical.energy.vehicles import always, bank, charged

OUTER = Stage(segment="standing", duration_s=6 * 3600)


def rule(key: str = "S1", **more: object) -> ShedRule:
    figures: dict[str, object] = {
        "bank": 0, "off_below_v": 12.4, "off_delay_s": 60.0, "on_above_v": 13.0, "on_delay_s": 120.0,
    }  # fmt: skip
    return ShedRule(key=key, **(figures | more))  # type: ignore[arg-type]


def happened(run: EnergyRun, kind: EventKind) -> list[tuple[str, float]]:
    return [(event.what, event.at_s) for event in run.events if event.kind is kind]


def two_loads(shed_a: float = 15.0, kept_a: float = 5.0) -> object:
    return lambda stage, off: (LoadLaw(kept_a + (0.0 if "S1" in off else shed_a)),)


def test_a_step_sheds_when_its_voltage_has_been_low_for_its_delay() -> None:
    # 20 A of ideal charge: rest voltage falls 0.2 V in the first 25 Ah, then 0.3 V for 25; at the post 80 mV lower.
    # 12.4 V at the post is 12.48 V at rest: 25 Ah + 0.12 / 0.3 x 25 Ah = 35 Ah = 6300 s, and 60 s of delay
    plan = Plan(banks=(bank(peukert_exponent=1.0),), stages=(OUTER,), rules=(rule(),))

    run = simulate(plan, two_loads())  # type: ignore[arg-type]

    assert happened(run, EventKind.SHED) == [("S1", pytest.approx(6360.0, abs=1e-3))]
    assert happened(run, EventKind.RESTORED) == []


def test_a_source_that_comes_back_restores_after_its_delay() -> None:
    stages = (OUTER, charged("drive", 600, 13.8, 200.0))
    run = simulate(Plan(banks=(bank(peukert_exponent=1.0),), stages=stages, rules=(rule(),)), two_loads())  # type: ignore[arg-type]

    assert happened(run, EventKind.RESTORED) == [("S1", pytest.approx(OUTER.duration_s + 120.0, abs=1e-9))]


def test_a_restore_voltage_below_the_rebound_chatters_and_ends() -> None:
    # letting 15 A go lifts the post by 60 mV at once, and 12.45 V is reached
    plan = Plan(banks=(bank(peukert_exponent=1.0),), stages=(OUTER,), rules=(rule(on_above_v=12.44),))

    run = simulate(plan, two_loads())  # type: ignore[arg-type]

    assert 3 < len(happened(run, EventKind.SHED)) <= MOST_CYCLES
    assert len(happened(run, EventKind.RESTORED)) >= 3


def test_the_slow_return_of_the_voltage_restores_too() -> None:
    # at once 15 A x 4 mΩ = 60 mV, in ten minutes 15 A x 6 mΩ more: only with the slow part 12.5 V is passed
    quick, slow = bank(peukert_exponent=1.0), bank(peukert_exponent=1.0, recovery_ohm=0.006)
    rules = (rule(on_above_v=12.5),)

    of_quick = simulate(Plan(banks=(quick,), stages=(OUTER,), rules=rules), two_loads())  # type: ignore[arg-type]
    of_slow = simulate(Plan(banks=(slow,), stages=(OUTER,), rules=rules), two_loads())  # type: ignore[arg-type]

    assert happened(of_quick, EventKind.RESTORED) == []
    assert len(happened(of_slow, EventKind.RESTORED)) >= 1


def test_a_dip_shorter_than_the_delay_sheds_nothing() -> None:
    dip = Stage(segment="dip", duration_s=59.9)
    after = Stage(segment="after", duration_s=600)
    loads = lambda stage, off: (LoadLaw(120.0 if stage == 0 else 1.0),)  # noqa: E731  (120 A: 12.32 V)
    run = simulate(Plan(banks=(bank(),), stages=(dip, after), rules=(rule(),)), loads)

    assert happened(run, EventKind.SHED) == []


def test_steps_go_one_by_one_and_a_step_that_helps_enough_spares_the_next() -> None:
    # both wait for the same voltage and time; without the first's 15 A the second's is no longer low
    rules = (rule("S1"), rule("S2"))
    loads = lambda stage, off: (LoadLaw(20.0 - 15.0 * ("S1" in off) - 2.0 * ("S2" in off)),)  # noqa: E731
    run = simulate(Plan(banks=(bank(),), stages=(Stage(segment="s", duration_s=7200),), rules=rules), loads)

    assert [what for what, _ in happened(run, EventKind.SHED)] == ["S1"]


@pytest.mark.parametrize(("ignores", "shed"), [(True, []), (False, ["S1"])])
def test_cranking_counts_for_the_timers_only_where_it_is_not_blanked(ignores: bool, shed: list[str]) -> None:
    crank = Crank(bank=0, current_a=300, least_v=9.6)
    stages = (
        Stage(segment="start", duration_s=3, cranks=True),
        charged("drive", 600, 13.8, 100.0),
    )
    rules = (rule(off_delay_s=2.0, ignores_crank=ignores),)
    run = simulate(Plan(banks=(bank(),), stages=stages, rules=rules, crank=crank), always(LoadLaw(20.0)))

    assert [what for what, _ in happened(run, EventKind.SHED)] == shed


def test_a_start_is_judged_at_the_starter_with_all_loads_on() -> None:
    # E = 12.3 V and 1.3 times 5 mΩ at half; 12.3 - 320 A x 6.5 mΩ = 10.22 V at the post, 9.62 V behind 2 mΩ of cable at 300 A
    crank = Crank(bank=0, current_a=300, least_v=9.65, cable_ohm=0.002)
    stage = Stage(
        segment="start", duration_s=3, cranks=True,
        cut_outs=(CutOut(key="radio", bank=0, below_v=10.8), CutOut(key="lamp", bank=0, below_v=9.0)),
    )  # fmt: skip
    plan = Plan(banks=(bank(internal_ohm=0.005),), stages=(stage,), crank=crank, start_ratio=(0.5,))

    (start,) = simulate(plan, always(LoadLaw(20.0))).starts

    assert start.post_v == pytest.approx(10.22)
    assert start.starter_v == pytest.approx(9.62)
    assert not start.holds
    assert start.dropped == ("radio",)


def test_the_timer_of_a_rule_that_ignores_cranking_stands_still_meanwhile() -> None:
    # 12.4 V is passed after 6300 s; 30 s of the minute are over when the engine is cranked for 5 s
    crank = Crank(bank=0, current_a=200, least_v=9.6)
    stages = (
        Stage(segment="s", duration_s=6330), Stage(segment="s", duration_s=5, cranks=True), Stage(segment="s", duration_s=600),
    )  # fmt: skip
    run = simulate(Plan(banks=(bank(peukert_exponent=1.0),), stages=stages, rules=(rule(),), crank=crank), two_loads())  # type: ignore[arg-type]

    assert happened(run, EventKind.SHED) == [("S1", pytest.approx(6365.0, abs=1e-3))]


def test_a_starter_that_asks_for_more_than_there_is_finds_no_voltage() -> None:
    assert cranking_v(emf_v=12, internal_ohm=0.05, crank_a=300, cable_ohm=0.0, law=LoadLaw()) == (0.0, 0.0)


def test_cranking_is_paid_for_by_the_battery_alone() -> None:
    crank = Crank(bank=0, current_a=250, least_v=9.6)
    stage = Stage(segment="start", duration_s=3, cranks=True)
    accounts = simulate(Plan(banks=(bank(),), stages=(stage,), crank=crank), always(LoadLaw(20.0))).accounts

    assert accounts.crank_ah == pytest.approx(250 * 3 / 3600)
    assert accounts.source_ah == 0.0
    assert accounts.banks[0].given_ah == pytest.approx(270 * 3 / 3600)


def test_a_load_below_its_voltage_is_off_until_the_stage_is_over() -> None:
    stage = Stage(segment="first", duration_s=3 * 3600, cut_outs=(CutOut(key="radio", bank=0, below_v=12.4),))
    again = Stage(segment="second", duration_s=3600, cut_outs=(CutOut(key="radio", bank=0, below_v=11.0),))
    loads = lambda stage, off: (LoadLaw(5.0 + (0.0 if "radio" in off else 15.0)),)  # noqa: E731
    run = simulate(Plan(banks=(bank(peukert_exponent=1.0),), stages=(stage, again)), loads)

    assert happened(run, EventKind.CUT_OUT) == [("radio", pytest.approx(6300.0, abs=1e-3))]
    assert run.trace.load_a[-1] == pytest.approx(20.0)


def test_an_empty_battery_gives_nothing_until_something_charges_it() -> None:
    stages = (
        Stage(segment="forgotten", duration_s=8 * 3600),
        charged("driven", 3600, 14.0, 100.0),
    )
    run = simulate(Plan(banks=(bank(),), stages=stages), always(LoadLaw(20.0)))

    (emptied,) = happened(run, EventKind.EMPTY)
    assert emptied[1] / 3600 == pytest.approx(3.7893, abs=1e-4)
    assert run.lowest_ratio[0] == pytest.approx(0.0, abs=1e-8)
    assert run.accounts.load_ah == pytest.approx(20 * 3.7893 + 20, abs=1e-2)
    assert run.trace.charge_ratio[-1, 0] == pytest.approx(0.20, abs=1e-6)


def test_a_battery_asked_for_more_than_it_can_give_lets_its_loads_go_once() -> None:
    # 12.8 V behind 4 mΩ carries 10,240 W at most; the slow sag takes it below 9000 W, and without load it comes back
    banks = (bank(recovery_ohm=0.006, recovery_s=300),)
    stages = (Stage(segment="too much", duration_s=3600), Stage(segment="after", duration_s=60))
    loads = lambda stage, off: (LoadLaw(power_w=0.0 if stage else 9000.0),)  # noqa: E731
    run = simulate(Plan(banks=banks, stages=stages), loads)

    ((key, at_s),) = happened(run, EventKind.OVERLOADED)
    assert key == banks[0].key and 1.0 < at_s < 300.0
    assert run.steps < 200
    assert run.trace.load_a[run.trace.time_s > at_s].max() < 1e-9
    assert run.unserved_ah > 9000 / 12.8 * (3600 - at_s) / 3600
    assert run.accounts.difference_ah == pytest.approx(0.0, abs=1e-6)


def test_a_battery_that_lets_its_loads_go_charges_no_other_either() -> None:
    # 80 A at 56 V over half are 8960 W: more than the first battery carries for long
    supply = Supply(56.0, 80.0, Transfer(from_post=0, efficiency_ratio=0.5))
    banks = (bank(recovery_ohm=0.006, recovery_s=300), bank(key="second", full_rest_v=51.2, capacity_ah=1000.0))
    stages = (Stage(segment="on", duration_s=3600, posts=(Post(banks=(0,)), Post(banks=(1,), supplies=(supply,)))),)
    run = simulate(Plan(banks=banks, stages=stages, start_ratio=(1.0, 0.2)), always(NOTHING, NOTHING))

    ((_, at_s),) = happened(run, EventKind.OVERLOADED)
    assert at_s > 1.0 and run.steps < 200
    assert run.accounts.banks[1].taken_ah == pytest.approx(80 * at_s / 3600)


def test_a_level_touched_within_a_step_is_not_missed() -> None:
    # 20 A for an hour, then 3 A: the post comes back by 17 A x 6 mΩ with 300 s and meanwhile sinks by 0.2 V in 25 Ah.
    # it is highest where both are equally fast, exp(-t/τ) = sink x τ / A, and it is within 2 µV of that for half a minute
    banks = (bank(recovery_ohm=0.006, recovery_s=300, peukert_exponent=1.0),)
    stages = (Stage(segment="on", duration_s=3600), Stage(segment="after", duration_s=6 * 3600))
    loads = lambda stage, off: (LoadLaw(20.0 if stage == 0 else 3.0),)  # noqa: E731
    sink, back_v = 0.2 / 25 * 3 / 3600, 17 * 0.006 * (1 - math.exp(-12))
    summit_s = 300 * math.log(back_v / sink / 300)
    summit_v = 12.8 - 20 * 0.2 / 25 - 3 * 0.004 - sink * summit_s - 3 * 0.006 - back_v * math.exp(-summit_s / 300)
    level_v = summit_v - 2e-6

    plain = simulate(Plan(banks=banks, stages=stages), loads)
    steps = (rule(off_below_v=12.6, off_delay_s=0.0, on_above_v=level_v, on_delay_s=0.0),)
    watched = simulate(Plan(banks=banks, stages=stages, rules=steps), loads)

    after = plain.trace.time_s > 3600
    assert plain.trace.bank_v[after, 0].max() < level_v
    assert happened(watched, EventKind.RESTORED) == [("S1", pytest.approx(3600 + summit_s - 13.4, abs=1))]
