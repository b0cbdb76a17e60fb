"""
Many settings computed at once: a cheap look before the solver is asked.

What some setting of the sample shows is possible; what none shows is left to the solver. The settings are drawn by a fixed
rule, so two runs look at the same ones.
"""

from dataclasses import dataclass
from random import Random

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Literal, Values

__all__ = ["Sample", "take_sample"]

_SETTINGS = 4096
_SEED = 1


@dataclass(frozen=True, slots=True)
class Sample:
    """Rows of bits by literal, one bit per setting; ``possible`` marks the settings that no given or release excludes."""

    values: Values
    possible: int

    def shows(self, literal: Literal) -> bool:
        """Whether a possible setting of the sample makes this true."""
        return bool(self.values[literal] & self.possible)


def take_sample(compiled: CompiledSchedule, *, settings: int = _SETTINGS) -> Sample:
    """
    Return a sample of settings that have stood for a long time, every gate made so far computed in each.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule, with all gates that will be asked about.
    settings : int
        How many.
    """
    random = Random(_SEED)  # noqa: S311 - drawing settings, not secrets
    mask = (1 << settings) - 1
    leaves: dict[int, int] = {}
    for one in compiled.leaves:
        rows = _rows(random, len(one.values), settings)
        for literal, row in zip(one.literals, rows, strict=True):
            if not compiled.gates.made_of[abs(literal)]:
                leaves[literal] = row
    values = compiled.gates.compute(leaves, mask)
    return Sample(values, values[compiled.possible])


def _rows(random: Random, count: int, settings: int) -> list[int]:
    """One row per value of an input, each setting in exactly one: lost, the last, in one of eight; the rest by halves."""
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
