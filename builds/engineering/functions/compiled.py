"""
A schedule as gates: what each input does, when each rule holds, which rules meet on each channel.

A lost signal makes a term neither true nor false, so a condition has two literals: where it is *surely* true and where it
is *possibly* true. They differ only while lost signals leave it undecided. A rule that does not apply then holds where
its condition is surely true, a rule that applies then holds where it is possibly true; so each rule is one literal.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from builds.engineering.functions.conditions import (
    After,
    AllOf,
    AnyOf,
    Condition,
    ForAtLeast,
    ForAtMost,
    InputIs,
    Not,
    OutputIs,
)
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.gates import Gates, Literal
from builds.engineering.functions.names import Names, names_of
from builds.engineering.functions.resolving import resolve_schedule
from builds.engineering.functions.schedule import FunctionSchedule, Input, Rule
from builds.engineering.functions.vocabulary import LOST, OFF, ON, EffectKind, FailState, InputKind

__all__ = [
    "ChannelRules",
    "CompiledSchedule",
    "LeafLiteral",
    "Leaves",
    "channel_rules",
    "compile_resolved",
    "compile_schedule",
    "condition_literal",
    "input_leaf",
    "input_literal",
    "new_leaves",
    "rule_literal",
]

LeafLiteral = Callable[[InputIs | OutputIs, bool], Literal]

_LAYERS = {EffectKind.DIM: "dims", EffectKind.INHIBIT: "cuts"}


@dataclass(frozen=True, slots=True)
class Leaves:
    """The literals of one input: one per value, lost last. Exactly one of them is true."""

    number: int
    values: tuple[str, ...]
    literals: tuple[Literal, ...]
    rest: str

    def literal(self, value: str) -> Literal:
        """Return the literal of "has this value"."""
        return self.literals[self.values.index(value)]


@dataclass(frozen=True, slots=True)
class ChannelRules:
    """Numbers of the rules that meet on a channel, highest priority first and schedule order among equals."""

    drives: tuple[int, ...]
    cuts: tuple[int, ...]
    dims: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CompiledSchedule:
    """
    A schedule with its gates.

    ``holds`` has one literal per rule, ``channels`` one entry per channel, in schedule order. ``releases`` pairs numbers
    of rules with numbers of the latching inputs they let go. ``allowed`` is true where no given is broken, ``stable``
    where no latching button is on that a rule lets go. ``reads`` are the leaves as rules and claims read them, by the key
    of the input: those of an input that is held stay on for its hold time, by a timer.
    """

    schedule: FunctionSchedule
    gates: Gates
    names: Names
    leaves: tuple[Leaves, ...]
    holds: tuple[Literal, ...]
    channels: tuple[ChannelRules, ...]
    releases: tuple[tuple[int, int], ...]
    allowed: Literal
    stable: Literal
    reads: Mapping[str, Leaves] = field(default_factory=dict)
    cache: dict[object, object] = field(default_factory=dict)

    @property
    def possible(self) -> Literal:
        """True in every state the vehicle can rest in for a moment."""
        return self.gates.all_of((self.allowed, self.stable))

    def leaves_of(self, key: str) -> Leaves:
        """Return the leaves of an input by its key."""
        for part, leaves in zip(self.schedule.inputs, self.leaves, strict=True):
            if part.key == key:
                return leaves
        raise KeyError(key)


def compile_schedule(
    schedule: FunctionSchedule, *, gates: Gates | None = None, leaves: dict[str, Leaves] | None = None
) -> CompiledSchedule:
    """
    Return a schedule as gates.

    Parameters
    ----------
    schedule : FunctionSchedule
        With names as declared or as written.
    gates, leaves : optional
        A graph and the leaves of inputs by key to build on, so that two schedules share them.

    Returns
    -------
    CompiledSchedule
        Ready to be evaluated, proved and tested.

    Raises
    ------
    LanguageError
        If a name stands for nothing.
    """
    resolved, faults = resolve_schedule(schedule)
    if faults:
        raise LanguageError(faults)
    return compile_resolved(resolved, gates=gates, leaves=leaves)


def compile_resolved(
    schedule: FunctionSchedule, *, gates: Gates | None = None, leaves: dict[str, Leaves] | None = None
) -> CompiledSchedule:
    """Return a schedule as gates whose names were all looked up before."""
    gates = Gates() if gates is None else gates
    by_key = {} if leaves is None else leaves
    own = tuple(_leaves(gates, by_key, part) for part in schedule.inputs)
    reads = {part.key: _as_read(gates, leaves_, part) for part, leaves_ in zip(schedule.inputs, own, strict=True)}
    holds = tuple(rule_literal(gates, reads, rule) for rule in schedule.rules)
    releases = tuple(_releases(schedule))
    names = names_of(schedule)
    return CompiledSchedule(
        schedule=schedule,
        gates=gates,
        names=names,
        leaves=own,
        holds=holds,
        channels=channel_rules(schedule, names),
        releases=releases,
        allowed=gates.all_of(input_literal(gates, by_key, given.condition, surely=False) for given in schedule.givens),
        stable=gates.all_of(-gates.all_of((own[latch].literal(ON), holds[rule])) for rule, latch in releases),
        reads=reads,
    )


def _leaves(gates: Gates, by_key: dict[str, Leaves], part: Input) -> Leaves:
    if part.key not in by_key:
        by_key[part.key] = new_leaves(gates, number=len(by_key), values=part.values, rest=part.rest)
    return by_key[part.key]


def new_leaves(gates: Gates, *, number: int, values: tuple[str, ...], rest: str) -> Leaves:
    """Return fresh leaves for an input; something that is on or off needs two, for it is off when neither on nor lost."""
    if values == (OFF, ON, LOST):
        on, lost = gates.leaf(number), gates.leaf(number)
        literals: tuple[Literal, ...] = (gates.all_of((-on, -lost)), on, lost)
    else:
        literals = tuple(gates.leaf(number) for _ in values)
    return Leaves(number, values, literals, rest)


def _as_read(gates: Gates, leaves: Leaves, part: Input) -> Leaves:
    """
    Return the leaves of an input as rules read it: on for its hold time after it last was, unless it is lost.

    Givens read the source itself: they say what the vehicle does, not what the module makes of it.
    """
    if part.hold_ms is None:
        return leaves
    lost = leaves.literal(LOST)
    over = gates.timer(-leaves.literal(ON), duration_ms=part.hold_ms, starts_done=True)
    held = {OFF: gates.all_of((over, -lost)), ON: gates.all_of((-over, -lost)), LOST: lost}
    return Leaves(leaves.number, leaves.values, tuple(held[value] for value in leaves.values), leaves.rest)


def rule_literal(gates: Gates, by_key: Mapping[str, Leaves], rule: Rule) -> Literal:
    """Return where a rule holds."""
    return input_literal(gates, by_key, rule.condition, surely=rule.fail is FailState.DOES_NOT_APPLY)


def input_literal(gates: Gates, by_key: Mapping[str, Leaves], condition: Condition, *, surely: bool) -> Literal:
    """Return where a condition over inputs is surely true, or where it is possibly true."""

    def leaf(part: InputIs | OutputIs, sure: bool) -> Literal:
        assert isinstance(part, InputIs), "rules and givens read inputs only"
        return input_leaf(gates, by_key, part, sure)

    return condition_literal(gates, condition, leaf, surely=surely)


def condition_literal(gates: Gates, condition: Condition, leaf: LeafLiteral, *, surely: bool) -> Literal:
    """
    Return where a condition is surely true, or where it is possibly true, given the literals of its leaves.

    ``for at most`` holds while its term does and a delay of the same length has not run out; ``after`` is the time in
    which the term's opposite has not yet held that long, seen from a module that wakes with all run-ons over.
    """

    def of(part: Condition, sure: bool) -> Literal:  # noqa: PLR0911 - one return per kind of term
        match part:
            case InputIs() | OutputIs():
                return -leaf(part, not sure) if part.negated else leaf(part, sure)
            case Not(term=term):
                return -of(term, not sure)
            case AllOf(terms=terms):
                return gates.all_of(of(term, sure) for term in terms)
            case AnyOf(terms=terms):
                return gates.any_of(of(term, sure) for term in terms)
            case ForAtLeast(term=term, duration_ms=duration_ms):
                return gates.timer(of(term, sure), duration_ms=duration_ms)
            case ForAtMost(term=term, duration_ms=duration_ms):
                return gates.all_of((of(term, sure), -gates.timer(of(term, not sure), duration_ms=duration_ms)))
            case After(term=term, duration_ms=duration_ms):
                over = gates.timer(-of(term, sure), duration_ms=duration_ms, starts_done=True)
                return gates.all_of((-of(term, not sure), -over))

    return of(condition, surely)


def input_leaf(gates: Gates, by_key: Mapping[str, Leaves], read: InputIs, surely: bool) -> Literal:
    """Return where an input surely, or possibly, has one of the values read; ``negated`` is left to the caller."""
    leaves = by_key[read.input]
    literals = [leaves.literal(value) for value in read.values]
    if not surely and LOST not in read.values:
        literals.append(leaves.literal(LOST))
    return gates.any_of(literals)


def _releases(schedule: FunctionSchedule) -> Iterable[tuple[int, int]]:
    latches = {part.key: number for number, part in enumerate(schedule.inputs) if part.kind is InputKind.LATCHING}
    for number, rule in enumerate(schedule.rules):
        if rule.effect.kind is EffectKind.RELEASE:
            yield from ((number, latches[target]) for target in rule.targets)


def channel_rules(schedule: FunctionSchedule, names: Names) -> tuple[ChannelRules, ...]:
    """Return for each channel the rules that meet on it, in rank order."""
    numbers = {channel.key: number for number, channel in enumerate(schedule.channels)}
    layers: dict[str, list[list[int]]] = {
        layer: [[] for _ in schedule.channels] for layer in ("drives", "cuts", "dims")
    }
    ranked = sorted(range(len(schedule.rules)), key=lambda number: (-schedule.rules[number].priority, number))
    for number in ranked:
        rule = schedule.rules[number]
        if rule.effect.kind is EffectKind.RELEASE:
            continue
        layer = layers[_LAYERS.get(rule.effect.kind, "drives")]
        for channel in dict.fromkeys(member for target in rule.targets for member in names.members(target)):
            layer[numbers[channel]].append(number)
    return tuple(
        ChannelRules(tuple(drives), tuple(cuts), tuple(dims))
        for drives, cuts, dims in zip(layers["drives"], layers["cuts"], layers["dims"], strict=True)
    )
