"""The operator's chart: what each control does, in which condition, from the same rules that drive the lamps."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.conditions import InputIs, leaves
from builds.engineering.functions.evaluate import Outcome, evaluate
from builds.engineering.functions.printing import print_condition, print_effect, print_name
from builds.engineering.functions.schedule import Input, Rule
from builds.engineering.functions.settings import AT_REST, setting_of
from builds.engineering.functions.vocabulary import EffectKind, InputKind, SignalMeaning
from builds.engineering.functions.words import listed, shown_words

__all__ = ["ChartLine", "ChartRow", "operator_chart"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartLine:
    """A rule that reads the control at this value: what it does to which outputs, and what else has to be so."""

    does: str
    when: str
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """
    A control at one of its values.

    ``alone`` is what it lights with everything else at rest, in words, group by group; ``also`` the rules in which it
    plays a part together with something else.
    """

    control: str
    value: str
    by_hand: bool
    alone: tuple[str, ...]
    also: tuple[ChartLine, ...]


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
        In schedule order; a value at which a control does nothing and plays no part is left out.
    """
    rows = [row for part in compiled.schedule.inputs for row in _rows(compiled, part)]
    return tuple(sorted(rows, key=lambda row: not row.by_hand))


def _rows(compiled: CompiledSchedule, part: Input) -> Iterator[ChartRow]:
    dark = {outcome.channel: outcome for outcome in evaluate(compiled, AT_REST)}
    for value in part.stands:
        if value == part.rest:
            continue
        setting = setting_of(compiled.schedule, {part.key: value})
        changed = [outcome for outcome in evaluate(compiled, setting) if outcome.shows != dark[outcome.channel].shows]
        also = tuple(_lines(compiled, part, value))
        if changed or also:
            yield ChartRow(
                control=part.key,
                value=value,
                by_hand=part.kind is not InputKind.SIGNAL and part.means is SignalMeaning.OTHER,
                alone=tuple(_grouped(compiled, changed)),
                also=also,
            )


def _grouped(compiled: CompiledSchedule, outcomes: list[Outcome]) -> Iterator[str]:
    """Outputs that show the same named together, by the name of a set where they are just that set."""
    groups: dict[str, list[str]] = {}
    for outcome in outcomes:
        groups.setdefault(shown_words(compiled, outcome.shows), []).append(outcome.channel)
    sets = {frozenset(one.channels): one.key for one in compiled.schedule.sets}
    for shown, channels in groups.items():
        name = sets.get(frozenset(channels))
        who = print_name(name) if name else listed(map(print_name, channels))
        yield f"{who}: {shown}"


def _lines(compiled: CompiledSchedule, part: Input, value: str) -> Iterator[ChartLine]:
    for rule in compiled.schedule.rules:
        read = [leaf for leaf in leaves(rule.condition) if isinstance(leaf, InputIs) and leaf.input == part.key]
        others = [leaf for leaf in leaves(rule.condition) if leaf not in read]
        if others and any((value in leaf.values) != leaf.negated for leaf in read):
            yield ChartLine(
                does=f"{listed(map(print_name, rule.targets))} {_does(rule)}",
                when=print_condition(rule.condition),
                rule=rule.key,
            )


def _does(rule: Rule) -> str:
    said = {EffectKind.INHIBIT: "held off", EffectKind.RELEASE: "let go", EffectKind.OFF: "dark"}
    return said.get(rule.effect.kind, print_effect(rule.effect))
