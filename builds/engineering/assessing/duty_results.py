"""Duty profiles simulated, and what is said of them in figures."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.assessing.duty_plan import DutyPlan, duty_plan
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network
from builds.engineering.assessment import (
    ProfileBattery,
    ProfileResult,
    ProfileShedding,
    ProfileStart,
)
from builds.engineering.design import DutyProfile
from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.run_records import EnergyRun, EventKind
from builds.engineering.electrical.energy.simulation import simulate
from builds.engineering.electrical.energy.timers import MOST_CYCLES

__all__ = ["ProfileRun", "profile_result", "profile_runs"]

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
