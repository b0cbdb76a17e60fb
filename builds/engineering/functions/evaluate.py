"""
What every channel does at a setting, and which rule decides it.

Without a clock a setting is one that has stood for a long time: every delay has run out, no run-on is left.
:mod:`builds.engineering.functions.running` steps a schedule through time.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from builds.engineering.functions.appearances import (
    DARK,
    Appearance,
    appearance_of,
    lowered_to,
    ratio_left,
    shared_heads_of,
    shown_undriven,
)
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Values
from builds.engineering.functions.settings import Setting
from builds.engineering.functions.vocabulary import OFF, ON, HeadRule

__all__ = [
    "Outcome",
    "evaluate",
    "evaluate_holding",
    "evaluate_values",
    "leaf_rows",
    "let_go",
    "numbers_of",
    "rule_gates",
]


@dataclass(frozen=True, slots=True)
class Outcome:
    """
    What one channel does: what it shows and why.

    ``rule`` is the highest rule that asks something of it, "" where none does; ``cut_by`` the rule that holds it off,
    ``displaced_by`` the colour that has taken its head, ``dimmed_by`` the rule whose ceiling holds. ``shared_ratio`` is the
    part of its level that the driver of a shared head leaves it, 1 where the head's maximum holds anyhow; what it shows is
    lowered by it already.
    """

    channel: str
    shows: Appearance
    rule: str = ""
    cut_by: str = ""
    displaced_by: str = ""
    dimmed_by: str = ""
    shared_ratio: float = 1.0

    @property
    def is_lit(self) -> bool:
        """Whether a rule lights it."""
        return self.shows.level_percent > 0

    @property
    def asked_percent(self) -> int:
        """The level that rules ask of it, before a shared head lowers it."""
        return round(self.shows.level_percent / self.shared_ratio)


def evaluate(compiled: CompiledSchedule, setting: Setting) -> tuple[Outcome, ...]:
    """
    Return what every channel does at a setting that has stood for a long time.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    setting : Setting
        Inputs away from rest. A latching button that a rule lets go there counts as let go.

    Returns
    -------
    tuple of Outcome
        One per channel, in schedule order.
    """
    numbers = let_go(compiled, numbers_of(compiled, setting))
    return evaluate_values(compiled, _values(compiled, numbers))


def numbers_of(compiled: CompiledSchedule, setting: Setting) -> tuple[int, ...]:
    """Return for each input the number of its value in a setting, counted in ``Input.values``."""
    made = compiled.cache.get("rest_numbers")
    if made is None:
        places = {part.key: place for place, part in enumerate(compiled.schedule.inputs)}
        rest = tuple(one.values.index(one.rest) for one in compiled.leaves)
        made = compiled.cache["rest_numbers"] = (places, rest)
    assert isinstance(made, tuple)
    places, rest = made
    numbers = list(rest)
    for key, value in setting.away:
        numbers[places[key]] = compiled.leaves[places[key]].values.index(value)
    return tuple(numbers)


def let_go(compiled: CompiledSchedule, numbers: tuple[int, ...]) -> tuple[int, ...]:
    """Return the numbers of a setting after every rule that releases a latching button there has done so."""
    while compiled.releases:
        values = _values(compiled, numbers)
        freed = _freed(compiled, numbers, values)
        if freed is None:
            break
        numbers = freed
    return numbers


def _freed(compiled: CompiledSchedule, numbers: tuple[int, ...], values: Values) -> tuple[int, ...] | None:
    """The numbers with the first latch off that is on and let go; None where there is none."""
    for rule, latch in compiled.releases:
        part = compiled.schedule.inputs[latch]
        if numbers[latch] == part.values.index(ON) and values[compiled.holds[rule]]:
            return (*numbers[:latch], part.values.index(OFF), *numbers[latch + 1 :])
    return None


def leaf_rows(compiled: CompiledSchedule, numbers: Sequence[int]) -> dict[int, int]:
    """Return the rows of all leaves for one setting."""
    rows, places = _leaf_places(compiled)
    rows = rows.copy()
    for own, number in zip(places, numbers, strict=True):
        if own[number]:
            rows[own[number]] = 1
    return rows


def _leaf_places(compiled: CompiledSchedule) -> tuple[dict[int, int], list[tuple[int, ...]]]:
    """Every leaf at 0, and by input and value the leaf that says so; 0 where none does (off is neither on nor lost)."""
    made = compiled.cache.get("leaf_places")
    if made is None:
        made_of = compiled.gates.made_of
        places = [tuple(one if not made_of[abs(one)] else 0 for one in leaves.literals) for leaves in compiled.leaves]
        made = compiled.cache["leaf_places"] = ({leaf: 0 for own in places for leaf in own if leaf}, places)
    assert isinstance(made, tuple)
    return made


def _values(compiled: CompiledSchedule, numbers: Sequence[int]) -> Values:
    return compiled.gates.compute(leaf_rows(compiled, numbers), 1, rule_gates(compiled))


def rule_gates(compiled: CompiledSchedule) -> list[int]:
    """Return the gates that the rules depend on, in order; found once."""
    made = compiled.cache.get("rule_gates")
    if made is None:
        roots = [*compiled.holds, *(literal for leaves in compiled.leaves for literal in leaves.literals)]
        made = compiled.cache["rule_gates"] = compiled.gates.cone(roots)
    assert isinstance(made, list)
    return made


def evaluate_values(compiled: CompiledSchedule, values: Values) -> tuple[Outcome, ...]:
    """Return what every channel does where the rules have these values."""
    return evaluate_holding(compiled, [values[literal] for literal in compiled.holds])


def evaluate_holding(compiled: CompiledSchedule, holding: Sequence[int]) -> tuple[Outcome, ...]:
    """Return what every channel does where these rules hold, 1 or 0 for each."""
    outcomes = [
        _outcome(
            compiled, number, _first(rules.drives, holding), _first(rules.cuts, holding), _first(rules.dims, holding)
        )
        for number, rules in enumerate(compiled.channels)
    ]
    return tuple(_with_heads(compiled, outcomes))


def _first(ranked: tuple[int, ...], holding: Sequence[int]) -> int:
    for rule in ranked:
        if holding[rule]:
            return rule
    return -1


def _outcome(compiled: CompiledSchedule, number: int, drive: int, cut: int, dim: int) -> Outcome:
    """The outcome of a channel before its head has a say; each is made once."""
    key = (number, drive, cut, dim)
    made = compiled.cache.get(key)
    if made is None:
        made = compiled.cache[key] = _make_outcome(compiled, number, drive, cut, dim)
    assert isinstance(made, Outcome)
    return made


def _make_outcome(compiled: CompiledSchedule, number: int, drive: int, cut: int, dim: int) -> Outcome:
    channel, rules = compiled.schedule.channels[number], compiled.schedule.rules
    undriven = shown_undriven(channel.job)
    ceiling = rules[dim].effect.level_percent if dim >= 0 else 100
    shows = undriven if cut >= 0 or drive < 0 else appearance_of(compiled, rules[drive].effect, ceiling)
    lowered = dim >= 0 and shows.level_percent == ceiling < rules[drive].effect.level_percent
    return Outcome(
        channel=channel.key,
        shows=shows,
        rule=rules[drive].key if drive >= 0 else "",
        cut_by=rules[cut].key if cut >= 0 else "",
        dimmed_by=rules[dim].key if lowered else "",
    )


def _with_heads(compiled: CompiledSchedule, outcomes: list[Outcome]) -> list[Outcome]:
    """In a head that lights only its first colour, the others give way; a shared head lowers what is lit."""
    for members in _first_heads(compiled):
        taken = -1
        for member in members:
            if outcomes[member].is_lit and taken >= 0:
                one, by = outcomes[member], outcomes[taken].channel
                outcomes[member] = Outcome(one.channel, DARK, one.rule, displaced_by=by)
            elif outcomes[member].is_lit:
                taken = member
    for head in shared_heads_of(compiled):
        ratio = ratio_left(compiled, head, [outcomes[member].shows for member in head.members])
        if ratio < 1:
            for member in head.members:
                one = outcomes[member]
                outcomes[member] = replace(one, shows=lowered_to(one.shows, ratio), shared_ratio=ratio)
    return outcomes


def _first_heads(compiled: CompiledSchedule) -> list[list[int]]:
    made = compiled.cache.get("first_heads")
    if made is None:
        numbers = {channel.key: number for number, channel in enumerate(compiled.schedule.channels)}
        made = compiled.cache["first_heads"] = [
            [numbers[channel] for channel in head.channels]
            for head in compiled.schedule.heads
            if head.colours is HeadRule.FIRST
        ]
    assert isinstance(made, list)
    return made
