"""
Converters between the buses they join: a load on one, a source on the other.

A converter stands in the same columns as the circuits, one row behind them each: what flows there is the power that its
output gives and what it takes for itself, over the voltage at its input. Where its output reaches a battery it charges that
battery: it then takes all it can where wires and devices are sized, and in the mean what that battery's loads take.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.design import ConverterSpec, PowerNode

__all__ = [
    "LEAST_LIMIT_A",
    "Conversion",
    "converted",
    "converter_of",
    "given_a",
    "input_node",
    "limit_ohm",
    "nominal_v",
]

LEAST_LIMIT_A = 1e-3  # of a converter that gives nothing

Floats = NDArray[np.float64]


def input_node(converter: str) -> str:
    """Name the input side of a converter in a graph of nodes; no key of a design begins like this."""
    return f">{converter}"


def converter_of(node: str) -> str:
    """Return the key of the converter whose input side this is; any other node's own key."""
    return node.removeprefix(">")


def nominal_v(source: PowerNode) -> float:
    """Return the nominal voltage of what hangs on a battery or a converter [V]."""
    return source.nominal_v if source.converter is None else source.converter.output_v


def limit_ohm(source: PowerNode) -> float:
    """Return the resistance behind which a converter gives its limit into a short; 0 for a battery [Ω]."""
    spec = source.converter
    return 0.0 if spec is None else spec.output_v / max(spec.limit_a, LEAST_LIMIT_A)


@dataclass(frozen=True, slots=True)
class Conversion:
    """
    One converter that is fed: the row it takes current in, 1 for each row that its output feeds, and its figures.

    ``charges`` tells that its output reaches a battery.
    """

    key: str
    spec: ConverterSpec
    row: int
    fed: Floats
    charges: bool


def given_a(conversion: Conversion, current_a: Floats, *, full: bool) -> Floats:
    """Return what a converter gives in each column [A]; ``full`` where one that charges gives all it can."""
    if conversion.charges and full:
        return np.full(current_a.shape[1], conversion.spec.limit_a)
    return np.asarray(np.minimum(conversion.fed @ current_a, conversion.spec.limit_a))


def converted(conversions: Sequence[Conversion], current_a: Floats, voltage_v: Floats, *, full: bool = True) -> Floats:
    """
    Return the currents with what converters take filled in, in place.

    Parameters
    ----------
    conversions : sequence of Conversion
        Those nearest the batteries first.
    current_a, voltage_v : array, rows × columns
        Currents of the circuits and the voltages at their loads and at the converters' inputs. [A], [V]
    full : bool
        Whether what charges a battery gives all it can.
    """
    for conversion in reversed(conversions):
        spec, row = conversion.spec, conversion.row
        power_w = spec.output_v * given_a(conversion, current_a, full=full) / spec.efficiency_ratio + spec.idle_w
        input_v = np.maximum(voltage_v[row], max(spec.min_v, 1.0))
        current_a[row] = np.where(voltage_v[row] > 0, power_w / input_v, 0.0)
    return current_a
