"""
Many settings computed at once: a cheap look before the solver is asked.

What some setting of the sample shows is possible; what none shows is left to the solver. The settings are drawn by a fixed
rule, so two runs look at the same ones.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Literal, Values

__all__ = ["Sample", "take_sample", "value_rows"]

_SETTINGS = 4096
_SEED = 1


@dataclass(frozen=True, slots=True)
class Sample:
    """Rows of bits by literal, one bit per setting; ``possible`` marks the settings that no given or release excludes."""

    values: Values
    possible: int

    def shows(self, literal: Literal) -> bool:
        """Whether a possible setting of the sample makes this true; of a gate made later it shows nothing."""
        return abs(literal) < len(self.values) // 2 and bool(self.values[literal] & self.possible)


def take_sample(compiled: CompiledSchedule, *, settings: int = _SETTINGS, gates: Sequence[int] | None = None) -> Sample:
    """
    Return a sample of settings that have stood for a long time, every gate made so far computed in each.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule, with all gates that will be asked about.
    settings : int
        How many.
    gates : sequence of int, optional
        The gates to compute besides the leaves and what is possible, if not every one.
    """
    random = Random(_SEED)  # noqa: S311 - drawing settings, not secrets
    mask = (1 << settings) - 1
    leaves: dict[int, int] = {}
    for one in compiled.leaves:
        drawn = zip(one.literals, value_rows(random, len(one.values), settings), strict=True)
        leaves |= {literal: row for literal, row in drawn if not compiled.gates.made_of[abs(literal)]}
    chosen = None if gates is None else sorted({*compiled.gates.cone([compiled.possible, *leaves]), *gates})
    values = compiled.gates.compute(leaves, mask, chosen)
    return Sample(values, values[compiled.possible])


def value_rows(random: Random, count: int, settings: int) -> list[int]:
    """Return one row per value of an input, each setting in exactly one: lost, the last, in one of eight; the rest by halves."""
    left = (1 << settings) - 1
    lost = left
    for _ in range(3):
        lost &= random.getrandbits(settings)
    left &= ~lost
    stands = []
    for _ in range(count - 2):
        row = left & random.getrandbits(settings)
        stands.append(row)
        left &= ~row
    stands.append(left)
    random.shuffle(stands)
    return [*stands, lost]
