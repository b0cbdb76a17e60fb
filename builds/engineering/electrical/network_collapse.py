"""
Whether a distribution has an operating point at all, and how much a load may ask before it has none.

A constant-power load draws more current the lower its voltage, so past a largest power no voltage satisfies it. The
question is settled in two steps for one condition. First everything linear (constant currents, resistive loads, all
resistances) is folded into one open voltage and one transfer resistance for each constant-power load. Then Newton's
method is started from those open voltages. Each load's equation ``v = e - z p / v`` is convex, so while no transfer
resistance is negative the iterates can only fall, and they stop at the highest solution; the moment one would rise, or
fall through zero, there is none. (A transfer resistance can be negative where two batteries share a way back. Then a rise
proves nothing, and only the voltages found in the end decide.)
"""

from dataclasses import dataclass

import numpy as np

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_forest import Floats

__all__ = ["Collapsed", "Laws", "Solved", "largest_demand_ratio", "solve_dense"]

_MOST_STEPS = 80
_HALVINGS = 24


@dataclass(frozen=True, slots=True, eq=False)
class Laws:
    """What each load takes: amperes, siemens and watts, loads of one kind by conditions, kinds in solving order."""

    current_a: Floats
    siemens: Floats
    power_w: Floats

    @classmethod
    def of(cls, network: Network, scale: Floats) -> "Laws":
        """Return the laws of a network's loads at a scale each (solving order)."""
        first, second = network.first_resistive, network.first_power
        current, at_v = network.current_a * scale, network.at_v
        return cls(current[:first], current[first:second] / at_v[first:second], current[second:] * at_v[second:])

    def column(self, index: int) -> "Laws":
        """Return the laws of one condition, still as columns."""
        at = slice(index, index + 1)
        return Laws(self.current_a[:, at], self.siemens[:, at], self.power_w[:, at])

    def currents_a(self, volts: Floats) -> Floats:
        """Return what the loads take at terminal voltages above 0."""
        first, second = len(self.current_a), len(self.current_a) + len(self.siemens)
        taken = np.empty_like(volts)
        taken[:first] = self.current_a
        np.multiply(self.siemens, volts[first:second], out=taken[first:second])
        np.divide(self.power_w, volts[second:], out=taken[second:])
        return taken

    def currents_behind_a(self, open_v: Floats, own_ohm: Floats, lowest_v: Floats) -> Floats:
        """Return what each load takes behind its own resistance; constant power on its upper root."""
        first, second = len(self.current_a), len(self.current_a) + len(self.siemens)
        taken = np.empty_like(open_v)
        taken[:first] = self.current_a
        taken[first:second] = self.siemens * open_v[first:second] / (1.0 + own_ohm[first:second] * self.siemens)
        half_v = open_v[second:] / 2
        # v² - e v + z p = 0; past the largest power the square root has nothing left and v stays at e / 2.
        root_v = half_v + np.sqrt(np.maximum(half_v * half_v - own_ohm[second:] * self.power_w, 0.0))
        taken[second:] = self.power_w / np.maximum(root_v, lowest_v[second:])
        return taken


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """The operating point of one condition, solving order."""

    load_a: Floats
    load_v: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Collapsed:
    """No operating point: the load to name (solving order), in the condition with these laws and sources."""

    load: int
    laws: Laws
    emf_v: Floats
    source_ohm: Floats


def solve_dense(network: Network, laws: Laws, emf_v: Floats, source_ohm: Floats) -> Solved | Collapsed:
    """
    Return one condition's operating point, or the load to blame where there is none.

    Parameters
    ----------
    network : Network
        The distribution.
    laws : Laws
        What its loads take in this condition, one column.
    emf_v : array, one per source
        Open voltages. [V]
    source_ohm : array, one per source
        Internal resistances. [Ω]

    Returns
    -------
    Solved or Collapsed
        Amperes and volts in solving order, or the load named.
    """
    open_v, transfer = _fold_linear(laws, *_seen_from_loads(network, emf_v, source_ohm))
    second = len(laws.current_a) + len(laws.siemens)
    power = laws.power_w[:, 0]
    volts = _fall(open_v[second:], transfer[second:], power)
    if volts is None:
        return Collapsed(_blame(laws, open_v, transfer), laws, emf_v, source_ohm)
    load_v = open_v - transfer @ (power / volts)
    load_v[second:] = volts
    if (load_v <= 0.0).any():
        return Collapsed(_blame(laws, load_v, transfer), laws, emf_v, source_ohm)
    return Solved(laws.currents_a(load_v[:, None])[:, 0], load_v)


def _seen_from_loads(network: Network, emf_v: Floats, source_ohm: Floats) -> tuple[Floats, Floats]:
    """Each load's source voltage, and the transfer resistances with the sources' own."""
    same_source = network.source_of_load[:, None] == network.source_of_load[None, :]
    own_ohm = np.where(same_source, source_ohm[network.source_of_load], 0.0)
    return emf_v[network.source_of_load], network.transfer_ohm + own_ohm


def _fold_linear(laws: Laws, emf: Floats, transfer: Floats) -> tuple[Floats, Floats]:
    """
    Fold constant currents and resistive loads into open voltages and transfer resistances from constant-power loads.

    ``v = emf - Z i`` with ``i = g v`` on the resistive rows: ``(1 + Z g) v = emf - Z i_constant - Z i_power``.
    """
    first, second = len(laws.current_a), len(laws.current_a) + len(laws.siemens)
    system: Floats = np.eye(len(emf))
    system[:, first:second] += transfer[:, first:second] * laws.siemens[:, 0]
    known = emf - transfer[:, :first] @ laws.current_a[:, 0]
    solved = np.asarray(np.linalg.solve(system, np.column_stack([known, transfer[:, second:]])), dtype=np.float64)
    return solved[:, 0], solved[:, 1:]


def _fall(open_v: Floats, transfer: Floats, power: Floats) -> Floats | None:
    """Return the highest solution of ``v = open_v - transfer (power / v)``, or None."""
    only_falls = bool((transfer >= 0.0).all())
    volts = open_v.copy()
    if (volts <= 0.0).any():
        return None
    for _ in range(_MOST_STEPS):
        step = _newton_step(volts, open_v, transfer, power)
        # Rounding alone may lift a voltage by some 1e-12 of itself.
        if step is None or (step >= volts).any() or (only_falls and (step < -1e-9 * open_v).any()):
            return None
        volts = volts - step
        if (np.abs(step) <= 1e-14 * open_v).all():
            break
    residual = np.abs(open_v - transfer @ (power / volts) - volts)
    return volts if (residual <= 1e-11 * open_v).all() else None


def _newton_step(volts: Floats, open_v: Floats, transfer: Floats, power: Floats) -> Floats | None:
    error = volts - open_v + transfer @ (power / volts)
    slope = np.eye(len(volts)) - transfer * (power / volts**2)
    try:
        return np.asarray(np.linalg.solve(slope, error), dtype=np.float64)
    except np.linalg.LinAlgError:
        return None


def _blame(laws: Laws, volts: Floats, transfer: Floats) -> int:
    """Name a load: the largest constant current if voltages fell through zero, else who asks most of its own way."""
    second = len(laws.current_a) + len(laws.siemens)
    if (volts <= 0.0).any() and laws.current_a.any():
        return int(laws.current_a[:, 0].argmax())
    own = np.diagonal(transfer[second:])
    # Alone on its way, a load has no operating point once 4 z p is more than the square of its open voltage.
    return second + int((own * laws.power_w[:, 0] / volts[second:] ** 2).argmax())


def largest_demand_ratio(network: Network, collapsed: Collapsed) -> float:
    """
    Return the largest part of the named load's demand that leaves an operating point, by bisection.

    Parameters
    ----------
    network : Network
        The distribution.
    collapsed : Collapsed
        The condition and the load named.

    Returns
    -------
    float
        Ratio from 0 to under 1, to about 1e-7; 0 also where taking the load away is not enough. [1]
    """
    below, above = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (below + above) / 2
        laws = _scaled(collapsed.laws, collapsed.load, middle)
        if isinstance(solve_dense(network, laws, collapsed.emf_v, collapsed.source_ohm), Solved):
            below = middle
        else:
            above = middle
    return below


def _scaled(laws: Laws, load: int, ratio: float) -> Laws:
    """The same laws with one load's demand scaled."""
    first, second = len(laws.current_a), len(laws.current_a) + len(laws.siemens)
    factors = np.ones((second + len(laws.power_w), 1))
    factors[load] = ratio
    return Laws(laws.current_a * factors[:first], laws.siemens * factors[first:second], laws.power_w * factors[second:])
