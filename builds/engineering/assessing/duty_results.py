"""Duty profiles simulated, and what is said of them in figures; the engine-off test of the batteries' reserve."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.assessing.condition_results import solved_conditions
from builds.engineering.assessing.duty_plan import DutyPlan, bank_of, crank_of, duty_plan, start_battery
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessment import (
    ProfileBattery,
    ProfileResult,
    ProfileShedding,
    ProfileStart,
    ReserveResult,
)
from builds.engineering.design import DutyProfile, OperatingCondition, PowerNode
from builds.engineering.electrical.battery import check_reserve
from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.crank import cranking_v
from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.run_records import EnergyRun, EventKind
from builds.engineering.electrical.energy.simulation import simulate
from builds.engineering.electrical.energy.timers import MOST_CYCLES

__all__ = ["ProfileRun", "profile_result", "profile_runs", "reserve_results"]

_TWENTY_FIVE_C = 25.0
_S_PER_H = 3600.0


@dataclass(frozen=True, slots=True)
class ProfileRun:
    """A profile with what it was drawn up as and what came of it."""

    profile: DutyProfile
    plan: DutyPlan
    run: EnergyRun


def profile_runs(
    index: IndexedDesign, network: Network, profiles: Iterable[DutyProfile] | None = None
) -> tuple[ProfileRun, ...]:
    """Return profiles simulated, those that have segments, in their order; all of the design unless some are given."""
    chosen = index.design.duty_profiles if profiles is None else profiles
    plans = ((profile, duty_plan(index, network, profile)) for profile in chosen)
    return tuple(
        ProfileRun(profile, plan, simulate(plan.plan, plan.laws_of)) for profile, plan in plans if plan is not None
    )


def profile_result(index: IndexedDesign, done: ProfileRun) -> ProfileResult:
    """Return the figures of a simulated profile."""
    run, plan = done.run, done.plan.plan
    return ProfileResult(
        key=done.profile.key,
        name=done.profile.name,
        hours=sum(stage.duration_s for stage in plan.stages) / _S_PER_H,
        batteries=tuple(_battery(run, place, bank) for place, bank in enumerate(plan.banks)),
        starts=tuple(
            ProfileStart(
                segment=plan.stages[start.stage].segment,
                at_h=start.at_s / _S_PER_H,
                charge_ratio=start.charge_ratio,
                starter_v=start.starter_v,
                least_v=start.least_v,
                holds=start.holds,
                dropped=tuple(key.removeprefix("load:") for key in start.dropped),
            )
            for start in run.starts
        ),
        shedding=tuple(_shedding(index, done)),
        source_ah=run.accounts.source_ah,
        load_ah=run.accounts.load_ah,
        crank_ah=run.accounts.crank_ah,
        difference_ah=run.accounts.difference_ah,
        unserved_ah=run.unserved_ah,
        valid_h=_valid_h(run),
    )


def _valid_h(run: EnergyRun) -> float | None:
    """When a step was first kept off for switching too often: from then on the vehicle does otherwise. None where never."""
    times: dict[tuple[str, int], int] = {}
    for event in run.events:
        if event.kind is EventKind.SHED:
            times[event.what, event.stage] = times.get((event.what, event.stage), 0) + 1
            if times[event.what, event.stage] >= MOST_CYCLES:
                return event.at_s / _S_PER_H
    return None


def _battery(run: EnergyRun, place: int, bank: Bank) -> ProfileBattery:
    account, floor_s = run.accounts.banks[place], run.floor_s[place]
    return ProfileBattery(
        key=bank.key,
        lowest_ratio=max(run.lowest_ratio[place], 0.0),
        lowest_v=run.lowest_v[place],
        end_ratio=max(float(run.trace.charge_ratio[-1, place]), 0.0),
        cut_off_h=None if floor_s is None else floor_s / _S_PER_H,
        given_ah=account.given_ah,
        taken_ah=account.taken_ah,
        peukert_extra_ah=account.peukert_extra_ah,
        charge_lost_ah=account.charge_lost_ah,
    )


def _shedding(index: IndexedDesign, done: ProfileRun) -> Iterator[ProfileShedding]:
    """By step and segment, in the order in which they first happened."""
    stages = done.plan.plan.stages
    times: dict[tuple[str, str], list[float]] = {}
    is_off: dict[tuple[str, str], bool] = {}
    for event in done.run.events:
        key = (event.what, stages[event.stage].segment)
        if event.kind is EventKind.SHED:
            times.setdefault(key, []).append(event.at_s)
        if event.kind in (EventKind.SHED, EventKind.RESTORED):
            is_off[key] = event.kind is EventKind.SHED
    for (step, segment), at_s in times.items():
        yield ProfileShedding(
            step=step,
            segment=segment,
            count=len(at_s),
            first_h=at_s[0] / _S_PER_H,
            off_at_end=is_off[step, segment],
            at_least=len(at_s) >= MOST_CYCLES,
        )


def reserve_results(index: IndexedDesign, network: Network) -> tuple[ReserveResult, ...]:
    """Return the engine-off tests of every condition that has one, a result for each battery it loads that states a reserve."""
    held = solved_conditions(network)
    results = []
    for place, condition in enumerate(index.design.conditions):
        if condition.reserve_test_min is not None and place in held:
            results += [_reserve(index, network, condition, *pair) for pair in _loaded(index, *held[place])]
    return tuple(results)


def _loaded(index: IndexedDesign, state: State, column: int) -> Iterator[tuple[PowerNode, float]]:
    """Batteries that state a reserve, more than none, and carry something, with the mean current of it."""
    mean_a = state.feeding.battery @ state.worst.mean_a[:, column]
    for node, current_a in zip(index.batteries(), mean_a.tolist(), strict=True):
        if node.battery is not None and node.battery.reserve_min and current_a > 0:
            yield node, current_a


def _reserve(
    index: IndexedDesign, network: Network, condition: OperatingCondition, node: PowerNode, current_a: float
) -> ReserveResult:
    spec = node.battery
    assert spec is not None and spec.reserve_min is not None and condition.reserve_test_min is not None
    check = check_reserve(
        current_a=current_a,
        reserve_min=spec.reserve_min,
        test_min=condition.reserve_test_min,
        usable_ratio=index.numbers["reserve-usable"],
    )
    starts = index.batteries()[start_battery(index, network)] is node
    starter_v, least_v = _after_test(node, current_a, condition.reserve_test_min) if starts else (None, None)
    return ReserveResult(
        key=condition.key,
        battery=node.key,
        minutes=condition.reserve_test_min,
        load_a=current_a,
        used_ah=check.used_ah,
        allowed_ah=check.allowed_ah,
        used_ratio=check.used_ah / (check.allowed_ah / index.numbers["reserve-usable"]),
        starter_v=starter_v,
        least_v=least_v,
    )


def _after_test(node: PowerNode, current_a: float, minutes: float) -> tuple[float, float]:
    """The voltage at the starter after the test, its loads still on, beside the least; a warm, full battery to begin with."""
    bank, crank = bank_of(node, _TWENTY_FIVE_C), crank_of(None, 0, (node,))
    removed_ah = (current_a + bank.extra_a(current_a)) * minutes / 60
    emf_v = bank.rest_v(removed_ah) - bank.recovery_ohm * current_a
    _, starter_v = cranking_v(
        emf_v=emf_v, internal_ohm=bank.internal_ohm, crank_a=crank.current_a, cable_ohm=0.0, law=LoadLaw(current_a)
    )
    return starter_v, crank.least_v
