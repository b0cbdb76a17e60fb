"""
What each channel shows, as gates.

Three layers decide: any rule that inhibits a channel cuts it; else the highest rule that holds drives it; what is lit is
then lowered to the ceiling of the highest dim rule that holds. In a head whose rule is ``first``, the first colour in its
order that is asked for is lit alone; in one whose rule is ``shared``, all that is lit is lowered alike until it keeps the
head's maximum. What somebody sees at the lamp is an :class:`Appearance`; two rules that show the same are not told apart by
looking.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.conditions import OutputIs
from builds.engineering.functions.gates import FALSE, TRUE, Gates, Literal
from builds.engineering.functions.head_sharing import SharedHead, shared_heads, shared_ratio
from builds.engineering.functions.patterns import FlashStep
from builds.engineering.functions.schedule import Effect
from builds.engineering.functions.vocabulary import (
    ChannelJob,
    EffectKind,
    HeadRule,
    OutputState,
    Quantifier,
)

__all__ = [
    "DARK",
    "FOLLOWS_VEHICLE",
    "Appearance",
    "ChannelLogic",
    "appearance_of",
    "channel_logics",
    "differ",
    "lowered_to",
    "output_literal",
    "ratio_left",
    "shared_heads_of",
    "shared_logics",
    "shown_undriven",
]

_REQUIRED_LAMPS = frozenset(
    {
        ChannelJob.STOP_LAMP,
        ChannelJob.TAIL_LAMP,
        ChannelJob.TURN_LEFT_LAMP,
        ChannelJob.TURN_RIGHT_LAMP,
        ChannelJob.REVERSE_LAMP,
        ChannelJob.HEADLAMP,
    }
)


@dataclass(frozen=True, slots=True)
class Appearance:
    """
    What a channel shows: dark, what the vehicle asks of it, steady, or a flash (by its steps, clock and phase).

    ``level_percent`` is what is seen, dimmed and lowered by its head; a whole figure but for what a head lowers.
    """

    level_percent: float
    steps: tuple[FlashStep, ...] = ()
    sync: str = ""
    phase_ms: int = 0
    follows_vehicle: bool = False


DARK = Appearance(0)
FOLLOWS_VEHICLE = Appearance(0, follows_vehicle=True)


@dataclass(frozen=True, slots=True)
class ChannelLogic:
    """
    The gates of one channel.

    ``wins`` has one literal per drive rule of the channel, in rank order: it holds and none above it does. ``dims`` the
    same for dim rules. ``shows`` gives where each appearance is shown; exactly one is at any time.
    """

    wins: tuple[tuple[int, Literal], ...]
    dims: tuple[tuple[int, Literal], ...]
    cut: Literal
    displaced: Literal
    lit: Literal
    shows: dict[Appearance, Literal]


def shown_undriven(job: ChannelJob) -> Appearance:
    """Return what a channel shows while no rule drives it: a required lamp does what the vehicle asks of it."""
    return FOLLOWS_VEHICLE if job in _REQUIRED_LAMPS else DARK


def appearance_of(compiled: CompiledSchedule, effect: Effect, ceiling_percent: int) -> Appearance:
    """
    Return what an effect shows under a ceiling of brightness.

    Parameters
    ----------
    compiled : CompiledSchedule
        Gives the steps behind the pattern's name.
    effect : Effect
        Of a drive rule.
    ceiling_percent : int
        100 where nothing dims.
    """
    level = min(effect.level_percent, ceiling_percent)
    match effect.kind:
        case EffectKind.STEADY:
            return Appearance(level)
        case EffectKind.FLASH:
            pattern = next(one for one in compiled.schedule.patterns if one.key == effect.pattern)
            return Appearance(level, pattern.steps, effect.sync, effect.phase_ms % pattern.period_ms)
        case _:
            return DARK


def lowered_to(look: Appearance, left_ratio: float) -> Appearance:
    """
    Return a look lowered to a part of its level.

    Parameters
    ----------
    look : Appearance
        As asked for.
    left_ratio : float
        The part that is left, above 0, at most 1. [1]

    Returns
    -------
    Appearance
        Its level kept to six places, so that the same level is the same look.
    """
    if left_ratio == 1 or not look.level_percent:
        return look
    return replace(look, level_percent=round(look.level_percent * left_ratio, 6))


def shared_heads_of(compiled: CompiledSchedule) -> tuple[SharedHead, ...]:
    """Return the heads that lower their colours; found once."""
    made = compiled.cache.get("shared_heads")
    if made is None:
        made = compiled.cache["shared_heads"] = shared_heads(compiled.schedule)
    assert isinstance(made, tuple)
    return made


def ratio_left(compiled: CompiledSchedule, head: SharedHead, looks: Sequence[Appearance]) -> float:
    """Return the part of its level that a shared head leaves each of its colours that asks to look so; worked out once."""
    key = (head, tuple(looks))
    made = compiled.cache.get(key)
    if made is None:
        channels = compiled.schedule.channels
        lit = [
            (look.steps, look.phase_ms, look.sync, channels[member].current_a * look.level_percent / 100)
            for member, look in zip(head.members, looks, strict=True)
            if look.level_percent
        ]
        made = compiled.cache[key] = shared_ratio(lit, max_current_a=head.max_current_a)
    assert isinstance(made, float)
    return made


def channel_logics(compiled: CompiledSchedule) -> tuple[ChannelLogic, ...]:
    """Return the gates of every channel, in schedule order; made once."""
    made = compiled.cache.get("channel_logics")
    if made is None:
        made = compiled.cache["channel_logics"] = _channel_logics(compiled)
    assert isinstance(made, tuple)
    return made


def _channel_logics(compiled: CompiledSchedule) -> tuple[ChannelLogic, ...]:
    everyone = range(len(compiled.channels))
    asked = [_asked(compiled, number) for number in everyone]
    displaced = _displaced(compiled, asked)
    logics = [_logic(compiled, number, asked[number], displaced[number]) for number in everyone]
    for head in shared_heads_of(compiled):
        for member, logic in zip(head.members, shared_logics(compiled, head), strict=True):
            logics[member] = logic
    return tuple(logics)


def shared_logics(compiled: CompiledSchedule, head: SharedHead) -> tuple[ChannelLogic, ...]:
    """Return the gates of the channels of a shared head, in its order, from where the rules now hold."""
    logics = [_logic(compiled, member, _asked(compiled, member), FALSE) for member in head.members]
    channels = compiled.schedule.channels
    full_a = sum(
        channels[member].current_a * max(look.level_percent for look in logic.shows) / 100
        for member, logic in zip(head.members, logics, strict=True)
    )
    if full_a <= head.max_current_a:
        return tuple(logics)
    found: list[dict[Appearance, list[Literal]]] = [{} for _ in logics]
    for looks, where in _met(compiled.gates, logics):
        ratio = ratio_left(compiled, head, looks)
        for place, look in enumerate(looks):
            found[place].setdefault(lowered_to(look, ratio), []).append(where)
    any_of = compiled.gates.any_of
    return tuple(
        replace(
            logic,
            shows={
                **{look: shown for look, shown in logic.shows.items() if not look.level_percent},
                **{look: any_of(literals) for look, literals in own.items() if look.level_percent},
            },
        )
        for logic, own in zip(logics, found, strict=True)
    )


def _met(gates: Gates, logics: Sequence[ChannelLogic]) -> list[tuple[tuple[Appearance, ...], Literal]]:
    """Every way in which channels can look together, and where; what is not lit is one look."""
    met: list[tuple[tuple[Appearance, ...], Literal]] = [((), TRUE)]
    for logic in logics:
        options = [(DARK, -logic.lit), *((look, shown) for look, shown in logic.shows.items() if look.level_percent)]
        met = [
            ((*looks, look), together)
            for looks, where in met
            for look, shown in options
            if (together := gates.all_of((where, shown))) != FALSE
        ]
    return met


def _asked(compiled: CompiledSchedule, number: int) -> Literal:
    """Where a channel is asked to be lit."""
    wins = _winners(compiled, compiled.channels[number].drives)
    lit = compiled.gates.any_of(win for rule, win in wins if _lights(compiled, rule))
    return compiled.gates.all_of((-_cut(compiled, number), lit))


def _cut(compiled: CompiledSchedule, number: int) -> Literal:
    return compiled.gates.any_of(compiled.holds[rule] for rule in compiled.channels[number].cuts)


def _logic(compiled: CompiledSchedule, number: int, asked: Literal, displaced: Literal) -> ChannelLogic:
    """The gates of one channel before a shared head lowers it."""
    rules = compiled.channels[number]
    wins, dims = tuple(_winners(compiled, rules.drives)), tuple(_winners(compiled, rules.dims))
    cut, lit = _cut(compiled, number), compiled.gates.all_of((asked, -displaced))
    undriven = shown_undriven(compiled.schedule.channels[number].job)
    shows = _shows(compiled, wins, dims, cut, lit, undriven)
    return ChannelLogic(wins, dims, cut, displaced, lit, shows)


def _winners(compiled: CompiledSchedule, ranked: Iterable[int]) -> Iterator[tuple[int, Literal]]:
    none_above = TRUE
    for rule in ranked:
        holds = compiled.holds[rule]
        yield rule, compiled.gates.all_of((holds, none_above))
        none_above = compiled.gates.all_of((none_above, -holds))


def _lights(compiled: CompiledSchedule, rule: int) -> bool:
    return compiled.schedule.rules[rule].effect.kind in (EffectKind.STEADY, EffectKind.FLASH)


def _displaced(compiled: CompiledSchedule, asked: list[Literal]) -> list[Literal]:
    numbers = {channel.key: number for number, channel in enumerate(compiled.schedule.channels)}
    displaced = [FALSE] * len(asked)
    for head in compiled.schedule.heads:
        if head.colours is HeadRule.FIRST:
            members = [numbers[channel] for channel in head.channels]
            for place, member in enumerate(members):
                displaced[member] = compiled.gates.any_of(asked[earlier] for earlier in members[:place])
    return displaced


def _shows(
    compiled: CompiledSchedule,
    wins: tuple[tuple[int, Literal], ...],
    dims: tuple[tuple[int, Literal], ...],
    cut: Literal,
    lit: Literal,
    undriven: Appearance,
) -> dict[Appearance, Literal]:
    gates, rules = compiled.gates, compiled.schedule.rules
    found: dict[Appearance, list[Literal]] = {}
    undimmed = gates.all_of(-win for _, win in dims)
    ceilings = [(100, undimmed), *((rules[rule].effect.level_percent, win) for rule, win in dims)]
    for rule, win in wins:
        if _lights(compiled, rule):
            for ceiling, dimmed in ceilings:
                appearance = appearance_of(compiled, rules[rule].effect, ceiling)
                found.setdefault(appearance, []).append(gates.all_of((lit, win, dimmed)))
    shows = {appearance: gates.any_of(literals) for appearance, literals in found.items()}
    if undriven == DARK:
        return {DARK: -lit, **shows}
    follows = gates.any_of((cut, gates.all_of(-win for _, win in wins)))
    return {DARK: gates.all_of((-lit, -follows)), undriven: follows, **shows}


def differ(gates: Gates, one: dict[Appearance, Literal], other: dict[Appearance, Literal]) -> Literal:
    """Return where two channels do not show the same."""
    return gates.any_of(gates.all_of((shown, -other.get(appearance, FALSE))) for appearance, shown in one.items())


def output_literal(compiled: CompiledSchedule, read: OutputIs) -> Literal:
    """Return where a claim's term about outputs is true; ``negated`` is left to the caller."""
    gates = compiled.gates
    numbers = {channel.key: number for number, channel in enumerate(compiled.schedule.channels)}
    logics = channel_logics(compiled)
    members = [numbers[key] for key in compiled.names.members(read.target)]
    literals = [_state(compiled, logics[member], read) for member in members]
    match read.quantifier:
        case Quantifier.ANY:
            return gates.any_of(literals)
        case Quantifier.NONE:
            return -gates.any_of(literals)
        case _:
            return gates.all_of(literals)


def _state(compiled: CompiledSchedule, logic: ChannelLogic, read: OutputIs) -> Literal:
    gates, rules = compiled.gates, compiled.schedule.rules
    match read.state:
        case OutputState.LIT:
            return logic.lit
        case OutputState.OFF:
            return -logic.lit
        case OutputState.CUT:
            return logic.cut
        case OutputState.DRIVEN:
            return gates.all_of((-logic.cut, gates.any_of(win for _, win in logic.wins)))
        case OutputState.DIMMED:
            return gates.any_of(shown for look, shown in logic.shows.items() if 0 < look.level_percent < 100)
        case OutputState.STEADY | OutputState.FLASHING:
            wanted = EffectKind.STEADY if read.state is OutputState.STEADY else EffectKind.FLASH
            winners = gates.any_of(
                win
                for rule, win in logic.wins
                if rules[rule].effect.kind is wanted and read.pattern in ("", rules[rule].effect.pattern)
            )
            return gates.all_of((logic.lit, winners))
