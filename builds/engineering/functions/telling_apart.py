"""
Looks that tell every two outputs apart, and that notice every input that is stuck.

A wire on the wrong terminal is two outputs exchanged; a cut wire, a dead button or a shorted one is an input that always
says the same. Two outputs that show the same in every state cannot be told apart by looking, and an input that never
matters cannot be missed: those are left out, as the solver proves.
"""

from collections.abc import Sequence

from builds.engineering.functions.appearances import Appearance, channel_logics, differ
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.covering import PlanSpace
from builds.engineering.functions.gates import FALSE, TRUE, Literal, TimersReplaced, Values
from builds.engineering.functions.goals import button_seen
from builds.engineering.functions.letting_go import left_on, letting_nothing_go
from builds.engineering.functions.looks import Batch, Look, rows_of_settings
from builds.engineering.functions.proof import Counterexample, SpaceInUse, Verdict, find_state
from builds.engineering.functions.reachable import Trace

__all__ = [
    "add_apart",
    "add_stuck",
    "alike_in_time",
    "every_stuck",
    "look_rows",
    "shown_rows",
    "stuck_literal",
    "told_by_stuck",
    "unheeded_in_time",
    "unnoticed_stuck",
]

Stuck = tuple[int, int]  # number of the input, number of the value it is stuck at


def add_apart(compiled: CompiledSchedule, looks: list[Look], space: PlanSpace) -> list[tuple[int, ...]]:
    """
    Add looks until every two outputs that a look can tell apart are; return groups of those that no look does.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    looks : list of Look
        Grows.
    space : PlanSpace
        Of the schedule.
    """
    logics = channel_logics(compiled)
    same = {channel: channel for channel in range(len(logics))}  # the first channel that always shows the same
    groups = _split([list(same)], compiled, looks)
    while groups:
        one, *others = groups.pop()
        other = next((channel for channel in others if same[channel] != same[one]), None)
        if other is None:
            continue
        look = space.witness((differ(compiled.gates, logics[one].shows, logics[other].shows),))
        if look is None:
            same[other] = same[one]
            groups.append([one, *(channel for channel in others if channel != other)])
        else:
            looks.append(look)
            groups = _split([*groups, [one, *others]], compiled, [look])
    alike: dict[int, list[int]] = {}
    for channel, first in same.items():
        alike.setdefault(first, []).append(channel)
    return [tuple(group) for group in alike.values() if len(group) > 1]


def _split(groups: list[list[int]], compiled: CompiledSchedule, looks: Sequence[Look]) -> list[list[int]]:
    """The groups parted into channels that show the same at every one of these looks; single ones dropped."""
    shown = shown_rows(compiled, looks)
    parted: list[list[int]] = []
    for group in groups:
        alike: dict[frozenset[tuple[Appearance, int]], list[int]] = {}
        for channel in group:
            key = frozenset((look, row) for look, row in shown[channel].items() if row)
            alike.setdefault(key, []).append(channel)
        parted += (members for members in alike.values() if len(members) > 1)
    return parted


def shown_rows(compiled: CompiledSchedule, looks: Sequence[Look]) -> list[dict[Appearance, int]]:
    """Return for each channel by what it shows the looks at which it does, as :func:`look_rows` orders them."""
    literals = [literal for logic in channel_logics(compiled) for literal in logic.shows.values()]
    rows = look_rows(compiled, looks, literals)
    return [{look: rows[literal] for look, literal in logic.shows.items()} for logic in channel_logics(compiled)]


def look_rows(compiled: CompiledSchedule, looks: Sequence[Look], literals: Sequence[Literal]) -> dict[Literal, int]:
    """Return for each literal the looks at which it holds: a bit for each settled look, then for each other one."""
    gates = compiled.gates.cone([*literals, compiled.possible])
    settled = [look.numbers for look in looks if look.before is None]
    changes = [(look.before, look.numbers) for look in looks if look.before is not None]
    rows = dict.fromkeys(literals, 0)
    if settled:
        values = rows_of_settings(compiled, settled).settled(compiled, gates)
        rows = {literal: values[literal] for literal in literals}
    if changes:
        earlier, later = (rows_of_settings(compiled, side) for side in zip(*changes, strict=True))
        values = later.after(compiled, earlier, gates)
        rows = {literal: rows[literal] | values[literal] << len(settled) for literal in literals}
    return rows


def alike_in_time(
    spaces: SpaceInUse, groups: Sequence[tuple[int, ...]]
) -> tuple[list[tuple[int, ...]], dict[tuple[int, int], Trace]]:
    """
    Return which outputs of these groups show the same in every reachable state, and sequences that tell two others apart.

    Parameters
    ----------
    spaces : SpaceInUse
        Of the schedule.
    groups : sequence of tuples of int
        Outputs that no look tells apart; two of them may differ while a timer runs.
    """
    logics, gates = channel_logics(spaces.compiled), spaces.compiled.gates
    alike: list[tuple[int, ...]] = []
    traces: dict[tuple[int, int], Trace] = {}
    waiting = list(groups)
    while waiting:
        first, *others = waiting.pop(0)
        same = [first]
        for other in others:
            literal = differ(gates, logics[first].shows, logics[other].shows)
            verdict, example = (Verdict.PROVED, None) if literal == FALSE else find_state(spaces, (literal,))
            if verdict is Verdict.PROVED:
                same.append(other)
            elif example is not None:
                traces[first, other] = example.trace
        alike += [tuple(same)] if len(same) > 1 else []
        rest = tuple(other for other in others if other not in same)
        waiting += [rest] if len(rest) > 1 else []
    return alike, traces


def unheeded_in_time(spaces: SpaceInUse, stuck: Sequence[Stuck]) -> tuple[list[Stuck], dict[Stuck, Trace]]:
    """
    Return which inputs may be stuck without any reachable state telling, and sequences that tell of the others.

    Parameters
    ----------
    spaces : SpaceInUse
        Of the schedule.
    stuck : sequence of (input, value)
        Inputs and values that no look notices.
    """
    unheeded: list[Stuck] = []
    traces: dict[Stuck, Trace] = {}
    for one in stuck:
        verdict, example = told_by_stuck(spaces, one)
        if verdict is Verdict.PROVED:
            unheeded.append(one)
        elif example is not None:
            traces[one] = example.trace
    return unheeded, traces


def told_by_stuck(spaces: SpaceInUse, stuck: Stuck) -> tuple[Verdict, Counterexample | None]:
    """
    Return whether anything tells that an input is stuck: PROVED where nothing does.

    Some output shows something else, which the smallest such state is returned for; or a button is let go otherwise that
    some output tells of, and no sequence is returned.
    """
    compiled = spaces.compiled
    literal = stuck_literal(compiled, stuck)
    verdict, example = (Verdict.PROVED, None) if literal == FALSE else find_state(spaces, (literal,))
    if verdict is Verdict.PROVED and compiled.releases:
        with SpaceInUse(letting_nothing_go(compiled)) as moments:
            verdict, _ = find_state(moments, (_let_go_otherwise(compiled, stuck),))
    return verdict, example


def _let_go_otherwise(compiled: CompiledSchedule, stuck: Stuck) -> Literal:
    """Where a button that some output tells of is let go, or stays on, only because an input is stuck."""
    gates, places = compiled.gates, _stuck_places(compiled, stuck)
    latches = {compiled.schedule.inputs[latch].key: latch for _, latch in compiled.releases}
    otherwise = []
    for key, on in left_on(compiled).items():
        if latches[key] != stuck[0]:
            then = gates.replaced(on, places)
            apart = gates.any_of((gates.all_of((on, -then)), gates.all_of((then, -on))))
            otherwise.append(gates.all_of((apart, button_seen(compiled, latches[key]))))
    return gates.any_of(otherwise)


def add_stuck(compiled: CompiledSchedule, looks: list[Look], space: PlanSpace) -> list[Stuck]:
    """
    Add looks until every input stuck at any value is noticed where a look can; return those that no look notices.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    looks : list of Look
        Grows.
    space : PlanSpace
        Of the schedule.
    """
    hidden: list[Stuck] = []
    for stuck in unnoticed_stuck(compiled, looks):
        look = space.witness((stuck_literal(compiled, stuck, settled=True),), settled=True)
        if look is None:
            hidden.append(stuck)
        elif stuck in unnoticed_stuck(compiled, looks, [stuck]):
            looks.append(look)
    return hidden


def unnoticed_stuck(
    compiled: CompiledSchedule, looks: Sequence[Look], among: Sequence[Stuck] | None = None
) -> list[Stuck]:
    """Return the inputs and values that no look at a settled setting would notice if the input were stuck there."""
    literals = [literal for logic in channel_logics(compiled) for literal in logic.shows.values()]
    gates = compiled.gates.cone([*literals, compiled.possible])
    batch = rows_of_settings(compiled, [look.numbers for look in looks if look.before is None])
    honest = batch.settled(compiled, gates)
    return [
        stuck
        for stuck in (every_stuck(compiled) if among is None else among)
        if not _noticed(compiled, batch, honest, gates, literals, stuck)
    ]


def every_stuck(compiled: CompiledSchedule) -> list[Stuck]:
    """Return every input with every value that it can be stuck at."""
    return [
        (number, place) for number, part in enumerate(compiled.schedule.inputs) for place in range(len(part.values))
    ]


def _noticed(
    compiled: CompiledSchedule,
    batch: Batch,
    honest: Values,
    gates: list[int],
    literals: list[Literal],
    stuck: Stuck,
) -> bool:
    """Whether an output would differ at one of the looks; only gates that the input can matter to are computed again."""
    number, value = stuck
    support = compiled.gates.support
    touched = [gate for gate in gates if support[gate] >> number & 1]
    values = Values(len(compiled.gates), batch.mask)
    values[:] = honest
    one = compiled.leaves[number]
    leaves = {leaf: batch.mask if place == value else 0 for place, leaf in enumerate(one.literals)}
    compiled.gates.recompute(values, leaves, touched)
    rests = values[compiled.stable]  # where it does not, a button is let go and shows the same after all
    return any(
        (values[literal] ^ honest[literal]) & rests for literal in literals if support[abs(literal)] >> number & 1
    )


def stuck_literal(compiled: CompiledSchedule, stuck: Stuck, *, settled: bool = False) -> Literal:
    """
    Return where some output shows something else than it would with the input stuck all along, or after a long wait.

    A state in which a button would be let go with the input stuck there is left out.
    """
    gates, number, places = compiled.gates, stuck[0], _stuck_places(compiled, stuck)
    timers: TimersReplaced = "settled" if settled else "anew"
    shows_other = gates.any_of(
        gates.all_of((shown, -gates.replaced(shown, places, timers=timers)))
        for logic in channel_logics(compiled)
        for shown in logic.shows.values()
        if gates.support[abs(shown)] >> number & 1
    )
    return gates.all_of((shows_other, gates.replaced(compiled.stable, places, timers=timers)))


def _stuck_places(compiled: CompiledSchedule, stuck: Stuck) -> dict[Literal, Literal]:
    """What the leaves of an input that is stuck are."""
    number, value = stuck
    return {
        leaf: TRUE if place == value else FALSE
        for place, leaf in enumerate(compiled.leaves[number].literals)
        if not compiled.gates.made_of[abs(leaf)]
    }
