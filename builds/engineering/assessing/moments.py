"""
Which loads are lit at one moment: a column of conditions spread over the instants at which its lamps in step light most.

Where nothing keeps step a condition has one moment, everything lit at once, and nothing here costs anything.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.functions.instants import instants_at

__all__ = ["Moments", "Places", "all_moments", "moments_of_columns"]

Floats = NDArray[np.float64]
Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Moments:
    """
    The moments (columns) of some conditions, condition by condition.

    ``level`` says how much of each load (row) is lit, ``of`` to which condition each moment belongs and ``starts`` where each
    condition's begin. ``apart`` is False where every condition has one moment, in which all that is on is lit.
    """

    level: Floats
    of: Places
    starts: Places
    apart: bool

    def spread(self, of_conditions: Floats) -> Floats:
        """Give each moment its condition's column."""
        return np.asarray(of_conditions[:, self.of]) if self.apart else of_conditions

    def most(self, of_moments: Floats) -> Floats:
        """Take the largest of each condition's moments, row by row."""
        return np.asarray(np.maximum.reduceat(of_moments, self.starts, axis=1)) if self.apart else of_moments

    def least(self, of_moments: Floats) -> Floats:
        """Take the smallest of each condition's moments, row by row."""
        return np.asarray(np.minimum.reduceat(of_moments, self.starts, axis=1)) if self.apart else of_moments

    def columns_of(self, condition: int) -> range:
        """Return the moments of one condition (column)."""
        ends = [*self.starts[1:].tolist(), len(self.of)]
        return range(int(self.starts[condition]), ends[condition])


def all_moments(index: IndexedDesign, on: Floats, held: NDArray[np.bool_]) -> Moments:
    """
    Return the moments of all conditions of a design.

    Parameters
    ----------
    index : IndexedDesign
        A design in whose conditions the rules say what is on.
    on : array, loads × conditions
        1 where a load is on.
    held : array of bool, loads
        Loads that can be held on; they are lit whole at every moment.
    """
    text, conditions = index.design.function_schedule, index.design.conditions
    whole = Moments(on, np.arange(len(conditions)), np.arange(len(conditions)), apart=False)
    if not text or held.all() or not any(condition.input_settings for condition in conditions):
        return whole
    keys = frozenset(load.key for load, is_held in zip(index.design.loads, held.tolist(), strict=True) if is_held)
    instants = [
        instants_at(text, condition.input_settings, keys) if condition.input_settings else ({},)
        for condition in conditions
    ]
    of = np.repeat(np.arange(len(conditions)), [len(found) for found in instants])
    level = on[:, of].copy()
    for column, instant in enumerate(one for found in instants for one in found):
        for key, part in instant.items():
            row = index.load_row.get(key)
            if row is not None:
                level[row, column] *= part
    if np.array_equal(level, on[:, of]):
        return whole
    return Moments(level, of, np.searchsorted(of, np.arange(len(conditions))), apart=True)


def moments_of_columns(moments: Moments, columns: Sequence[int]) -> Moments:
    """Return the moments of some conditions, as a state holds them."""
    chosen = np.asarray(columns, dtype=np.int64)
    if not moments.apart or not len(chosen):
        return Moments(moments.level[:, chosen], np.arange(len(chosen)), np.arange(len(chosen)), apart=False)
    taken = [moments.columns_of(column) for column in columns]
    of = np.repeat(np.arange(len(taken)), [len(one) for one in taken])
    level = moments.level[:, [place for one in taken for place in one]]
    return Moments(level, of, np.searchsorted(of, np.arange(len(taken))), apart=True)
