"""Duty profiles of whole designs: what charges, what sheds, what runs on, and that the parts of the profile fit together."""

from dataclasses import replace

import numpy as np
import pytest

from builds.engineering.assess import assess
from builds.engineering.assessing.duty_results import ProfileRun, profile_runs
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.states import solve_states
from builds.engineering.assessment import ProfileResult
from builds.engineering.design import Design, SourceSpec, SourceUse
from builds.engineering.design.power import PowerNode
from builds.engineering.design.sources import ConverterSpec
from builds.engineering.duty_runs import simulate_profile
from builds.engineering.vocabulary import NodeKind
from tests.engineering.assess.designs import SOUND, added, changed, supply
from tests.engineering.assess.plants_duty import day, step
from tests.engineering.assess.test_true_peak import heads, set_to


def simulated(design: Design) -> ProfileRun:
    index = index_design(design)
    (done,) = profile_runs(index, solve_states(index))
    return done


def result(design: Design) -> ProfileResult:
    (found,) = assess(design).profiles
    return found


def battery(found: ProfileResult, key: str):  # type: ignore[no-untyped-def]
    return next(item for item in found.batteries if item.key == key)


def test_a_design_without_profiles_has_no_results() -> None:
    assert assess(SOUND).profiles == ()
    assert assess(SOUND).reserves == ()


def test_load_and_voltage_at_the_beginning_are_those_of_the_solved_condition() -> None:
    # the same wiring, solved by the assessment with the battery at a voltage of its own choosing
    design = changed(SOUND, "condition", "watch", source_low_v=12.8, source_high_v=12.8)
    solved = next(item for item in assess(design).conditions if item.key == "watch")

    trace = simulated(day(design, ("watch", 60))).run.trace

    assert trace.load_a[0] == pytest.approx(solved.mean_a, rel=2e-3)
    assert trace.bank_v[0, 1] == pytest.approx(12.8 - 0.007 * trace.bank_a[0, 1])


def test_every_ampere_hour_is_accounted_for() -> None:
    found = result(
        day(step(SOUND, "LOCKER"), ("driving", 60), ("scene", 90), ("watch", 300), ("driving", 30), ("parked", 600))
    )

    given = found.source_ah + sum(item.given_ah for item in found.batteries)
    assert abs(found.difference_ah) <= 1e-9 * given
    assert found.hours == pytest.approx(18.0)


def test_while_driving_both_batteries_are_charged_and_standing_each_carries_its_own() -> None:
    design = day(SOUND, ("driving", 60), ("watch", 120), start_ratio=0.7)

    trace = simulated(design).run.trace

    driving = (trace.time_s > 60) & (trace.time_s < 3600)
    standing = trace.time_s > 3600
    assert (trace.bank_a[driving] < 0).all()
    assert (trace.bank_a[standing, 1] > 5).all()
    assert np.abs(trace.bank_a[standing, 0]).max() < 1e-9  # nothing of the watch hangs on the starting battery
    assert (trace.source_a[standing] == 0).all()


def test_a_shore_charger_that_the_condition_turns_on_charges_its_battery() -> None:
    shore = PowerNode(
        key="SHORE", kind=NodeKind.SHORE, name="shore charger", zone="cargo",
        source=SourceSpec(limit_a=20.0, low_v=13.8, high_v=14.4),
    )  # fmt: skip
    design = added(added(SOUND, "node", shore), "run", supply("R9", "SHORE", "BAT2", "8", 0.5))
    plugged = changed(design, "condition", "watch", sources=(SourceUse(node="SHORE"),))

    without_it = result(day(design, ("watch", 60), start_ratio=0.6))
    with_it = result(day(plugged, ("watch", 60), start_ratio=0.6))

    assert battery(without_it, "BAT2").end_ratio < 0.6 < battery(with_it, "BAT2").end_ratio
    # 20 A for an hour, of which the load takes its own: the rest goes in, less what the battery does not give back
    taken_ah = battery(with_it, "BAT2").taken_ah
    assert with_it.source_ah == pytest.approx(20.0, rel=1e-6)
    assert taken_ah == pytest.approx(20.0 - with_it.load_ah, rel=1e-6)


def on_a_weak_charger(*segments: tuple[str, float], start_ratio: float) -> Design:
    """The second battery and its radio on a shore charger of 5 A, which is less than the radio takes."""
    shore = PowerNode(
        key="SHORE", kind=NodeKind.SHORE, name="shore charger", zone="cargo",
        source=SourceSpec(limit_a=5.0, low_v=13.8, high_v=14.4),
    )  # fmt: skip
    design = added(added(SOUND, "node", shore), "run", supply("R9", "SHORE", "BAT2", "8", 0.5))
    design = changed(design, "condition", "watch", sources=(SourceUse(node="SHORE"),))
    return day(design, *segments, start_ratio=start_ratio)


def test_charge_that_an_emptied_battery_has_only_because_its_loads_are_off_is_no_recovery() -> None:
    # emptied and filled again within one segment: at its end it holds more than at its beginning
    design = on_a_weak_charger(("watch", 9_000), start_ratio=0.2)

    found = assess(design)

    (profile,) = found.profiles
    assert profile.unserved_ah > 50
    assert battery(profile, "BAT2").end_ratio > 0.5
    told = next(item for item in found.findings if item.id == "profile-not-recovered")
    assert "BAT2" in told.message and "went without" in told.message


def test_a_battery_that_is_charged_and_never_emptied_has_recovered() -> None:
    design = on_a_weak_charger(("watch", 60), ("driving", 600), start_ratio=0.8)

    assert "profile-not-recovered" not in {item.id for item in assess(design).findings}


def test_a_converter_that_charges_takes_from_the_battery_behind_it() -> None:
    spec = ConverterSpec(output_v=14.0, limit_a=15.0, efficiency_ratio=0.9, return_node="G2")
    converter = PowerNode(key="DCDC", kind=NodeKind.CONVERTER, name="charger", zone="cargo", converter=spec)
    design = added(SOUND, "node", converter)
    for run in (supply("R8", "BAT1", "DCDC", "8", 1.0), supply("R9", "DCDC", "BAT2", "8", 1.0)):
        design = added(design, "run", run)

    apart = changed(design, "condition", "driving", open_nodes=("ISO",))
    without_it = changed(SOUND, "condition", "driving", open_nodes=("ISO",))

    with_trace = simulated(day(apart, ("driving", 30), start_ratio=0.6)).run.trace
    trace = simulated(day(without_it, ("driving", 30), start_ratio=0.6)).run.trace

    running, before = int((with_trace.time_s <= 3).sum()), int((trace.time_s <= 3).sum())
    radio_a = trace.bank_a[before, 1]
    assert with_trace.bank_a[running, 1] == pytest.approx(radio_a - 15.0, rel=2e-2)
    taken_a = with_trace.load_a[running] - trace.load_a[before]
    assert taken_a == pytest.approx(14.0 * 15.0 / 0.9 / 13.2, rel=5e-3)  # the alternator holds 13.2 V at least


def test_what_runs_on_after_the_key_is_on_until_its_timer_ends() -> None:
    design = changed(SOUND, "load", "RADIO", run_on_min=30.0)
    design = changed(design, "load", "BAR", run_on_min=10.0)

    done = simulated(day(design, ("watch", 60), ("parked", 120)))

    after = [stage for stage in done.plan.plan.stages if stage.segment == "T2"]
    assert [stage.duration_s for stage in after] == [1800.0, 5400.0]  # the light bar was not on before
    trace = done.run.trace
    at = [int((trace.time_s <= second).sum()) for second in (3600 + 900, 3600 + 3600)]
    assert trace.load_a[at[0]] == pytest.approx(6.0, rel=0.1)
    assert trace.load_a[at[1]] == pytest.approx(0.012, rel=1e-3)  # the siren amplifier sleeps, and so does the radio


def test_timers_shorten_the_days_a_vehicle_may_stand_in_plain_ampere_hours() -> None:
    # the radio sleeps at 10 mA on 100 Ah: 40 Ah / 0.24 Ah a day; 6 A for 60 min take 6 Ah of the 40 first
    slow = assess(changed(SOUND, "load", "SIREN", key_off_a=0.0)).energy
    timed = assess(changed(changed(SOUND, "load", "SIREN", key_off_a=0.0), "load", "RADIO", run_on_min=60.0)).energy

    assert slow.key_off_days == pytest.approx(40 / (0.24 + 0.1))
    assert timed.key_off_days == pytest.approx(34 / (0.24 + 0.1))
    assert timed.run_on_ah == pytest.approx(6.0)


def test_engine_stops_part_a_segment_and_every_one_ends_with_a_start() -> None:
    design = day(SOUND, ("driving", 30))
    design = replace(design, duty_segments=(replace(design.duty_segments[0], engine_stops=4, stop_s=90.0),))

    found = result(design)

    assert [start.segment for start in found.starts] == ["T1"] * 5
    assert found.starts[1].at_h * 3600 == pytest.approx((1800 - 360) / 5 + 90)
    assert all(start.holds for start in found.starts)
    assert found.hours == pytest.approx(0.5)


def test_a_load_on_the_never_shed_list_stays_on() -> None:
    shed = day(step(SOUND, "RADIO", "LOCKER", off_below_v=12.5), ("watch", 300))
    kept = changed(shed, "load", "RADIO", never_shed=True)

    of_both, of_lamps = simulated(shed).run.trace.load_a[-1], simulated(kept).run.trace.load_a[-1]

    assert of_both == pytest.approx(0.0, abs=1e-9)
    assert of_lamps > 5.0


def test_shedding_keeps_a_battery_above_its_floor_longer() -> None:
    plain, shedding = day(SOUND, ("watch", 600)), day(step(SOUND, "RADIO", off_below_v=12.4), ("watch", 600))

    assert battery(result(plain), "BAT2").cut_off_h is not None
    assert battery(result(shedding), "BAT2").cut_off_h is None
    (item,) = result(shedding).shedding
    assert (item.step, item.count, item.off_at_end) == ("S1", 1, True)


def test_cold_batteries_last_shorter_and_start_worse() -> None:
    warm, cold = (result(day(SOUND, ("watch", 300), ("driving", 30), battery_c=at_c)) for at_c in (25.0, -18.0))

    assert battery(cold, "BAT2").lowest_ratio < battery(warm, "BAT2").lowest_ratio
    assert cold.starts[0].starter_v < warm.starts[0].starter_v


def test_a_profile_in_a_condition_that_nothing_uses_is_still_simulated() -> None:
    found = result(day(SOUND, ("parked", 600)))

    assert found.load_ah == pytest.approx(10 * 0.012, rel=1e-6)


def test_a_profile_simulated_by_itself_has_on_what_the_rules_light() -> None:
    design = day(set_to(heads(), "turns"), ("turns", 120))
    by_hand = replace(design, conditions=(replace(design.conditions[0], uses=()),))  # the rules alone say what is on

    done = simulate_profile(by_hand, "day")

    assert done is not None
    assert done.run.accounts.load_ah > 1
    assert done.run.accounts.load_ah == pytest.approx(result(by_hand).load_ah)


def test_a_design_without_a_battery_has_no_profile_to_simulate() -> None:
    bare = replace(
        SOUND, nodes=tuple(node for node in SOUND.nodes if node.battery is None), runs=(), circuits=(), loads=()
    )
    bare = replace(bare, conditions=tuple(replace(item, uses=()) for item in SOUND.conditions))

    assert assess(day(bare, ("watch", 60))).profiles == ()


def test_two_runs_give_the_same_figures_to_the_last_bit() -> None:
    design = day(step(SOUND, "LOCKER"), ("driving", 60), ("watch", 300))

    assert result(design) == result(design)


def test_the_order_of_loads_in_a_condition_changes_nothing() -> None:
    design = day(SOUND, ("watch", 300))
    watch = next(item for item in design.conditions if item.key == "watch")
    turned = changed(design, "condition", "watch", uses=tuple(reversed(watch.uses)))

    assert result(turned) == result(design)
