"""
A duty profile drawn up for the simulation: batteries, stages, shedding and starter, from the rows of a design.

A segment is one stage, but for what runs on after the key is off (a stage to each timer's end) and for engine stops (a stage
each, and one before and after). The engine is started where a running segment follows one that was not.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from builds.engineering.assessing.duty_laws import DutyLaws, Taking, loads_off
from builds.engineering.assessing.duty_posts import held_v_of, posts_of
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import engine_runs
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.states import Network, State
from builds.engineering.design import BatterySpec, DutyProfile, DutySegment, OperatingCondition, PowerNode, ShedStep
from builds.engineering.electrical.battery import source_default
from builds.engineering.electrical.energy.banks import Bank, bank_in_the_cold, default_bank_figures
from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.stages import Crank, Plan, Post, ShedRule, Stage
from builds.engineering.vocabulary import SourceState

__all__ = [
    "DutyPlan",
    "bank_of",
    "crank_of",
    "cranks_after",
    "duty_plan",
    "segments_of",
    "shed_loads",
    "start_battery",
    "too_cold_to_charge",
]

_TABLES_NOMINAL_V = 12.0


@dataclass(frozen=True, slots=True)
class DutyPlan:
    """A plan with the loads of its stages; ``segments`` has each stage's place in the profile."""

    plan: Plan
    segments: tuple[int, ...]
    takings: tuple[Taking, ...]
    laws: DutyLaws
    loads_of_step: Mapping[str, tuple[str, ...]]

    def laws_of(self, stage: int, off: frozenset[str]) -> tuple[LoadLaw, ...]:
        """Return what the loads take in a stage with some of them switched off."""
        taking = self.takings[stage]
        return self.laws.laws(taking.without(loads_off(self.laws.index, off, self.loads_of_step)) if off else taking)


def segments_of(index: IndexedDesign, profile: DutyProfile) -> tuple[DutySegment, ...]:
    """Return the segments of a profile, in the design's order."""
    return tuple(segment for segment in index.design.duty_segments if segment.profile == profile.key)


def shed_loads(index: IndexedDesign) -> dict[str, tuple[str, ...]]:
    """Return the loads that each step really sheds: those that name it and are not on the never-shed list."""
    return {
        step.key: tuple(load.key for load in index.design.loads if load.shed_step == step.key and not load.never_shed)
        for step in index.design.shed_steps
    }


def start_battery(index: IndexedDesign, network: Network) -> int:
    """Return the place of the battery that starts the engine: the one that its own source charges."""
    keys = [node.key for node in index.batteries()]
    return next((keys.index(key) for key in network.states[0].feeding.chargers if key in keys), 0)


def duty_plan(index: IndexedDesign, network: Network, profile: DutyProfile) -> DutyPlan | None:
    """Return a profile drawn up; None where the design has no battery or the profile no segment."""
    segments = segments_of(index, profile)
    if not segments or not index.batteries():
        return None
    laws = DutyLaws(index, network)
    drawing = _Drawing(index, network, profile, segments)
    drawn = [(place, *pair) for place in range(len(segments)) for pair in drawing.stages(place)]
    laws.solve_together([taking for _, _, taking in drawn])
    loads_of_step = shed_loads(index)
    plan = Plan(
        banks=tuple(bank_of(node, profile.battery_c) for node in index.batteries()),
        stages=tuple(replace(stage, cut_outs=laws.cut_outs(taking)) for _, stage, taking in drawn),
        rules=tuple(_rule(index, step, laws, loads_of_step[step.key]) for step in index.design.shed_steps),
        crank=crank_of(index, profile, start_battery(index, network)),
        start_ratio=(profile.start_ratio,) * len(index.batteries()),
    )
    return DutyPlan(
        plan, tuple(place for place, _, _ in drawn), tuple(taking for _, _, taking in drawn), laws, loads_of_step
    )


def bank_of(node: PowerNode, battery_c: float) -> Bank:
    """Return a battery as the simulation takes it at a temperature; what its label does not say is from the tables."""
    spec = node.battery
    assert spec is not None
    capacity_ratio, resistance_times = bank_in_the_cold(temperature_c=battery_c)
    internal_ohm = spec.internal_mohm / 1000 * resistance_times
    return Bank(
        key=node.key,
        capacity_ah=spec.capacity_ah * capacity_ratio,
        rated_hours=spec.rated_hours,
        peukert_exponent=spec.peukert_exponent,
        internal_ohm=internal_ohm,
        full_rest_v=spec.open_circuit_v,
        usable_ratio=spec.usable_ratio,
        kind=spec.kind,
        recovery_ohm=internal_ohm * source_default("recovery_times"),
        **default_bank_figures() | _own_figures(spec, battery_c),
    )


def _own_figures(spec: BatterySpec, battery_c: float) -> dict[str, float]:
    """How it takes charge where its data sheet says so: not at all below its least temperature."""
    if too_cold_to_charge(spec, battery_c):
        return {"acceptance_per_h": 0.0}
    return {} if spec.acceptance_per_h is None else {"acceptance_per_h": spec.acceptance_per_h}


def too_cold_to_charge(spec: BatterySpec, battery_c: float) -> bool:
    """Return whether a battery takes no charge at a temperature [°C]."""
    return spec.least_charge_c is not None and battery_c < spec.least_charge_c


def crank_of(index: IndexedDesign, profile: DutyProfile | None, bank: int) -> Crank:
    """
    Return what starting the engine takes: by the profile, where it does not say by the platform, else from the tables.

    The tables' voltage and cable are those of a 12 V starter and go with the battery's nominal voltage. Their current stays: a
    24 V starter asks for less of it by the same engine, but turns a larger one. Their least voltage is read at the battery's
    posts, so with it no cable counts that nobody gave.
    """
    times = index.batteries()[bank].nominal_v / _TABLES_NOMINAL_V
    given = {name: _given(index, profile, name) for name in ("crank_a", "crank_least_v", "crank_cable_mohm")}
    cable_mohm = given["crank_cable_mohm"]
    if cable_mohm is None:
        cable_mohm = 0.0 if given["crank_least_v"] is None else times * source_default("crank_cable_mohm")
    return Crank(
        bank=bank,
        current_a=_or_default(given["crank_a"], "crank_current_a"),
        least_v=_or_default(given["crank_least_v"], "crank_least_v", times),
        cable_ohm=cable_mohm / 1000,
    )


def _given(index: IndexedDesign, profile: DutyProfile | None, name: str) -> float | None:
    own: float | None = getattr(profile, name) if profile is not None else None
    from_platform: float | None = getattr(index.design.platform, name)
    return from_platform if own is None else own


def cranks_after(index: IndexedDesign, condition: OperatingCondition, bank: int) -> tuple[Crank, ...]:
    """Return what starting the engine after a condition may take: by each profile it is in, by any where it is in none."""
    design = index.design
    named = {segment.profile for segment in design.duty_segments if segment.condition == condition.key}
    profiles = [profile for profile in design.duty_profiles if profile.key in named] or design.duty_profiles
    return tuple(crank_of(index, profile, bank) for profile in profiles) or (crank_of(index, None, bank),)


def _or_default(value: float | None, key: str, times: float = 1.0) -> float:
    return times * source_default(key) if value is None else value


def _rule(index: IndexedDesign, step: ShedStep, laws: DutyLaws, loads: tuple[str, ...]) -> ShedRule:
    keys = [node.key for node in index.batteries()]
    return ShedRule(
        key=step.key,
        bank=keys.index(step.battery) if step.battery in keys else laws.bank_of_loads(loads),
        off_below_v=step.off_below_v,
        off_delay_s=step.off_delay_s,
        on_above_v=step.on_above_v,
        on_delay_s=step.on_delay_s,
        ignores_crank=step.ignores_crank,
    )


@dataclass(frozen=True, slots=True)
class _Drawing:
    """A profile being drawn up."""

    index: IndexedDesign
    network: Network
    profile: DutyProfile
    segments: tuple[DutySegment, ...]

    def stages(self, place: int) -> Iterator[tuple[Stage, Taking]]:
        """Yield the stages of a segment with what is asked for in each."""
        segment = self.segments[place]
        condition = self.index.conditions[segment.condition]
        before = self.index.conditions[self.segments[place - 1].condition] if place else None
        taking = self._taking(condition)
        if engine_runs(condition.source_state):
            starts = before is None or not engine_runs(before.source_state)
            yield from self._running(segment, taking, starts=starts)
        elif condition.source_state is SourceState.KEY_OFF:
            yield from self._key_off(segment, before, taking)
        else:
            yield self._stage(segment, 60.0 * segment.duration_min, taking.posts), taking

    def _taking(self, condition: OperatingCondition) -> Taking:
        column = next(at for at, one in enumerate(self.index.design.conditions) if one is condition)
        state = next(state for state in self.network.states if column in state.chosen)
        posts = posts_of(self.index, self.network, state, condition)
        demand = self.network.demand
        return Taking(
            state,
            posts,
            held_v_of(posts, len(self.index.batteries())),
            demand.duty[:, column],
            demand.asleep_a[:, column],
        )

    def _stage(self, segment: DutySegment, span_s: float, posts: tuple[Post, ...], *, cranks: bool = False) -> Stage:
        return Stage(segment=segment.key, duration_s=span_s, posts=posts, cranks=cranks)

    def _running(self, segment: DutySegment, taking: Taking, *, starts: bool) -> Iterator[tuple[Stage, Taking]]:
        """One stage, or as many as engine stops part it into; at every stop and every start each battery is alone."""
        stops = segment.engine_stops
        part_s = (60.0 * segment.duration_min - stops * segment.stop_s) / (stops + 1)
        alone = self._alone(taking)
        for number in range(stops + 1):
            if number:
                yield self._stage(segment, segment.stop_s, ()), alone
            start_s = min(_or_default(self.profile.crank_s, "crank_s"), part_s) if starts or number else 0.0
            if start_s:
                yield self._stage(segment, start_s, (), cranks=True), alone
            yield self._stage(segment, part_s - start_s, taking.posts), taking

    def _alone(self, taking: Taking) -> Taking:
        """The same loads with the engine off and everything else as usual."""
        state: State = self.network.states[1]
        count = len(self.index.batteries())
        posts = tuple(Post(banks=(bank,)) for bank in range(count))
        return Taking(state, posts, (0.0,) * count, taking.factor, taking.asleep_a)

    def _key_off(
        self, segment: DutySegment, before: OperatingCondition | None, taking: Taking
    ) -> Iterator[tuple[Stage, Taking]]:
        """Loads with a timer run on after the key; what was before the profile is taken to have had them all on."""
        on_before = {load.key for load in self.index.design.loads}
        if before is not None:
            on_before = set() if before.source_state is SourceState.KEY_OFF else {use.load for use in before.uses}
        loads, span_s = self.index.design.loads, 60.0 * segment.duration_min
        runs_s = np.array([60.0 * load.run_on_min if load.key in on_before else 0.0 for load in loads])
        now_s = 0.0
        for end_s in sorted({float(end) for end in runs_s if 0.0 < end < span_s} | {span_s}):
            runs = (runs_s > now_s) & (taking.factor == 0)
            yield self._stage(segment, end_s - now_s, taking.posts), self._with_run_on(taking, runs.astype(np.float64))
            now_s = end_s

    def _with_run_on(self, taking: Taking, runs: Floats) -> Taking:
        duty = np.array([load.duty_ratio for load in self.index.design.loads])
        return replace(taking, factor=taking.factor + runs * duty, asleep_a=taking.asleep_a * (1.0 - runs))
