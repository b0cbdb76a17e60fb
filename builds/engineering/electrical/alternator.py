"""
What an alternator gives, and what is left of it.

A rating is for a fast, cool machine. Where the maker gives a curve it is read; where only the rating is known a part of it
is taken and the figure is marked an estimate.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from builds.engineering.ranges import check_at_least, check_ratio, check_within

__all__ = [
    "AlternatorOutput",
    "OutputCurve",
    "OutputPoint",
    "SourceMargin",
    "estimated_output",
    "output_at",
    "output_from_curve",
    "source_margin",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputPoint:
    """One point of a maker's output curve, at the curve's own temperature."""

    speed_rpm: float
    output_a: float

    def __post_init__(self) -> None:
        check_within("speed_rpm", self.speed_rpm, 0.0, 30_000.0)
        check_within("output_a", self.output_a, 0.0, 5000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputCurve:
    """A maker's output curve at one ambient temperature, its points in rising order of speed."""

    ambient_c: float
    points: Sequence[OutputPoint]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternatorOutput:
    """Current available; ``estimate`` where it is a part of the rating and not the maker's curve."""

    available_a: float
    estimate: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceMargin:
    """What is left of a source; ``from_battery_ah_per_h`` is what the battery adds where nothing is left."""

    margin_a: float
    margin_ratio: float
    from_battery_ah_per_h: float


def estimated_output(*, rated_a: float, output_ratio: float, hot_ratio: float = 1.0) -> AlternatorOutput:
    """
    Return an estimate of an alternator's output from its rating.

    Parameters
    ----------
    rated_a : float
        Rated output, above 0. [A]
    output_ratio : float
        Part of the rating it gives at this speed, above 0 to 1. [1]
    hot_ratio : float, default 1.0
        Part of that left hot, above 0 to 1; leave it where ``output_ratio`` is a hot figure already. [1]

    Returns
    -------
    AlternatorOutput
        Marked an estimate.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    Heat costs more at low speed (hot over cold 0.67 in one maker's data at 1300 alternator rpm) than at high (0.82), so
    one product of two averages flatters the figure at idle.

    Examples
    --------
    >>> estimated_output(rated_a=240, output_ratio=0.5, hot_ratio=0.85).available_a
    102.0
    """
    check_within("rated_a", rated_a, 0.1, 5000.0)
    check_ratio("output_ratio", output_ratio)
    check_ratio("hot_ratio", hot_ratio)
    return AlternatorOutput(available_a=rated_a * output_ratio * hot_ratio, estimate=True)


def output_from_curve(*, curve: Sequence[OutputPoint], engine_rpm: float, pulley_ratio: float) -> AlternatorOutput:
    """
    Return an alternator's output at an engine speed from its maker's curve.

    Parameters
    ----------
    curve : sequence of OutputPoint
        At least one point, in rising order of speed, all at the temperature asked for.
    engine_rpm : float
        Engine speed, at least 0. [1/min]
    pulley_ratio : float
        Alternator turns for one of the engine, 0.5 to 10. [1]

    Returns
    -------
    AlternatorOutput
        On a straight line between points; nothing below the first, the last one's output beyond the last.

    Raises
    ------
    OutOfRange
        If an argument is outside its range or the curve is not in rising order.

    Examples
    --------
    >>> hot = [OutputPoint(speed_rpm=s, output_a=a) for s, a in ((1300, 16), (2500, 41), (5000, 48))]
    >>> output_from_curve(curve=hot, engine_rpm=700, pulley_ratio=2.5).available_a
    25.375
    """
    check_within("number of points", len(curve), 1, 1000)
    check_at_least("engine_rpm", engine_rpm, 0.0)
    check_within("pulley_ratio", pulley_ratio, 0.5, 10.0)
    speeds = [point.speed_rpm for point in curve]
    for slower, faster in pairwise(speeds):
        check_within("speed_rpm", faster, slower, 30_000.0)
    outputs = [point.output_a for point in curve]
    available_a = float(np.interp(engine_rpm * pulley_ratio, speeds, outputs, left=0.0))
    return AlternatorOutput(available_a=available_a, estimate=False)


def output_at(
    *,
    curves: Sequence[OutputCurve],
    ambient_c: float,
    engine_rpm: float,
    pulley_ratio: float,
) -> AlternatorOutput:
    """
    Return an alternator's output at an engine speed and a temperature from its maker's curves.

    Parameters
    ----------
    curves : sequence of OutputCurve
        The maker's curve at each ambient temperature, at least one.
    ambient_c : float
        Ambient temperature, -40 to 200. [°C]
    engine_rpm : float
        Engine speed, at least 0. [1/min]
    pulley_ratio : float
        Alternator turns for one of the engine, 0.5 to 10. [1]

    Returns
    -------
    AlternatorOutput
        On a straight line between two temperatures; colder than the coldest as the coldest, which is the careful side. Hotter
        than the hottest curve is not on the maker's page: the hottest, marked an estimate.

    Raises
    ------
    OutOfRange
        If an argument is outside its range or a curve is not in rising order.

    Examples
    --------
    >>> cold = [OutputPoint(speed_rpm=1300, output_a=24), OutputPoint(speed_rpm=2500, output_a=50)]
    >>> hot = [OutputPoint(speed_rpm=1300, output_a=16), OutputPoint(speed_rpm=2500, output_a=41)]
    >>> curves = [OutputCurve(ambient_c=25, points=cold), OutputCurve(ambient_c=95, points=hot)]
    >>> output_at(curves=curves, ambient_c=60, engine_rpm=1000, pulley_ratio=2.5).available_a
    45.5
    """
    check_within("number of curves", len(curves), 1, 1000)
    check_within("ambient_c", ambient_c, -40.0, 200.0)
    curves = sorted(curves, key=lambda curve: curve.ambient_c)
    temperatures = [curve.ambient_c for curve in curves]
    outputs = [
        output_from_curve(curve=curve.points, engine_rpm=engine_rpm, pulley_ratio=pulley_ratio).available_a
        for curve in curves
    ]
    available_a = float(np.interp(ambient_c, temperatures, outputs))
    return AlternatorOutput(available_a=available_a, estimate=ambient_c > temperatures[-1])


def source_margin(*, available_a: float, mean_a: float) -> SourceMargin:
    """
    Return what a source has left with a mean load on it.

    Parameters
    ----------
    available_a : float
        Current available, above 0. [A]
    mean_a : float
        Mean current taken, at least 0. [A]

    Returns
    -------
    SourceMargin
        Left over in amperes and as a part of what is available, negative where the battery must help.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> source_margin(available_a=102, mean_a=135).from_battery_ah_per_h
    33
    """
    check_within("available_a", available_a, 1e-6, 1e6)
    check_at_least("mean_a", mean_a, 0.0)
    margin_a = available_a - mean_a
    return SourceMargin(
        margin_a=margin_a, margin_ratio=margin_a / available_a, from_battery_ah_per_h=max(0.0, -margin_a)
    )
