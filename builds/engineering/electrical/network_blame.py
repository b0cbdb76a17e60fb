"""Which load is too much where there is no operating point, and how much of it there could be."""

from collections.abc import Callable

import numpy as np

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_collapse import LEAST_V, fold
from builds.engineering.electrical.network_laws import Bools
from builds.engineering.electrical.network_rings import Floats
from builds.engineering.electrical.network_sources import Feeding

__all__ = ["largest_ratio", "load_to_blame"]

# Sixteen parts a round: six rounds leave 6e-8 of the demand undecided.
_PARTS, _ROUNDS = 16, 6


def load_to_blame(network: Network, scale: Floats, feeding: Feeding) -> int:
    """
    Return the row of the load to name in a condition without an operating point.

    The largest constant current if voltages fall through zero without any constant power, else who asks most of its own way:
    alone on it a load has no operating point once 4 z p is more than the square of its open voltage. Where every source is
    at its limit, the largest load of the part that none of them holds up.

    Parameters
    ----------
    network : Network
        The distribution.
    scale : array, loads × 1
        How much of each load is on. [1]
    feeding : Feeding
        The sources as they were left, one condition.
    """
    current_a, siemens, power_w = (part * scale for part in network.demand)
    at_v = np.array([[load.at_v] for load in network.loads])
    asked_w = (current_a * at_v + siemens * at_v * at_v + power_w)[:, 0]
    laws = network.laws(scale)
    folded = fold(network.core, laws, feeding)
    if np.isnan(folded.open_v).any():
        supply, _ = network.load_trees
        firm = feeding.posts.joined(~feeding.is_held)[:, 0] == feeding.posts.islands
        return int(np.where(firm[supply], 0.0, asked_w).argmax())
    room_v = folded.open_v - laws.shift_v[:, 0]
    if (laws.on[:, 0] & (room_v <= 0.0)).any() and current_a.any():
        return int(current_a[:, 0].argmax())
    own_ohm = np.diagonal(folded.lost_ohm)[network.core.pairs[1]] + network.own_ohm[:, 0]
    room_v = np.maximum(room_v, LEAST_V)
    # A load's part of its point's demand decides between those that stand between the same nodes.
    return int(((own_ohm / room_v**2)[network.point_of_load] * power_w[:, 0]).argmax())


def largest_ratio(works: Callable[[Floats], Bools]) -> float:
    """
    Return the largest part of a demand that leaves an operating point.

    Parameters
    ----------
    works : callable
        Tells for an array of ratios with which of them there is an operating point.

    Returns
    -------
    float
        Ratio from 0 to under 1, to about 6e-8; 0 also where taking the load away is not enough. [1]
    """
    below, width = 0.0, 1.0
    for _ in range(_ROUNDS):
        width /= _PARTS
        ratios: Floats = below + width * np.arange(1.0, _PARTS)
        below += width * int(np.count_nonzero(works(ratios)))
    return below
