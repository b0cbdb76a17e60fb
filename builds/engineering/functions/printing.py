"""
Values to text, in one spelling: what is printed reads back as the same values, and prints the same again.

A bare name says "is on"; parentheses stand wherever one kind of term holds another.
"""

import re
from collections.abc import Callable
from decimal import Decimal

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
from builds.engineering.functions.patterns import FlashPattern, FlashStep
from builds.engineering.functions.schedule import (
    Channel,
    ChannelSet,
    Claim,
    Effect,
    FunctionSchedule,
    GatewaySource,
    Given,
    Head,
    Input,
    Rule,
    WireSource,
)
from builds.engineering.functions.vocabulary import (
    LOST,
    ON,
    ActiveLevel,
    ChannelJob,
    Colour,
    DimMethod,
    EffectKind,
    Facing,
    FailState,
    InputKind,
    Level,
    OutputState,
    Quantifier,
    SignalMeaning,
    SwitchedSide,
)

__all__ = [
    "print_condition",
    "print_duration",
    "print_name",
    "print_schedule",
    "print_statement",
    "print_title",
]

_BARE = re.compile(r"[A-Za-z][A-Za-z0-9]*([-_][A-Za-z0-9]+)*")
_CONDITION_WORDS = ("and", "or", "not", "is", "one", "of", "for", "at", "least", "most", "after", "any", "all", "none")
_RULE_WORDS = ("then", "when", "if", "on", "off", "steady", "flash", "dim", "inhibit", "release")
_STATES = frozenset((LOST, *OutputState))
_WORDS = frozenset((*_CONDITION_WORDS, *_RULE_WORDS, *_STATES))


def print_name(name: str) -> str:
    """
    Return a name as a rule writes it: bare where it can be, else in quotation marks.

    Parameters
    ----------
    name : str
        A key of the schedule.

    Examples
    --------
    >>> print_name("rear-red"), print_name("turn left"), print_name("after")
    ('rear-red', '"turn left"', '"after"')
    """
    return name if _BARE.fullmatch(name) and name not in _WORDS else f'"{name}"'


def print_title(name: str) -> str:
    """Return the name of a rule, claim, given, pattern or head, which stands where no word after "is" does: bare where it can be."""
    return name if name in _STATES and name not in _RULE_WORDS else print_name(name)


def print_value(value: str) -> str:
    """Return a position or a word after "is": bare where it can be."""
    return value if _BARE.fullmatch(value) and value not in {"not", "one"} else f'"{value}"'


def print_duration(duration_ms: int) -> str:
    """
    Return a time in the largest unit that keeps it short.

    Parameters
    ----------
    duration_ms : int
        Milliseconds.

    Examples
    --------
    >>> print_duration(600_000), print_duration(1500), print_duration(250)
    ('10 min', '1.5 s', '250 ms')
    """
    if duration_ms % 60_000 == 0:
        return f"{duration_ms // 60_000} min"
    if duration_ms % 100 == 0 and duration_ms >= 1000:
        return f"{duration_ms / 1000:g} s"
    return f"{duration_ms} ms"


def _number(value: float) -> str:
    """A figure as short as reads back the same; never with an exponent, which the language has not."""
    return format(Decimal(repr(value)).normalize(), "f")


def print_condition(condition: Condition) -> str:  # noqa: PLR0911 - one return per kind of term
    """
    Return a condition as text.

    Parameters
    ----------
    condition : Condition
        A tree.

    Examples
    --------
    >>> print_condition(AllOf(terms=(InputIs(input="brake"), Not(term=InputIs(input="mode", values=("off",))))))
    'brake and not mode is off'
    """
    match condition:
        case InputIs():
            return _input(condition)
        case OutputIs():
            return _output(condition)
        case Not(term=term):
            return f"not {_inside(term)}"
        case AllOf(terms=terms):
            return " and ".join(map(_joined, terms))
        case AnyOf(terms=terms):
            return " or ".join(map(_joined, terms))
        case ForAtLeast(term=term, duration_ms=duration_ms):
            return f"{_inside(term)} for at least {print_duration(duration_ms)}"
        case ForAtMost(term=term, duration_ms=duration_ms):
            return f"{_inside(term)} for at most {print_duration(duration_ms)}"
        case After(term=term, duration_ms=duration_ms):
            return f"at most {print_duration(duration_ms)} after {_inside(term)}"


def _inside(condition: Condition) -> str:
    """A part of not or of a timer: only leaves and further nots go without parentheses."""
    text = print_condition(condition)
    return text if isinstance(condition, InputIs | OutputIs | Not) else f"({text})"


def _joined(condition: Condition) -> str:
    text = print_condition(condition)
    return f"({text})" if isinstance(condition, AllOf | AnyOf) else text


def _input(read: InputIs) -> str:
    name, negation = print_name(read.input), " not" if read.negated else ""
    if read.values == (ON,) and not read.negated:
        return name
    if len(read.values) == 1:
        return f"{name} is{negation} {print_value(read.values[0])}"
    return f"{name} is{negation} one of {', '.join(map(print_value, read.values))}"


def _output(read: OutputIs) -> str:
    quantifier = f"{read.quantifier} of " if read.quantifier is not Quantifier.ONE else ""
    pattern = f" {print_value(read.pattern)}" if read.pattern else ""
    return f"{quantifier}{print_name(read.target)} is{' not' if read.negated else ''} {read.state}{pattern}"


def print_statement(part: Input | Channel | Head | FlashPattern | ChannelSet | Rule | Given | Claim) -> str:
    """
    Return one part of a schedule as its statement.

    Parameters
    ----------
    part : Input, Channel, Head, FlashPattern, ChannelSet, Rule, Given or Claim
        What to print; what is at its default is left out, but a rule's fail state never is.
    """
    return _PRINTERS[type(part)](part)


def print_schedule(schedule: FunctionSchedule) -> str:
    """
    Return a whole schedule as text, one statement a line, families apart.

    Parameters
    ----------
    schedule : FunctionSchedule
        With every name looked up.
    """
    families: tuple[tuple[object, ...], ...] = (
        schedule.inputs,
        schedule.channels,
        schedule.heads,
        schedule.sets,
        schedule.patterns,
        schedule.givens,
        schedule.rules,
        schedule.claims,
    )
    blocks = ["\n".join(_PRINTERS[type(part)](part) for part in family) for family in families if family]
    return "\n\n".join(blocks) + "\n"


def _print_input(part: Input) -> str:
    words: list[str] = [part.kind.value]
    if part.kind.has_positions:
        words.append(", ".join(map(print_value, part.positions)))
    means = [f"meaning {part.means}"] if part.means is not SignalMeaning.OTHER else []
    clauses = [" ".join([*words, *means])] if part.kind is InputKind.SIGNAL else [" ".join(words), *means]
    match part.source:
        case WireSource(pin=pin, active=active, blinking=blinking):
            level = " active low" if active is ActiveLevel.LOW else ""
            clauses.append(f"wire {print_value(pin)}{level}{' blinking' if blinking else ''}")
        case GatewaySource(message=message, rate_hz=rate_hz, asleep=asleep):
            clauses.append(
                f"gateway {print_value(message)}, {_number(rate_hz)} per second, asleep {print_value(asleep)}"
            )
    if part.hold_ms is not None:
        clauses.append(f"held {print_duration(part.hold_ms)}")
    if part.rest != part.stands[0]:
        clauses.append(f"rest {print_value(part.rest)}")
    return f"input {print_name(part.key)}: {'; '.join(clauses)}"


def _print_channel(part: Channel) -> str:
    clauses = [part.kind.value]
    if part.side is SwitchedSide.BRIDGE:
        clauses.append("bridge")
    elif part.side is not SwitchedSide.HIGH:
        clauses.append(f"{part.side} side")
    said = (
        ("zone", part.zone, ""),
        ("facing", part.facing, Facing.NONE),
        ("level", part.level, Level.NONE),
        ("colour", part.colour, Colour.NONE),
        ("load", part.load, ""),
    )
    clauses += [f"{word} {print_value(value)}" for word, value, default in said if value != default]
    if part.current_a:
        clauses.append(f"{_number(part.current_a)} A")
    if part.job is not ChannelJob.OTHER:
        clauses.append(f"job {part.job}")
    return f"channel {print_name(part.key)}: {'; '.join(clauses)}"


def _print_head(part: Head) -> str:
    dims = "; dims by current" if part.dims_by is DimMethod.CURRENT else ""
    members = ", ".join(map(print_name, part.channels))
    most = f"; at most {_number(part.max_current_a)} A" if part.max_current_a else ""
    return f"head {print_title(part.key)}: {members}{most}; colours {part.colours}{dims}"


def _print_pattern(part: FlashPattern) -> str:
    limit = f"; limit {print_value(part.limit)}" if part.limit else ""
    return f"pattern {print_title(part.key)}: {', '.join(map(_print_step, part.steps))}{limit}"


def _print_step(step: FlashStep) -> str:
    state = {0: "off", 100: "on"}.get(step.level_percent, f"at {step.level_percent} %")
    return f"{print_duration(step.duration_ms)} {state}"


def _print_set(part: ChannelSet) -> str:
    return f"set {print_name(part.key)}: {', '.join(map(print_name, part.channels))}"


def _print_rule(part: Rule) -> str:
    fail = "applies" if part.fail is FailState.APPLIES else "does not apply"
    return (
        f"rule {print_title(part.key)} (priority {part.priority}): {', '.join(map(print_name, part.targets))} "
        f"{print_effect(part.effect)} when {print_condition(part.condition)}; if lost, {fail}"
    )


def print_effect(effect: Effect) -> str:
    """
    Return an effect as a rule writes it.

    Parameters
    ----------
    effect : Effect
        What a rule does.

    Examples
    --------
    >>> print_effect(Effect(kind=EffectKind.FLASH, pattern="double", sync="all", phase_ms=250))
    'flash double sync all phase 250 ms'
    """
    if effect.kind is EffectKind.DIM:
        return f"dim to {effect.level_percent} %"
    pattern = f" {print_value(effect.pattern)}" if effect.pattern else ""
    level = f" at {effect.level_percent} %" if effect.level_percent != 100 else ""
    sync = f" sync {print_value(effect.sync)}" if effect.sync else ""
    phase = f" phase {effect.phase_ms} ms" if effect.phase_ms else ""
    return f"{effect.kind}{pattern}{level}{sync}{phase}"


def _print_given(part: Given) -> str:
    return f"given {print_title(part.key)}: {print_condition(part.condition)}{_quoted('because', part.basis)}"


def _print_claim(part: Claim) -> str:
    then = f" then {print_condition(part.then)}" if part.then is not None else ""
    said = f"{part.kind} {print_condition(part.condition)}{then}"
    return f"claim {print_title(part.key)}: {said}{_quoted('because', part.basis)}{_quoted('ask', part.defers_to)}"


def _quoted(word: str, text: str) -> str:
    return f'; {word} "{text}"' if text else ""


_PRINTERS: dict[type, Callable[..., str]] = {
    Input: _print_input,
    Channel: _print_channel,
    Head: _print_head,
    FlashPattern: _print_pattern,
    ChannelSet: _print_set,
    Rule: _print_rule,
    Given: _print_given,
    Claim: _print_claim,
}
