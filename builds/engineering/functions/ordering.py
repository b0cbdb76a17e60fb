"""
Settings in the order in which fewest controls change from one to the next.

Nearest neighbour from where the inputs stand, then 2-opt: stretches are turned round while that saves moves. Turning a
selector is one move, however far it is turned.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = ["moves_between", "order_settings", "total_moves"]

Numbers = tuple[int, ...]
_MOST_ROUNDS = 50


def moves_between(one: Numbers, other: Numbers) -> int:
    """Return how many inputs stand differently in two settings."""
    return sum(a != b for a, b in zip(one, other, strict=True))


def total_moves(start: Numbers, settings: Sequence[Numbers]) -> int:
    """Return how many moves a sequence of settings takes from a first one."""
    places = [start, *settings]
    return sum(moves_between(one, other) for one, other in pairwise(places))


def order_settings(start: Numbers, settings: Sequence[Numbers]) -> list[int]:
    """
    Return the places of settings in an order of few moves.

    Parameters
    ----------
    start : tuple of int
        Where the inputs stand first.
    settings : sequence of tuple of int
        Numbers of values, one per input.

    Returns
    -------
    list of int
        Each place once.
    """
    if not settings:
        return []
    points = np.array([start, *settings])
    moves = (points[:, None, :] != points[None, :, :]).sum(axis=2)
    order = _nearest(moves)
    return [int(place) - 1 for place in _turned(order, moves)[1:]]


def _nearest(moves: NDArray[np.int64]) -> NDArray[np.int64]:
    left = np.ones(len(moves), dtype=bool)
    order = [0]
    left[0] = False
    while left.any():
        reach = np.where(left, moves[order[-1]], np.iinfo(np.int64).max)
        order.append(int(reach.argmin()))
        left[order[-1]] = False
    return np.array(order)


def _turned(order: NDArray[np.int64], moves: NDArray[np.int64]) -> NDArray[np.int64]:
    """2-opt on an open path whose first place is fixed: the best turn of each round, until none saves a move."""
    count = len(order)
    for _ in range(_MOST_ROUNDS):
        improved = False
        for first in range(1, count - 1):
            before, here = order[first - 1], order[first]
            lasts = order[first + 1 :]
            after = np.append(order[first + 2 :], -1)
            open_end = after < 0
            saved = moves[before, here] - moves[before, lasts]
            saved = saved + np.where(open_end, 0, moves[lasts, after] - moves[here, after])
            best = int(saved.argmax())
            if saved[best] > 0:
                last = first + 1 + best
                order[first : last + 1] = order[first : last + 1][::-1]
                improved = True
        if not improved:
            break
    return order
