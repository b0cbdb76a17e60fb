"""
How warm conductors are while a short flows that must open a device: each as hot as its own insulation is made for.

A short may begin on a conductor that has carried its full load on the hottest day. It is then at the temperature its insulation
is rated for, and lets least through; at what temperature a buyer has drops judged says nothing about that. Worst case, common
practice, no source.
"""

from collections.abc import Iterable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network, State
from builds.engineering.design import Circuit
from builds.engineering.electrical.conductors import resistance_ratio

__all__ = ["circuits_at_fault_ohm", "elements_at_fault_ohm", "fault_temp_ratio"]

Floats = NDArray[np.float64]

_FORMULA_C = (-60.0, 250.0)  # what the formula of resistance is good for; no insulation of this trade lies outside


@cache
def fault_temp_ratio(insulation_c: float) -> float:
    """Return a conductor's resistance as hot as its insulation bears over that at 20 °C."""
    return resistance_ratio(temperature_c=min(max(insulation_c, _FORMULA_C[0]), _FORMULA_C[1]))


def elements_at_fault_ohm(index: IndexedDesign, network: Network, state: State) -> Floats:
    """Return the resistance of every element, runs as hot as their insulation bears [Ω]."""
    ratio = np.ones(network.elements.count)
    runs = index.design.runs
    ratio[: len(runs)] = [fault_temp_ratio(run.insulation_c) for run in runs]
    resistances = state.resistances
    return np.where(resistances.element_warms, resistances.element_ohm * ratio, resistances.element_ohm)


def circuits_at_fault_ohm(circuits: Iterable[Circuit], state: State) -> list[float]:
    """Return the resistance of the circuits' own wires, as hot as their insulation bears [Ω]."""
    return [
        ohm * fault_temp_ratio(circuit.insulation_c)
        for circuit, ohm in zip(circuits, state.resistances.own_ohm.tolist(), strict=False)
    ]
