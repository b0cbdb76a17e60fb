"""
A duty profile simulated: from one event to the next, never past one.

Between events nothing jumps, so steps in time are as long as their own error allows. Every switching instant is found by
root finding to well under a millisecond. After anything jumps (a stage begins, something sheds, the engine is cranked) all
timers are set by the new voltages, so that a load that brings its own voltage back up is seen to do so.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from builds.engineering.electrical.energy.banks import Bank, rest_curve
from builds.engineering.electrical.energy.crank import cranking_v
from builds.engineering.electrical.energy.laws import NOTHING, LawsOf, LoadLaw
from builds.engineering.electrical.energy.moments import (
    Circumstances,
    Moment,
    accounts_of,
    first_state,
    tolerance_of,
)
from builds.engineering.electrical.energy.run_records import EnergyRun, Event, EventKind, Start, Trace
from builds.engineering.electrical.energy.stages import CutOut, Plan, Post, ShedRule, Stage
from builds.engineering.electrical.energy.steps import Numbers, Step, next_step_s, take_step
from builds.engineering.electrical.energy.timers import Timers
from builds.engineering.electrical.energy.watches import Crossing, Readings, Watch, bend_s, by_quantity, first_crossing

__all__ = ["simulate"]

_FIRST_STEP_S, _LEAST_STEP_S = 150.0, 1e-6
_EMPTY = 1e-9
_S_PER_H = 3600.0


def simulate(plan: Plan, laws_of: LawsOf) -> EnergyRun:
    """
    Return what becomes of batteries, sources and loads over a plan.

    Parameters
    ----------
    plan : Plan
        Batteries, stages, shedding, starter.
    laws_of : callable
        What the loads take, by the stage's place and by the keys of what is switched off; asked once for each pair.

    Returns
    -------
    EnergyRun
        Points over time, events, accounts and starts. Ampere-hours given and taken agree to rounding.

    Notes
    -----
    The loads of a battery that is empty, or that cannot carry them, are off until the next stage. What is left out: inrush, the ripple of flashing loads, and what
    a battery loses by itself in weeks.

    References
    ----------
    .. [1] Dormand and Prince, "A family of embedded Runge-Kutta formulae", 1980.
    """
    running = _Running(plan, laws_of)
    for place, stage in enumerate(plan.stages):
        running.run_stage(place, stage)
    return running.record()


@dataclass(slots=True)
class _Running:
    """A simulation on its way."""

    plan: Plan
    laws_of: LawsOf
    state: Numbers = field(init=False)
    began: Numbers = field(init=False)
    tolerance: Numbers = field(init=False)
    timers: Timers = field(init=False)
    now_s: float = 0.0
    place: int = 0
    cut: set[str] = field(default_factory=set)
    dead: set[int] = field(default_factory=set)
    events: list[Event] = field(default_factory=list)
    starts: list[Start] = field(default_factory=list)
    points: list[tuple[float, int, Moment]] = field(default_factory=list)
    floor_s: list[float | None] = field(init=False)
    steps: int = 0
    unserved_ah: float = 0.0
    span_s: float = _FIRST_STEP_S
    known: dict[tuple[int, frozenset[str]], tuple[LoadLaw, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.state = first_state(self.plan.banks, self.plan.start_ratio)
        self.began = self.state.copy()
        self.tolerance = tolerance_of(self.plan.banks)
        self.timers = Timers(self.plan.rules)
        self.floor_s = [None] * len(self.plan.banks)

    def run_stage(self, place: int, stage: Stage) -> None:
        """Go through a stage."""
        self.place = place
        self.cut.clear()
        self.dead.clear()
        self.timers.start_stage()
        self._happened(EventKind.STAGE, stage.segment, self.points[-1][2].bank_v[0] if self.points else 0.0)
        if stage.cranks:
            self._start(stage)
        self._go_to(stage, self.now_s + stage.duration_s)
        if stage.cranks:
            self.timers.hold(stage.duration_s)

    def _start(self, stage: Stage) -> None:
        """Note how the engine's starting stands as it begins."""
        crank = self.plan.crank
        assert crank is not None
        now, bank = self._circumstances(stage), self.plan.banks[crank.bank]
        emf_v = float(now.emf_v(self.state)[crank.bank])
        post_v, starter_v = cranking_v(
            emf_v=emf_v,
            internal_ohm=bank.cranked_ohm(self.state[crank.bank]),
            crank_a=crank.current_a,
            cable_ohm=crank.cable_ohm,
            law=now.laws[crank.bank],
        )
        ratio = 1.0 - self.state[crank.bank] / bank.capacity_ah
        dropped = tuple(cut.key for cut in stage.cut_outs if cut.bank == crank.bank and post_v < cut.below_v)
        self.starts.append(Start(self.now_s, self.place, ratio, post_v, starter_v, crank.least_v, dropped, emf_v))
        self._happened(EventKind.CRANK, bank.key, post_v)

    def _circumstances(self, stage: Stage) -> Circumstances:
        plan, posts = self.plan, self._posts(stage)
        laws = tuple(NOTHING if post in self.dead else law for post, law in enumerate(self._laws()))
        if stage.cranks and plan.crank is not None:
            return Circumstances(self._cranked(), posts, laws, cranked=plan.crank.bank, crank_a=plan.crank.current_a)
        return Circumstances(plan.banks, posts, laws)

    def _cranked(self) -> tuple[Bank, ...]:
        """The batteries while the engine is cranked: the resistance of the one that starts it goes with its charge."""
        crank, banks = self.plan.crank, self.plan.banks
        assert crank is not None
        ohm = banks[crank.bank].cranked_ohm(self.state[crank.bank])
        return tuple(replace(bank, internal_ohm=ohm) if at == crank.bank else bank for at, bank in enumerate(banks))

    def _posts(self, stage: Stage) -> tuple[Post, ...]:
        """The posts of a stage; one that feeds nothing any more charges no other either."""
        posts = stage.all_posts(len(self.plan.banks))
        if not self.dead:
            return posts
        left = [
            tuple(one for one in post.supplies if one.transfer is None or one.transfer.from_post not in self.dead)
            for post in posts
        ]
        return tuple(replace(post, supplies=supplies) for post, supplies in zip(posts, left, strict=True))

    def _laws(self) -> tuple[LoadLaw, ...]:
        key = (self.place, frozenset(self.timers.off | self.cut))
        if key not in self.known:
            self.known[key] = self.laws_of(*key)
        return self.known[key]

    def _go_to(self, stage: Stage, end_s: float) -> None:
        """Go from event to event until ``end_s``."""
        jumped = True
        while True:
            if jumped:
                self._settle(stage)
                self.span_s = _FIRST_STEP_S
            now = self._circumstances(stage)
            due_s, due = self.timers.next_due_s(cranking=stage.cranks)
            until_s = min(end_s, max(due_s, self.now_s))
            crossing = self._go_on(stage, now, until_s)
            if crossing is not None:
                jumped = self._crossed(crossing) or not crossing.watches
            elif due is not None and due_s <= end_s:
                self._switch(due, now)
                jumped = True
            else:
                return

    def _settle(self, stage: Stage) -> None:
        """After a jump: loads that cut out go one by one, the furthest below first; then timers are set."""
        while True:
            moment = self._circumstances(stage).moment(self.state)
            below = [
                cut
                for cut in ([] if stage.cranks else stage.cut_outs)
                if cut.key not in self.cut and moment.bank_v[cut.bank] < cut.below_v
            ]
            if below:
                self._cut_out(min(below, key=lambda cut: moment.bank_v[cut.bank] - cut.below_v), moment)
            elif not self._empties(stage, moment) and not self._overloads(stage, moment):
                break
        self.timers.settle(moment.bank_v, self.now_s, cranking=stage.cranks)
        self.points.append((self.now_s, self.place, moment))

    def _cut_out(self, cut: CutOut, moment: Moment) -> None:
        self._happened(EventKind.CUT_OUT, cut.key, moment.bank_v[cut.bank])
        self.cut.add(cut.key)

    def _empties(self, stage: Stage, moment: Moment) -> bool:
        """Take the loads off a battery that has nothing left."""
        for at, post in enumerate(stage.all_posts(len(self.plan.banks))):
            for bank in post.banks:
                if at not in self.dead and moment.charge_ratio[bank] <= _EMPTY and moment.bank_a[bank] > 0.0:
                    self._happened(EventKind.EMPTY, self.plan.banks[bank].key, moment.bank_v[bank])
                    self.dead.add(at)
                    return True
        return False

    def _overloads(self, stage: Stage, moment: Moment) -> bool:
        """
        Take the loads off a post that has no voltage at which they could run.

        Left on, they would run again as soon as the battery has rested, and no longer: thousands of times a second.
        """
        post = self._circumstances(stage).overloaded(self.state)
        if post is None:
            return False
        bank = stage.all_posts(len(self.plan.banks))[post].banks[0]
        if not stage.cranks:
            self._happened(EventKind.OVERLOADED, self.plan.banks[bank].key, moment.bank_v[bank])
        self.dead.add(post)
        return True

    def _watches(self, stage: Stage) -> list[Watch]:
        watches = []
        for rule in self.plan.rules:
            if not (stage.cranks and rule.ignores_crank) and self.timers.waits(rule):
                level, sign = self.timers.level_of(rule)
                watches.append(Watch(rule, rule.bank, level, sign))
        if not stage.cranks:
            watches += [Watch(cut, cut.bank, cut.below_v, -1) for cut in stage.cut_outs if cut.key not in self.cut]
        for place, bank in enumerate(self.plan.banks):
            if self.floor_s[place] is None:
                watches.append(Watch(None, place, bank.floor_ratio, -1, is_charge=True))
            watches += self._bends(place, bank)
        return watches

    def _bends(self, place: int, bank: Bank) -> list[Watch]:
        """
        The next bends on either side, of the rest curve and of what is accepted: a step over one would be less exact than it
        says. Empty is one.
        """
        ratio = 1.0 - self.state[place] / bank.capacity_ah
        ratios = sorted((*rest_curve(bank.kind)[0], max(0.0, bank.taper_ratio)))
        below = [level for level in ratios if level < ratio - _EMPTY]
        above = [level for level in ratios if ratio + _EMPTY < level < 1.0]
        return [Watch(None, place, level, -1, is_charge=True) for level in below[-1:]] + [
            Watch(None, place, level, 1, is_charge=True) for level in above[:1]
        ]

    def _go_on(self, stage: Stage, now: Circumstances, until_s: float) -> Crossing | None:
        """Step until ``until_s`` or the first crossing."""
        waiting = by_quantity(self._watches(stage))
        rate, span_s = now.derivative(self.state), self.span_s
        unserved_a = self._unserved_a(stage) if self.dead and not stage.cranks else 0.0
        before = Readings(now, self.state, rate)
        while self.now_s < until_s:
            wanted_s = span_s
            span_s = min(span_s, until_s - self.now_s, bend_s(waiting, before))  # over a bend a step is made in vain
            step = take_step(now.derivative, self.state, rate, span_s / _S_PER_H, self.tolerance)
            self.steps += 1
            if step.error > 1.0 and span_s > _LEAST_STEP_S:
                span_s = next_step_s(span_s, step.error)
                continue
            state, began = self.state, rate

            def redo(shorter_s: float, state: Numbers = state, began: Numbers = began) -> Step:
                return take_step(now.derivative, state, began, shorter_s / _S_PER_H, self.tolerance)

            after = Readings(now, step.state, step.rate)
            crossing = first_crossing(waiting, now, before, after, span_s, step, redo)
            if crossing is not None:
                span_s, step, after = crossing.span_s, crossing.step, crossing.there
            last = until_s - self.now_s <= span_s
            self.unserved_ah += unserved_a * span_s / _S_PER_H
            self.state, rate = step.state, step.rate
            self.now_s = until_s if last else self.now_s + span_s
            self.points.append((self.now_s, self.place, after.here))
            before = after
            if crossing is None and now.overloaded(self.state) is not None:
                crossing = Crossing(span_s, step, after, ())
            if crossing is not None:
                self.span_s = max(wanted_s, _LEAST_STEP_S)
                return crossing
            span_s = max(next_step_s(span_s, step.error), wanted_s if span_s < wanted_s else 0.0)
        self.span_s = max(span_s, _LEAST_STEP_S)
        return None

    def _unserved_a(self, stage: Stage) -> float:
        """What the loads on empty batteries would take at those batteries' voltage at rest."""
        posts, laws = stage.all_posts(len(self.plan.banks)), self._laws()
        rest_v = {post: self.plan.banks[posts[post].banks[0]].rest_curve[1][-1] for post in self.dead}
        return sum(laws[post].current_a(volts) for post, volts in rest_v.items() if post < len(laws))

    def _crossed(self, crossing: Crossing) -> bool:
        """Do what a crossing is for; return whether anything jumped."""
        moment, jumped = crossing.there.here, False
        for watch in crossing.watches:
            match watch.of:
                case ShedRule():
                    self.timers.cross(watch.of, self.now_s)
                case CutOut():
                    self._cut_out(watch.of, moment)
                    jumped = True
                case None:
                    self._reached(watch, moment)
                    jumped = jumped or watch.level == 0.0
        return jumped

    def _reached(self, watch: Watch, moment: Moment) -> None:
        """Note the first time at which the part of a battery that may be used is used."""
        bank = self.plan.banks[watch.bank]
        if watch.sign < 0 and watch.level == bank.floor_ratio and self.floor_s[watch.bank] is None:
            self.floor_s[watch.bank] = self.now_s
            self._happened(EventKind.FLOOR, bank.key, moment.bank_v[watch.bank])

    def _switch(self, rule: ShedRule, now: Circumstances) -> None:
        volts = now.moment(self.state).bank_v[rule.bank]
        is_off = self.timers.switch(rule)
        self._happened(EventKind.SHED if is_off else EventKind.RESTORED, rule.key, volts)

    def _happened(self, kind: EventKind, what: str, voltage_v: float) -> None:
        self.events.append(Event(self.now_s, kind, what, self.place, voltage_v))

    def record(self) -> EnergyRun:
        """Return what is left behind."""
        moments = [moment for *_, moment in self.points]
        count = len(self.plan.banks)
        ratios = np.array([moment.charge_ratio for moment in moments]).reshape(-1, count)
        volts = np.array([moment.bank_v for moment in moments]).reshape(-1, count)
        trace = Trace(
            time_s=np.array([at_s for at_s, *_ in self.points]),
            stage=np.array([place for _, place, _ in self.points], dtype=np.int64),
            charge_ratio=ratios,
            bank_v=volts,
            bank_a=np.array([moment.bank_a for moment in moments]).reshape(-1, count),
            source_a=np.array([moment.source_a for moment in moments]),
            load_a=np.array([moment.load_a for moment in moments]),
        )
        return EnergyRun(
            trace=trace,
            events=tuple(self.events),
            accounts=accounts_of(self.state, self.began, self.plan.banks),
            starts=tuple(self.starts),
            lowest_ratio=tuple(float(column.min()) for column in ratios.T) if len(ratios) else (1.0,) * count,
            lowest_v=tuple(float(column.min()) for column in volts.T) if len(volts) else (0.0,) * count,
            floor_s=tuple(self.floor_s),
            steps=self.steps,
            unserved_ah=self.unserved_ah,
        )
