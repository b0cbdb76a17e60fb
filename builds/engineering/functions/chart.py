"""The operator's chart: what each control does, in which condition, from the same rules that drive the lamps."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.conditions import (
    AllOf,
    AnyOf,
    Condition,
    ForAtLeast,
    ForAtMost,
    InputIs,
    Not,
    children,
    leaves,
)
from builds.engineering.functions.evaluate import Outcome, evaluate
from builds.engineering.functions.printing import print_condition, print_duration, print_effect, print_name
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import Input, Rule
from builds.engineering.functions.settings import AT_REST, Setting, setting_of
from builds.engineering.functions.vocabulary import LOST, EffectKind, InputKind, SignalMeaning
from builds.engineering.functions.words import listed, shown_words, still_word

__all__ = ["ChartLine", "ChartRow", "operator_chart"]

_MOST_EVENTS = 50  # of timers after one act; two that start each other would go on for ever


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartLine:
    """A rule that asks for the control at this value: what it does to which outputs, and when."""

    does: str
    when: str
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """
    A control at one of its values.

    ``alone`` is what it lights with everything else at rest, in words, group by group; ``alone_rules`` those of the deciding
    rules that read nothing else. ``also`` are the other rules in which it plays a part: together with something else, after
    a time, or upon what is on already. ``stops`` are those that it keeps from holding, which they may with it at rest.
    ``afterwards`` is what is lit once it is back at rest, with how long: "horn: steady for 8 s".
    """

    control: str
    value: str
    by_hand: bool
    alone: tuple[str, ...]
    alone_rules: tuple[str, ...]
    also: tuple[ChartLine, ...]
    stops: tuple[ChartLine, ...] = ()
    afterwards: tuple[str, ...] = ()


def operator_chart(compiled: CompiledSchedule) -> tuple[ChartRow, ...]:
    """
    Return the chart of a schedule, controls worked by hand first, each with the values away from rest that do something.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.

    Returns
    -------
    tuple of ChartRow
        In schedule order; a value at which a control does nothing and plays no part is left out. Every rule that can hold
        stands in some row: one that asks only for controls at rest, or for lost ones, stands at that value. Every control
        that some rule reads has a row.
    """
    rows = [row for part in compiled.schedule.inputs for row in _rows(compiled, part)]
    told = {rule for row in rows for rule in (*row.alone_rules, *(line.rule for line in row.also))}
    rows += _rows_of_the_rest(compiled, told)
    order = {part.key: number for number, part in enumerate(compiled.schedule.inputs)}
    return tuple(sorted(rows, key=lambda row: (not row.by_hand, order[row.control])))


def _rows(compiled: CompiledSchedule, part: Input) -> Iterator[ChartRow]:
    dark = {outcome.channel: outcome for outcome in evaluate(compiled, AT_REST)}
    for value in part.stands:
        if value == part.rest:
            continue
        setting = setting_of(compiled.schedule, {part.key: value})
        changed = [outcome for outcome in evaluate(compiled, setting) if outcome.shows != dark[outcome.channel].shows]
        deciding = {rule for one in changed for rule in (one.rule, one.cut_by, one.dimmed_by) if rule}
        asking = [rule for rule in compiled.schedule.rules if _asks_for(rule, part, value)]
        alone_rules = tuple(rule.key for rule in asking if rule.key in deciding and isinstance(rule.condition, InputIs))
        also = tuple(_line(compiled, rule) for rule in asking if rule.key not in alone_rules)
        stops = tuple(_line(compiled, rule) for rule in compiled.schedule.rules if _stops(rule, part, value))
        afterwards = tuple(_afterwards(compiled, part, setting))
        if changed or also or stops or afterwards:
            yield replace(
                _row(part, value, also),
                alone=tuple(_grouped(compiled, changed)),
                alone_rules=alone_rules,
                stops=stops,
                afterwards=afterwards,
            )


def _rows_of_the_rest(compiled: CompiledSchedule, told: set[str]) -> Iterator[ChartRow]:
    """Rows for the rules that ask for no control away from rest: at rest, or lost."""
    left = [rule for rule in compiled.schedule.rules if rule.key not in told]
    for part in compiled.schedule.inputs:
        for value in (part.rest, LOST):
            here = [rule for rule in left if _asks_for(rule, part, value)]
            if here:
                yield _row(part, value, tuple(_line(compiled, rule) for rule in here))


def _row(part: Input, value: str, also: tuple[ChartLine, ...]) -> ChartRow:
    by_hand = part.kind is not InputKind.SIGNAL and part.means is SignalMeaning.OTHER
    return ChartRow(control=part.key, value=value, by_hand=by_hand, alone=(), alone_rules=(), also=also)


def _grouped(compiled: CompiledSchedule, outcomes: list[Outcome]) -> Iterator[str]:
    """Outputs that show the same named together, by the name of a set where they are just that set."""
    groups: dict[str, list[str]] = {}
    kinds = {one.key: one.kind for one in compiled.schedule.channels}
    for outcome in outcomes:
        groups.setdefault(shown_words(compiled, outcome.shows, kinds[outcome.channel]), []).append(outcome.channel)
    sets = {frozenset(one.channels): one.key for one in compiled.schedule.sets}
    for shown, channels in groups.items():
        name = sets.get(frozenset(channels))
        who = print_name(name) if name else listed(map(print_name, channels))
        yield f"{who}: {shown}"


def _afterwards(compiled: CompiledSchedule, part: Input, setting: Setting) -> Iterator[str]:
    """What goes on once a control that was held until nothing changed any more is let go, and for how long."""
    number = compiled.schedule.inputs.index(part)
    if not any(compiled.gates.support[timer] >> number & 1 for timer in compiled.gates.timers):
        return
    run = Run.wake(compiled, AT_REST)
    _wait_out(run)
    dark = {outcome.channel: outcome.shows for outcome in run.outcomes()}
    run.set(setting)
    _wait_out(run)
    run.set(AT_REST)
    let_go_ms = run.now_ms
    lit: dict[tuple[str, str], int] = {}
    for _ in range(_MOST_EVENTS):
        for channel, outcome in zip(compiled.schedule.channels, run.outcomes(), strict=True):
            if outcome.shows != dark[channel.key]:
                lit.setdefault((channel.key, shown_words(compiled, outcome.shows, channel.kind)), run.now_ms)
        over = [one for one in lit if one not in _shown(compiled, run)]
        for key, shown in over:
            since_ms = lit.pop((key, shown)) - let_go_ms
            after = f" after {print_duration(since_ms)}" if since_ms else ""
            yield f"{print_name(key)}: {shown} for {print_duration(run.now_ms - let_go_ms - since_ms)}{after}"
        event_ms = run.next_event_ms()
        if event_ms is None:
            break
        run.advance(event_ms)


def _shown(compiled: CompiledSchedule, run: Run) -> set[tuple[str, str]]:
    shown = zip(compiled.schedule.channels, run.outcomes(), strict=True)
    return {(channel.key, shown_words(compiled, outcome.shows, channel.kind)) for channel, outcome in shown}


def _wait_out(run: Run) -> None:
    """Wait until no timer runs any more; two that start each other are left after a while."""
    for _ in range(_MOST_EVENTS):
        event_ms = run.next_event_ms()
        if event_ms is None:
            break
        run.advance(event_ms)


def _line(compiled: CompiledSchedule, rule: Rule) -> ChartLine:
    return ChartLine(
        does=f"{listed(map(print_name, rule.targets))} {_does(compiled, rule)}",
        when=print_condition(rule.condition),
        rule=rule.key,
    )


def _asks_for(rule: Rule, part: Input, value: str) -> bool:
    """Whether a rule reads the control, this value is on the side that lets it hold, and it can hold with it there."""
    if not any(isinstance(leaf, InputIs) and leaf.input == part.key for leaf in leaves(rule.condition)):
        return False
    return (
        _furthers(rule.condition, part.key, value, wanted=True) and _truth(rule.condition, part.key, value) is not False
    )


def _stops(rule: Rule, part: Input, value: str) -> bool:
    """Whether a term of the rule that reads the control wants it at rest, and none wants it here."""
    at_rest, here = (_furthers(rule.condition, part.key, place, wanted=True) for place in (part.rest, value))
    return at_rest and not here


def _furthers(condition: Condition, key: str, value: str, *, wanted: bool) -> bool:
    """Whether some term that reads the control comes out as the whole wants it; ``not`` turns round what is wanted."""
    if isinstance(condition, InputIs):
        return condition.input == key and ((value in condition.values) != condition.negated) is wanted
    if isinstance(condition, Not):
        wanted = not wanted
    return any(_furthers(term, key, value, wanted=wanted) for term in children(condition))


def _truth(condition: Condition, key: str, value: str) -> bool | None:
    """What a condition comes to with the control there and nothing else known; None where that leaves it open."""
    match condition:
        case InputIs(input=read, values=values, negated=negated):
            return ((value in values) != negated) if read == key else None
        case Not(term=term):
            truth = _truth(term, key, value)
            return None if truth is None else not truth
        case AllOf(terms=terms):
            truths = [_truth(term, key, value) for term in terms]
            return False if False in truths else None if None in truths else True
        case AnyOf(terms=terms):
            truths = [_truth(term, key, value) for term in terms]
            return True if True in truths else None if None in truths else False
        case ForAtLeast(term=term) | ForAtMost(term=term):
            return False if _truth(term, key, value) is False else None
        case _:
            return None  # a timed window holds by what was so before


def _does(compiled: CompiledSchedule, rule: Rule) -> str:
    members = {one.key: one.channels for one in compiled.schedule.sets}
    touched = {key for target in rule.targets for key in members.get(target, (target,))}
    kinds = (one.kind for one in compiled.schedule.channels if one.key in touched)
    said = {EffectKind.INHIBIT: "held off", EffectKind.RELEASE: "let go", EffectKind.OFF: still_word(kinds)}
    return said.get(rule.effect.kind, print_effect(rule.effect))
