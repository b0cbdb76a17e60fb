"""
The instants of a condition at which most is lit: what lamps that keep step can take together, and what they cannot.

Lamps of one sync group are followed over their common round, and of its instants only those are kept at which something is
lit that no other instant lights as well: two lamps that take turns have two, and never both. What keeps step with nothing may
meet anything, so it counts with its own peak at every instant; a lamp that can be held on counts as held on.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import product

from builds.engineering.design import InputSetting
from builds.engineering.electrical.flash import FlashingLoad, lit_ratio, moments_of
from builds.engineering.errors import OutOfRange
from builds.engineering.functions.coupling import compiled_setting
from builds.engineering.functions.flash_sums import lit_parts
from builds.engineering.functions.reports import report_of

__all__ = ["instants_at"]

Instant = Mapping[str, float]

_MOST_KEPT = 1024  # some tens of settings a build
_MOST_INSTANTS = 16  # of one condition: each is a solution more; clocks beyond them count by their worst
_SAME = 1e-9


@lru_cache(maxsize=_MOST_KEPT)
def instants_at(text: str, settings: tuple[InputSetting, ...], held: frozenset[str]) -> tuple[Instant, ...]:
    """
    Return how much of each load is lit at every instant that may be the worst for some conductor.

    Parameters
    ----------
    text : str
        A function schedule.
    settings : tuple of InputSetting
        Where its inputs stand.
    held : frozenset of str
        Loads that can be held on, by key: they count whole.

    Returns
    -------
    tuple of mapping from str to float
        At least one instant; in each the loads that the rules light and that cannot be held on, 0 to 1. [1]
    """
    compiled = report_of(text).compiled
    if compiled is None:
        return ({},)
    parts = lit_parts(compiled, compiled_setting(compiled, settings))
    always: dict[str, float] = {}
    clocks: dict[str, list[tuple[str, FlashingLoad]]] = {}
    for key, members in parts.items():
        if key in held:
            continue
        always[key] = 0.0
        for member in members:
            if member.pattern is not None and member.sync:
                clocks.setdefault(member.sync, []).append((key, member))
            else:
                always[key] += _most_of(member)
    return tuple(_joined(always, choice) for choice in product(*_choices(clocks)))


def _most_of(member: FlashingLoad) -> float:
    """What a lamp takes at the brightest of its steps."""
    steps = member.pattern.steps if member.pattern is not None else ()
    return member.current_a * lit_ratio(member, max((step.level_percent for step in steps), default=100))


def _choices(clocks: Mapping[str, list[tuple[str, FlashingLoad]]]) -> list[list[Instant]]:
    """Each clock's instants, those of most lamps first; one instant with every lamp at its brightest where they are too many."""
    choices: list[list[Instant]] = []
    for members in sorted(clocks.values(), key=len, reverse=True):
        found = _instants_of(members)
        if math.prod(map(len, choices)) * len(found) > _MOST_INSTANTS:
            found = [_joined({}, [{key: _most_of(member)} for key, member in members])]
        choices.append(found)
    return choices


def _instants_of(members: Sequence[tuple[str, FlashingLoad]]) -> list[Instant]:
    try:
        moments = moments_of([member for _, member in members])
    except OutOfRange:  # they never come round together: they may meet as if they kept no step
        return [_joined({}, [{key: _most_of(member)} for key, member in members])]
    lit: dict[tuple[float, ...], Instant] = {}
    for levels in moments:
        at = _joined({}, [{key: current_a} for (key, _), current_a in zip(members, levels, strict=True)])
        lit.setdefault(tuple(at.values()), at)
    return [one for row, one in lit.items() if not any(_covers(other, row) for other in lit if other != row)]


def _covers(other: tuple[float, ...], row: tuple[float, ...]) -> bool:
    return all(b >= a - _SAME for a, b in zip(row, other, strict=True))


def _joined(start: Instant, more: Iterable[Instant]) -> Instant:
    total = dict(start)
    for one in more:
        for key, part in one.items():
            total[key] = total.get(key, 0.0) + part
    return {key: min(1.0, part) for key, part in total.items()}
