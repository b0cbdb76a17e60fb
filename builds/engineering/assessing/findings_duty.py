"""Findings about duty profiles, shedding and restart, timers after the key, and the engine-off test of the reserve."""

from collections.abc import Iterator

from builds.engineering.assessing.chatter import chatter_findings
from builds.engineering.assessing.condition_results import solved_conditions
from builds.engineering.assessing.duty_plan import shed_loads, too_cold_to_charge
from builds.engineering.assessing.duty_results import ProfileRun
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.totals import run_ons
from builds.engineering.assessing.words import (
    ampere_hours,
    amperes,
    hours,
    listing,
    of_condition,
    of_load,
    of_node,
    percent,
    volts,
)
from builds.engineering.assessment import ProfileResult, ReserveResult
from builds.engineering.catalogue import found
from builds.engineering.design import DutyProfile
from builds.engineering.electrical.energy.run_records import EventKind
from builds.engineering.electrical.energy.timers import MOST_CYCLES
from builds.engineering.findings import Change, Finding, Number, ProposedFix

__all__ = ["profile_findings", "reserve_findings", "shedding_findings"]

_SAME = 1e-9
_RECOVERED_RATIO = 0.1  # a charge that ends within a tenth of where it began has come back: common practice
_NOTHING_AH = 1e-6  # a battery cut off is left with rounding in its accounts


def profile_findings(
    index: IndexedDesign, runs: tuple[ProfileRun, ...], results: tuple[ProfileResult, ...]
) -> Iterator[Finding]:
    """Yield what the simulated profiles show."""
    simulated = {done.profile.key for done in runs}
    for profile in index.design.duty_profiles:
        if profile.key not in simulated and index.batteries():
            yield found("profile-without-segments", f"duty:{profile.key}", profile=_named(profile))
    for done, result in zip(runs, results, strict=True):
        yield from _batteries(index, done, result)
        yield from _too_cold(index, done)
        yield from _switched_off(index, done)
        yield from _starts(index, done, result)
        yield from chatter_findings(index, done)
        if result.valid_h is not None:
            yield found(
                "profile-figures-end", f"duty:{done.profile.key}", numbers=(Number(name="until", value=result.valid_h, unit="h"),),
                profile=_named(done.profile), time=hours(result.valid_h), count=str(MOST_CYCLES),
            )  # fmt: skip


def _too_cold(index: IndexedDesign, done: ProfileRun) -> Iterator[Finding]:
    """Batteries that something charges in the profile and that are too cold to take it; the profile charges them with nothing."""
    charged = {bank for stage in done.plan.plan.stages for post in stage.posts if post.supplies for bank in post.banks}
    for bank, node in enumerate(index.batteries()):
        spec, now_c = node.battery, done.profile.battery_c
        if bank in charged and spec is not None and spec.least_charge_c is not None and too_cold_to_charge(spec, now_c):
            numbers = (
                Number(name="temperature", value=now_c, unit="°C"),
                Number(name="least", value=spec.least_charge_c, unit="°C"),
            )
            yield found(
                "battery-too-cold-to-charge", f"node:{node.key}", numbers=numbers, profile=_named(done.profile),
                battery=of_node(node), temperature=f"{now_c:g} °C", least=f"{spec.least_charge_c:g} °C",
            )  # fmt: skip


def _switched_off(index: IndexedDesign, done: ProfileRun) -> Iterator[Finding]:
    """Batteries that switch themselves off, each the first time; a load that gives up sooner has a least voltage of its own."""
    stages, said = done.plan.plan.stages, set[int]()
    for event in done.run.events:
        if event.kind is not EventKind.CUT_OUT:
            continue
        cut = next(cut for cut in stages[event.stage].cut_outs if cut.key == event.what)
        node = index.batteries()[cut.bank]
        own_v = node.battery.cut_off_v if node.battery else None
        if own_v is not None and cut.below_v == own_v and cut.bank not in said:
            said.add(cut.bank)
            time_h = event.at_s / 3600
            yield found(
                "battery-switches-off", f"node:{node.key}", numbers=(Number(name="time", value=time_h, unit="h"),),
                profile=_named(done.profile), battery=of_node(node), least=volts(own_v), time=hours(time_h),
                segment=stages[event.stage].segment,
            )  # fmt: skip


def _named(profile: DutyProfile) -> str:
    return f"“{profile.name.strip() or profile.key}”"


def _segment_at(done: ProfileRun, at_h: float) -> str:
    now_h = 0.0
    for stage in done.plan.plan.stages:
        now_h += stage.duration_s / 3600
        if at_h <= now_h:
            return stage.segment
    return done.plan.plan.stages[-1].segment


def _batteries(index: IndexedDesign, done: ProfileRun, result: ProfileResult) -> Iterator[Finding]:
    """The battery that is used up first; where none is, the one that ends lowest of those that something charged."""
    profile, used_up = done.profile, [item for item in result.batteries if item.cut_off_h is not None]
    if used_up:
        first = min(used_up, key=lambda item: item.cut_off_h or 0.0)
        time_h = first.cut_off_h or 0.0
        yield found(
            "profile-battery-low", f"duty:{profile.key}",
            numbers=(Number(name="time", value=time_h, unit="h"), Number(name="lowest charge", value=first.lowest_ratio, unit="1")),
            profile=_named(profile), battery=of_node(index.nodes[first.key]), time=hours(time_h), segment=_segment_at(done, time_h),
        )  # fmt: skip
        if not result.unserved_ah:
            return
        asked_ah = result.load_ah + result.unserved_ah
        yield found(
            "profile-loads-unserved", f"duty:{profile.key}",
            numbers=(Number(name="unserved", value=result.unserved_ah, unit="Ah"), Number(name="asked", value=asked_ah, unit="Ah")),
            profile=_named(profile), unserved=ampere_hours(result.unserved_ah), asked=ampere_hours(asked_ah),
        )  # fmt: skip
    spared = _spared_ratios(done)
    charged = [item for item in result.batteries if item.taken_ah > _NOTHING_AH or result.unserved_ah]
    lowest = min(charged, key=lambda item: item.end_ratio - spared.get(item.key, 0.0), default=None)
    if lowest is None or lowest.end_ratio - spared.get(lowest.key, 0.0) >= profile.start_ratio - _RECOVERED_RATIO:
        return
    unserved = (
        f", and only because {ampere_hours(result.unserved_ah)} of its loads went without"
        if lowest.key in spared
        else ""
    )
    yield found(
        "profile-not-recovered", f"duty:{profile.key}", numbers=(Number(name="end", value=lowest.end_ratio, unit="1"),),
        profile=_named(profile), battery=of_node(index.nodes[lowest.key]), end=percent(lowest.end_ratio) + " of its charge" + unserved,
        start=percent(profile.start_ratio),
    )  # fmt: skip


def _spared_ratios(done: ProfileRun) -> dict[str, float]:
    """
    By key of every battery that was emptied or asked for too much, how much charge its loads spared it by being off, as a part of what it holds.

    Until the next segment begins nothing is taken from it, and what charges it meanwhile fills it as if nothing had been on.
    """
    emptied = {event.what for event in done.run.events if event.kind in (EventKind.EMPTY, EventKind.OVERLOADED)}
    capacity_ah = sum(bank.capacity_ah for bank in done.plan.plan.banks if bank.key in emptied)
    return dict.fromkeys(emptied, done.run.unserved_ah / capacity_ah) if done.run.unserved_ah else {}


def _starts(index: IndexedDesign, done: ProfileRun, result: ProfileResult) -> Iterator[Finding]:
    """The first start that fails, and for each set of loads the first start at which it drops out."""
    profile, said = done.profile, set()
    failed = next((start for start in result.starts if not start.holds), None)
    if failed is not None:
        yield found(
            "will-not-restart", f"duty:{profile.key}",
            numbers=(Number(name="starter", value=failed.starter_v, unit="V"), Number(name="least", value=failed.least_v, unit="V")),
            profile=_named(profile), segment=failed.segment, voltage=volts(failed.starter_v), least=volts(failed.least_v),
        )  # fmt: skip
    for start, record in zip(result.starts, done.run.starts, strict=True):
        if start.dropped and start.dropped not in said:
            said.add(start.dropped)
            names = tuple(of_load(index.loads[key])[0].lower() + of_load(index.loads[key])[1:] for key in start.dropped)
            yield found(
                "restart-drops-load", f"segment:{start.segment}",
                numbers=(Number(name="post", value=record.post_v, unit="V"),),
                profile=_named(profile), segment=start.segment, loads=listing(names),
                drop="drop" if len(names) > 1 else "drops", voltage=volts(record.post_v),
            )  # fmt: skip


def shedding_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield steps that shed nothing or what is never to be shed, and timers that take too much by themselves."""
    sheds = shed_loads(index)
    for load in index.design.loads:
        if load.never_shed and load.shed_step:
            yield found(
                "never-shed-in-step", f"load:{load.key}",
                fix=ProposedFix(label="Take it out of the step", changes=(Change(subject=f"load:{load.key}", field="shed_step", value=""),)),
                load=of_load(load), step=load.shed_step,
            )  # fmt: skip
    named = {load.shed_step for load in index.design.loads}
    for key in sheds:
        if key not in named:
            yield found("shed-step-empty", f"shed:{key}", step=key)
    usable = index.numbers["key-off-usable"]
    for battery, used_ah in run_ons(index, network):
        allowed_ah = usable * (battery.battery.capacity_ah if battery.battery else 0.0)
        if used_ah > allowed_ah * (1 + _SAME):
            yield found(
                "run-on-flattens", f"node:{battery.key}",
                numbers=(Number(name="used", value=used_ah, unit="Ah"), Number(name="limit", value=allowed_ah, unit="Ah")),
                used=ampere_hours(used_ah), battery=of_node(battery), allowed=ampere_hours(allowed_ah),
            )  # fmt: skip


def reserve_findings(index: IndexedDesign, network: Network, results: tuple[ReserveResult, ...]) -> Iterator[Finding]:
    """Yield engine-off tests that fail, or that cannot be judged."""
    held = solved_conditions(network)
    for place, condition in enumerate(index.design.conditions):
        if condition.reserve_test_min is None or place not in held:
            continue
        state, column = held[place]
        for node, current_a in zip(
            index.batteries(), (state.feeding.battery @ state.worst.mean_a[:, column]).tolist(), strict=True
        ):
            if node.battery is not None and not node.battery.reserve_min and current_a > 0:
                yield found(
                    "reserve-unknown",
                    f"condition:{condition.key}",
                    condition=of_condition(condition),
                    battery=of_node(node),
                )
    for result in results:
        yield from _reserve(index, result)


def _reserve(index: IndexedDesign, result: ReserveResult) -> Iterator[Finding]:
    condition, node = index.conditions[result.key], index.nodes[result.battery]
    if result.used_ah > result.allowed_ah * (1 + _SAME):
        yield found(
            "reserve-check-failed", f"condition:{condition.key}",
            numbers=(Number(name="used", value=result.used_ah, unit="Ah"), Number(name="limit", value=result.allowed_ah, unit="Ah"),
                     Number(name="load", value=result.load_a, unit="A")),
            condition=of_condition(condition), battery=of_node(node), used=f"{ampere_hours(result.used_ah)} at {amperes(result.load_a)}",
            minutes=f"{result.minutes:g} min", allowed=ampere_hours(result.allowed_ah), ratio=percent(index.numbers["reserve-usable"]),
        )  # fmt: skip
    elif result.starter_v is not None and result.least_v is not None and result.starter_v < result.least_v:
        yield found(
            "reserve-no-restart", f"condition:{condition.key}",
            numbers=(Number(name="starter", value=result.starter_v, unit="V"), Number(name="least", value=result.least_v, unit="V")),
            condition=of_condition(condition), voltage=volts(result.starter_v), least=volts(result.least_v),
        )  # fmt: skip
