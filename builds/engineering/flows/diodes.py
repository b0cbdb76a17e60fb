"""
Loads behind diode isolators, in a network that has no diodes.

The network's voltages behind a diode are too high by what it takes, and so is every current that follows the voltage. Each
load's part is set until its current is the one at the voltage it really has; what is told of it is that voltage.
"""

from collections.abc import Callable, Iterable

import numpy as np

from builds.engineering.assessing.solving import Floats
from builds.engineering.electrical.network_parts import NetworkLoad
from builds.engineering.electrical.network_result import NetworkResult
from builds.engineering.vocabulary import LoadModel

__all__ = ["solved_past_diodes"]

_ROUNDS = 4  # each leaves a part (diode's volts ÷ volts) × (drop ÷ volts) of the error, a hundredth at most


def solved_past_diodes(
    loads: Iterable[NetworkLoad], lost_v: Floats, scale: Floats, solve: Callable[[Floats], NetworkResult]
) -> NetworkResult:
    """
    Return the result in which every load's current is that of its own voltage.

    Parameters
    ----------
    loads : iterable of NetworkLoad
        The network's loads, in its order.
    lost_v : array, loads
        What diodes take before each. [V]
    scale : array, loads × conditions
        How much of each load is on. [1]
    solve : callable
        Solves the network for parts of its loads.
    """
    models = [load.model for load in loads]
    resistive = np.array([model is LoadModel.RESISTIVE for model in models])[:, None]
    of_power = np.array([model is LoadModel.CONSTANT_POWER for model in models])[:, None]
    result = solve(scale)
    for _ in range(_ROUNDS):
        seen_v = np.where(result.load_v > 2 * lost_v[:, None], result.load_v, np.inf)
        left = np.where(np.isinf(seen_v), 1.0, 1.0 - lost_v[:, None] / seen_v)
        result = solve(scale * np.where(resistive, left, np.where(of_power, 1.0 / left, 1.0)))
    return result
