"""
One step in time: the fifth-order method of Dormand and Prince with its own error estimate.

What is summed over time (ampere-hours delivered, taken, lost) is stepped with what moves, by the same weights. Sums that
hold at every moment therefore hold over every step to rounding, however coarse the step. A state is a few numbers, so it is
a list: at this size an array costs more than the sums done with it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Derivative", "Numbers", "Step", "next_step_s", "take_step"]

Numbers = list[float]
Derivative = Callable[[Numbers], Numbers]

# Dormand and Prince 1980, table 2, RK5(4)7M: where each stage stands, the step itself, and its error
_A21 = 1 / 5
_A31, _A32 = 3 / 40, 9 / 40
_A41, _A42, _A43 = 44 / 45, -56 / 15, 32 / 9
_A51, _A52, _A53, _A54 = 19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729
_A61, _A62, _A63, _A64, _A65 = 9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656
_B1, _B3, _B4, _B5, _B6 = 35 / 384, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84
_E1, _E3, _E4, _E5, _E6, _E7 = 71 / 57600, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40
_LEAST, _MOST, _CAUTION = 0.2, 5.0, 0.9  # how much a step may shrink or grow, and what is kept in hand


@dataclass(frozen=True, slots=True)
class Step:
    """State after a step, its rate of change there an hour, and its error in parts of what is tolerated."""

    state: Numbers
    rate: Numbers
    error: float


def take_step(derivative: Derivative, state: Numbers, rate: Numbers, span_h: float, tolerance: Numbers) -> Step:
    """
    Return the state a step later.

    Parameters
    ----------
    derivative : callable
        Rate of change of a whole state an hour, from its entries that move.
    state, rate : list of float
        State before the step and its rate of change there. Those entries that move stand first.
    span_h : float
        Length of the step, above 0. [h]
    tolerance : list of float
        Error allowed in each entry that moves; the others are sums and do not count.
    """
    h, moving = span_h, state[: len(tolerance)]
    k1 = rate[: len(moving)]
    k2 = derivative([y + h * (_A21 * a) for y, a in zip(moving, k1, strict=True)])
    k3 = derivative([y + h * (_A31 * a + _A32 * b) for y, a, b in zip(moving, k1, k2, strict=False)])
    k4 = derivative([y + h * (_A41 * a + _A42 * b + _A43 * c) for y, a, b, c in zip(moving, k1, k2, k3, strict=False)])
    k5 = derivative(
        [
            y + h * (_A51 * a + _A52 * b + _A53 * c + _A54 * d)
            for y, a, b, c, d in zip(moving, k1, k2, k3, k4, strict=False)
        ]
    )
    k6 = derivative(
        [
            y + h * (_A61 * a + _A62 * b + _A63 * c + _A64 * d + _A65 * e)
            for y, a, b, c, d, e in zip(moving, k1, k2, k3, k4, k5, strict=False)
        ]
    )
    moved = [
        y + h * (_B1 * a + _B3 * c + _B4 * d + _B5 * e + _B6 * f)
        for y, a, c, d, e, f in zip(state, rate, k3, k4, k5, k6, strict=True)
    ]
    k7 = derivative(moved)
    wrong = [
        h * (_E1 * a + _E3 * c + _E4 * d + _E5 * e + _E6 * f + _E7 * g) / allowed
        for allowed, a, c, d, e, f, g in zip(tolerance, k1, k3, k4, k5, k6, k7, strict=False)
    ]
    return Step(moved, k7, math.sqrt(sum([part * part for part in wrong]) / len(wrong)))


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
