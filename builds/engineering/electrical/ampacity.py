"""
What a conductor may carry where it lies: the table's allowable amperage, corrected for ambient and bundle.

The table (33 CFR 183.425 Table 5) is for 30 °C around the conductor. A road vehicle has hotter places, so each zone
brings its own ambient and the heat balance gives the factor.
"""

import math
from dataclasses import dataclass
from functools import cache

from builds.engineering.electrical.conductors import ConductorSize, area_mm2, sizes
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.ranges import check_count, check_within
from builds.engineering.tables.loader import load_table
from builds.engineering.vocabulary import GaugeBasis

__all__ = [
    "Ampacity",
    "ambient_factor_ratio",
    "ampacity",
    "bundle_factor_ratio",
    "insulation_class_c",
    "insulation_classes_c",
]

REFERENCE_AMBIENT_C = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ampacity:
    """An allowable current and how it came about: base × ambient factor × bundle factor."""

    size: ConductorSize
    table_gauge: str
    insulation_class_c: float
    ambient_c: float
    bundle_count: int
    base_a: float
    ambient_ratio: float
    bundle_ratio: float
    value_a: float
    source: str
    edition: str


@cache
def _base_amperages_a() -> dict[str, dict[float, float]]:
    rows = load_table("allowable_amperage").rows
    return {row["gauge"]: {float(c): float(a) for c, a in row.items() if c != "gauge"} for row in rows}


@cache
def _tabulated_factors() -> dict[tuple[float, float], float]:
    rows = load_table("engine_space_factors").rows
    return {(float(row["insulation_c"]), float(row["ambient_c"])): float(row["factor"]) for row in rows}


@cache
def _bundle_bands() -> tuple[tuple[int, float], ...]:
    """Each band's first count with its factor, highest band first."""
    rows = load_table("bundle_factors").rows
    return tuple(sorted(((int(row["from_count"]), float(row["factor"])) for row in rows), reverse=True))


@cache
def insulation_classes_c() -> tuple[float, ...]:
    """Return the insulation temperatures that the amperage table has a column for, lowest first [°C]."""
    return tuple(sorted(next(iter(_base_amperages_a().values()))))


def insulation_class_c(*, insulation_c: float) -> float:
    """
    Return the table's insulation temperature that covers a cable: the highest not above the cable's own.

    Parameters
    ----------
    insulation_c : float
        Temperature rating of the insulation, 60 to 300. [°C]

    Returns
    -------
    float
        60, 75, 80, 90, 105, 125 or 200. [°C]

    Raises
    ------
    OutOfRange
        If the rating is under 60 °C, where the table begins.

    Examples
    --------
    >>> insulation_class_c(insulation_c=85)
    80.0
    """
    check_within("insulation_c", insulation_c, 60.0, 300.0)
    return max(column for column in next(iter(_base_amperages_a().values())) if column <= insulation_c)


def ambient_factor_ratio(*, insulation_c: float, ambient_c: float) -> float:
    """
    Return the part of the table's amperage that is left at an ambient.

    Parameters
    ----------
    insulation_c : float
        Insulation class of the table. [°C]
    ambient_c : float
        Hottest air around the conductor, -60 to 300. [°C]

    Returns
    -------
    float
        1 up to 30 °C, 0 from the insulation temperature up. [1]

    Raises
    ------
    OutOfRange
        If the ambient is not finite or outside the range above.

    Notes
    -----
    The law is sqrt((T_insulation - T_ambient) / (T_insulation - 30)): heat given off goes with the temperature
    difference, heat made with the square of the current. At exactly 50 °C the Code's own engine-space figure is used
    instead, which lies up to 0.8 % off the law (200 °C insulation: 6 % above it). Colder than 30 °C nothing is added.

    Examples
    --------
    >>> ambient_factor_ratio(insulation_c=105, ambient_c=50)
    0.85
    >>> round(ambient_factor_ratio(insulation_c=125, ambient_c=105), 2)
    0.46

    References
    ----------
    .. [1] 33 CFR 183.425 Table 5, Note 1.
    """
    check_within("ambient_c", ambient_c, -60.0, 300.0)
    if ambient_c <= REFERENCE_AMBIENT_C:
        return 1.0
    if ambient_c >= insulation_c:
        return 0.0
    tabulated = _tabulated_factors().get((insulation_c, ambient_c))
    if tabulated is not None:
        return tabulated
    return math.sqrt((insulation_c - ambient_c) / (insulation_c - REFERENCE_AMBIENT_C))


def bundle_factor_ratio(*, count: int) -> float:
    """
    Return the part of the amperage left when several current-carrying conductors lie together.

    Parameters
    ----------
    count : int
        Current-carrying conductors in the bundle, this one and wired returns included, spares not; at least 1.

    Returns
    -------
    float
        1.00 for one or two, then by the bands of the table. [1]

    Raises
    ------
    OutOfRange
        If ``count`` is not a whole number of at least 1.

    Examples
    --------
    >>> [bundle_factor_ratio(count=n) for n in (2, 3, 4, 6, 7, 24, 25)]
    [1.0, 0.7, 0.6, 0.6, 0.5, 0.5, 0.4]
    """
    check_count("count", count, least=1)
    return next(factor for first, factor in _bundle_bands() if count >= first)


def ampacity(*, size: ConductorSize, insulation_c: float, ambient_c: float, bundle_count: int = 1) -> Ampacity:
    """
    Return what a conductor may carry where it lies, with every figure on the way.

    Parameters
    ----------
    size : ConductorSize
        Gauge with its basis.
    insulation_c : float
        Temperature rating of the insulation, 60 to 300. [°C]
    ambient_c : float
        Hottest air along the run. [°C]
    bundle_count : int, default 1
        Current-carrying conductors lying together.

    Returns
    -------
    Ampacity
        The current and its factors.

    Raises
    ------
    UnknownTableEntry
        If the table has no row for the size (smaller than 18 gauge).
    OutOfRange
        If a temperature or the count is outside its range.

    Notes
    -----
    AWG and SAE gauges read the row of their label. A metric size reads the row of the largest SAE gauge whose least
    area it reaches. Terminals, holders and breakers have limits of their own, often lower.

    Examples
    --------
    >>> size = ConductorSize(GaugeBasis.SAE, "12")
    >>> round(ampacity(size=size, insulation_c=105, ambient_c=50, bundle_count=4).value_a, 2)
    22.95
    """
    column = insulation_class_c(insulation_c=insulation_c)
    gauge = _table_gauge(size)
    base_a = _base_amperages_a()[gauge][column]
    ambient_ratio = ambient_factor_ratio(insulation_c=column, ambient_c=ambient_c)
    bundle_ratio = bundle_factor_ratio(count=bundle_count)
    table = load_table("allowable_amperage")
    return Ampacity(
        size=size,
        table_gauge=gauge,
        insulation_class_c=column,
        ambient_c=ambient_c,
        bundle_count=bundle_count,
        base_a=base_a,
        ambient_ratio=ambient_ratio,
        bundle_ratio=bundle_ratio,
        value_a=base_a * ambient_ratio * bundle_ratio,
        source=table.source,
        edition=table.edition,
    )


@cache
def _table_gauge(size: ConductorSize) -> str:
    """The row of the amperage table that a size reads."""
    if size.basis is not GaugeBasis.METRIC:
        covered = [size.gauge] if size.gauge in _base_amperages_a() else []
    else:
        covered = [sae.gauge for sae in sizes(GaugeBasis.SAE) if area_mm2(sae) <= area_mm2(size)]
    if not covered:
        raise UnknownTableEntry("The allowable-amperage table", str(size), "18 gauge and larger")
    return covered[-1]
