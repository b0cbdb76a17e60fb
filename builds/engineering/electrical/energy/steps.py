"""
One step in time: the fifth-order method of Dormand and Prince with its own error estimate.

What is summed over time (ampere-hours delivered, taken, lost) is stepped with what moves, by the same weights. Sums that
hold at every moment therefore hold over every step to rounding, however coarse the step.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Derivative", "Floats", "Step", "next_step_s", "take_step"]

Floats = NDArray[np.float64]
Derivative = Callable[[Floats], Floats]

# Dormand and Prince 1980, table 2, RK5(4)7M
_STAGES = np.array(
    (
        (1 / 5, 0.0, 0.0, 0.0, 0.0, 0.0),
        (3 / 40, 9 / 40, 0.0, 0.0, 0.0, 0.0),
        (44 / 45, -56 / 15, 32 / 9, 0.0, 0.0, 0.0),
        (19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0.0, 0.0),
        (9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656, 0.0),
        (35 / 384, 0.0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84),
    )
)
_ERROR = np.array((71 / 57600, 0.0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40))
_LEAST, _MOST, _CAUTION = 0.2, 5.0, 0.9  # how much a step may shrink or grow, and what is kept in hand


@dataclass(frozen=True, slots=True)
class Step:
    """State after a step, its rate of change there, and its error in parts of what is tolerated."""

    state: Floats
    rate: Floats
    error: float


def take_step(derivative: Derivative, state: Floats, rate: Floats, span_s: float, tolerance: Floats) -> Step:
    """
    Return the state a step later.

    Parameters
    ----------
    derivative : callable
        Rate of change of a state.
    state, rate : array
        State before the step and its rate of change there.
    span_s : float
        Length of the step, above 0. [s]
    tolerance : array
        Error allowed in each of the first entries of the state; the others are sums and do not count.
    """
    rates = np.empty((7, len(state)))
    rates[0] = rate
    moved = state
    for place, weights in enumerate(span_s * _STAGES, start=1):
        moved = state + weights[:place] @ rates[:place]
        rates[place] = derivative(moved)
    wrong = (span_s * (_ERROR @ rates))[: len(tolerance)] / tolerance
    return Step(moved, rates[6], float(np.sqrt(wrong @ wrong / len(tolerance))))


def next_step_s(span_s: float, error_ratio: float) -> float:
    """
    Return how long to make the next step, or this one again where its error is above 1.

    Parameters
    ----------
    span_s : float
        Length of this step. [s]
    error_ratio : float
        Its error in parts of what is tolerated. [1]
    """
    if error_ratio == 0.0:
        return span_s * _MOST
    return span_s * min(_MOST, max(_LEAST, _CAUTION * float(error_ratio**-0.2)))
