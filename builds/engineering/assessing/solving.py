"""
Voltages and currents of all circuits in many columns at once (a column is a condition, a source voltage, a kind of current).

With the ways of :mod:`topology` the voltage lost on the way to a circuit and back is linear in all circuits' currents, so
the distribution is ``V = E − drop(I(V))``. From the source's voltage downwards the iteration meets the upper of the two
roots that a constant-power load has.

A circuit is one point here, whatever it feeds, and circuits of one panel or ground are lost in one sum. The network as
drawn, part by part, is :mod:`builds.engineering.electrical.network`: it decides what this does not settle, and tests hold
the two equal.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.conversion import converted
from builds.engineering.assessing.demand import Asked
from builds.engineering.assessing.topology import Feeding
from builds.engineering.assessing.trees import Elements
from builds.engineering.assessing.wires import Wire
from builds.engineering.design import Design
from builds.engineering.electrical.conductors import resistance_ratio

__all__ = ["Flags", "Floats", "Losses", "Resistances", "Solved", "losses_of", "resistances_of", "solve_columns"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_CLOSE_V = 1e-10
_UNCHECKED_SWEEPS = 4  # nothing settles sooner unless nothing is lost at all
_SWEEPS = 30  # each takes off the part of the source that is lost on the way: 30 settle any loss under a third
_LEAST_V = 0.5  # below this nothing works and no root is worth finding


@dataclass(frozen=True, slots=True)
class Resistances:
    """Resistance of every element and every circuit's own wire at 20 °C, and which of them warm with the conductor."""

    element_ohm: Floats
    element_warms: Flags
    own_ohm: Floats

    def at(self, temperature_c: float) -> tuple[Floats, Floats]:
        """(elements, own wires) at a conductor temperature [Ω]."""
        ratio = resistance_ratio(temperature_c=temperature_c)
        return np.where(self.element_warms, self.element_ohm * ratio, self.element_ohm), self.own_ohm * ratio


@dataclass(frozen=True, slots=True)
class Solved:
    """Voltage at each circuit's loads and its current, one column per case; ``settled`` tells which columns are solved."""

    voltage_v: Floats
    current_a: Floats
    settled: Flags


def resistances_of(design: Design, elements: Elements, run_wires: dict[str, Wire], own_ohm: Floats) -> Resistances:
    """Return the resistances of a design's elements, beside those of the fed circuits' own wires."""
    ohm, warms = np.zeros(elements.count), np.zeros(elements.count, dtype=bool)
    for run in design.runs:
        wire = run_wires[run.key]
        ohm[elements.run_row[run.key]] = wire.ohm
        warms[elements.run_row[run.key]] = wire.follows_temperature
    for node in design.nodes:
        ohm[elements.node_row[node.key]] = node.resistance_mohm / 1000
    return Resistances(ohm, warms, own_ohm)


@dataclass(frozen=True, slots=True)
class Losses:
    """
    What circuits lose by each other's currents and in their own wires.

    ``share`` has a row per circuit and a column for each panel and ground that circuits share and each battery they hang
    on, 1 where a circuit does; ``per_a`` is what is lost there by an ampere of each circuit, shares × circuits [Ω].
    """

    feeding: Feeding
    share: Floats
    per_a: Floats
    own_ohm: Floats

    def drop_v(self, current_a: Floats) -> Floats:
        """Voltage lost between source and loads, circuits × columns, at these currents [V]."""
        lost = self.share @ (self.per_a @ current_a)
        lost += self.own_ohm[:, None] * current_a
        return np.asarray(lost)


def losses_of(feeding: Feeding, element_ohm: Floats, own_ohm: Floats, inside_ohm: Floats) -> Losses:
    """
    Return what the circuits of one isolator state lose.

    Parameters
    ----------
    feeding : Feeding
        Ways of the fed circuits.
    element_ohm, own_ohm : array
        Resistance of every element and of each circuit's own wire. [Ω]
    inside_ohm : array
        Resistance inside each battery, 0 where the source is held at its post. [Ω]
    """
    (out, home), battery = feeding.flow_ways, feeding.battery
    share = np.concatenate((feeding.panels.members, feeding.returns.members, battery)).T
    panels, grounds = out.shape[1], home.shape[1]
    between = np.zeros((share.shape[1], share.shape[1]))
    between[:panels, :panels] = out.T @ (element_ohm[:, None] * out)
    between[panels : panels + grounds, panels : panels + grounds] = home.T @ (element_ohm[:, None] * home)
    cross_ohm = feeding.cross_ohm(element_ohm)
    if cross_ohm is not None:  # where batteries are joined
        between[:panels, panels : panels + grounds] = cross_ohm
        between[panels : panels + grounds, :panels] = cross_ohm.T
    between[range(-len(battery), 0), range(-len(battery), 0)] = inside_ohm
    # a circuit has one panel and one ground: taking their columns is what the product with ``share`` comes to, and far less
    per_a = between[:, feeding.panels.column] + between[:, panels + feeding.returns.column]
    per_a += between[:, panels + grounds :] @ battery
    return Losses(feeding, share, per_a, own_ohm)


def solve_columns(
    losses: Losses, source_v: Floats, asked: Asked, *, full: bool = True, start_v: Floats | None = None
) -> Solved:
    """
    Return the upper root of ``V = E − drop(I(V))`` in every column.

    Parameters
    ----------
    losses : Losses
        From :func:`losses_of`.
    source_v : array, columns
        Source voltage of each column. [V]
    asked : Asked, circuits × columns
        What the circuits ask for.
    full : bool
        Whether converters that charge a battery give all they can.
    start_v : array, circuits × columns, optional
        Voltages near those sought, from which it is found sooner; else it begins at the source. [V]

    Returns
    -------
    Solved
        ``settled`` is False in columns that are near collapse, past it, or lose more than a third of the source: those
        are for :mod:`builds.engineering.electrical.network_solver` to decide. Their figures mean nothing here.
    """
    source = source_v + np.zeros_like(asked.constant_a)
    voltage = source.copy() if start_v is None else start_v.copy()
    settled = np.ones(source.shape[1], dtype=bool)
    if voltage.size:
        with np.errstate(all="ignore"):
            unchecked = _UNCHECKED_SWEEPS if start_v is None else 0
            moved = _sweep(losses, source, asked, voltage, full=full, unchecked=unchecked)
        settled = moved < _CLOSE_V
        voltage[:, ~settled] = source[:, ~settled]
    taken = converted(losses.feeding.conversions, asked.at(voltage), voltage, full=full)
    return Solved(voltage, np.where(settled, taken, 0.0), settled)


def _sweep(losses: Losses, source: Floats, asked: Asked, voltage: Floats, *, full: bool, unchecked: int) -> Floats:
    """Iterate in place, at most ``_SWEEPS`` times; return how far each column still moved."""
    moved, conversions = np.full(source.shape[1], np.inf), losses.feeding.conversions
    for sweep in range(_SWEEPS):
        taken_a = asked.at(voltage)
        if conversions:
            converted(conversions, taken_a, voltage, full=full)
        after = source - losses.drop_v(taken_a)
        if sweep >= unchecked:
            moved = np.abs(after - voltage).max(axis=0)
        voltage[:] = after
        if (moved < _CLOSE_V).all():
            break
    return np.where((voltage > _LEAST_V).all(axis=0), moved, np.inf)
