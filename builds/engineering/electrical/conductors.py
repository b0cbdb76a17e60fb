"""
Conductor sizes in the basis they are declared in, their areas, and their resistance at a temperature.

A gauge is a label of a table. "10" is 5.26 mm² by AWG and 4.73 mm² by the SAE least area, so a size always carries its
basis, and sizes of different bases are compared by area.
"""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

from builds.engineering.errors import NoStandardSize, UnknownTableEntry
from builds.engineering.ranges import check_within
from builds.engineering.tables.loader import load_table
from builds.engineering.units import square_millimetres_mm2
from builds.engineering.vocabulary import GaugeBasis

__all__ = [
    "COLDEST_CABLE_C",
    "ConductorSize",
    "area_mm2",
    "next_larger",
    "resistance_ohm_per_m",
    "resistance_ratio",
    "sizes",
    "smallest_of_area",
]

COPPER_RESISTIVITY_20C_OHM_MM2_PER_M = 0.017241  # IEC 60028, annealed copper
COPPER_INFERRED_ZERO_C = 234.5  # FAA AC 43.13-1B figure 11-4a: R(T) = R20 (234.5 + T) / 254.5
COLDEST_CABLE_C = -40.0  # the cold end of cross-linked road-vehicle cable, SAE J1128 (secondary source)


@dataclass(frozen=True, slots=True, order=False)
class ConductorSize:
    """A gauge and the table it is read in; a gauge the table does not have cannot be made."""

    basis: GaugeBasis
    gauge: str

    def __post_init__(self) -> None:
        if self.gauge not in _resistances_20c_ohm_per_m(self.basis):
            known = ", ".join(_resistances_20c_ohm_per_m(self.basis))
            raise UnknownTableEntry(f"The {_BASIS_NAMES[self.basis]} table", self.gauge, known)

    def __str__(self) -> str:
        if self.basis is GaugeBasis.METRIC:
            return f"{self.gauge} mm²"
        return f"{self.gauge} {self.basis.upper()}"


_BASIS_NAMES = {GaugeBasis.SAE: "SAE gauge", GaugeBasis.AWG: "AWG", GaugeBasis.METRIC: "metric size"}


@cache
def _areas_mm2(basis: GaugeBasis) -> dict[str, float]:
    """Areas by gauge, smallest first."""
    if basis is GaugeBasis.SAE:
        rows = load_table("sae_areas").rows
        return {row["gauge"]: square_millimetres_mm2(float(row["sae_least_cmil"])) for row in rows}
    if basis is GaugeBasis.AWG:
        return {row["gauge"]: float(row["area_mm2"]) for row in load_table("awg_areas").rows}
    return {row["size"]: float(row["area_mm2"]) for row in load_table("metric_sizes").rows}


@cache
def _resistances_20c_ohm_per_m(basis: GaugeBasis) -> dict[str, float]:
    """Resistances by gauge: the tabulated most for metric cable, ideal copper of the least area for gauges."""
    if basis is GaugeBasis.METRIC:
        rows = load_table("metric_sizes").rows
        return {row["size"]: float(row["most_20c_ohm_per_km"]) / 1000 for row in rows}
    return {gauge: COPPER_RESISTIVITY_20C_OHM_MM2_PER_M / area for gauge, area in _areas_mm2(basis).items()}


@cache
def sizes(basis: GaugeBasis) -> tuple[ConductorSize, ...]:
    """Return every size of a basis, smallest first."""
    return tuple(ConductorSize(basis, gauge) for gauge in _areas_mm2(basis))


def area_mm2(size: ConductorSize) -> float:
    """
    Return the copper area of a size.

    Parameters
    ----------
    size : ConductorSize
        Gauge with its basis.

    Returns
    -------
    float
        Least area for SAE gauges, area of the solid round wire for AWG, nominal area for metric sizes. [mm²]

    Examples
    --------
    >>> round(area_mm2(ConductorSize(GaugeBasis.AWG, "10")), 2), round(area_mm2(ConductorSize(GaugeBasis.SAE, "10")), 2)
    (5.26, 4.73)
    """
    return _areas_mm2(size.basis)[size.gauge]


def resistance_ratio(*, temperature_c: float) -> float:
    """
    Return a copper conductor's resistance at a temperature over its resistance at 20 °C.

    Parameters
    ----------
    temperature_c : float
        Conductor temperature, -60 to 250. [°C]

    Returns
    -------
    float
        Ratio, 1 at 20 °C. [1]

    Raises
    ------
    OutOfRange
        If the temperature is not finite or outside the range above.

    Examples
    --------
    >>> round(resistance_ratio(temperature_c=105), 4)
    1.334

    References
    ----------
    .. [1] FAA AC 43.13-1B, p. 11-22.
    """
    check_within("temperature_c", temperature_c, -60.0, 250.0)
    return (COPPER_INFERRED_ZERO_C + temperature_c) / (COPPER_INFERRED_ZERO_C + 20)


def resistance_ohm_per_m(*, size: ConductorSize, temperature_c: float = 20.0) -> float:
    """
    Return the resistance of one conductor per metre.

    Parameters
    ----------
    size : ConductorSize
        Gauge with its basis.
    temperature_c : float, default 20.0
        Conductor temperature, -60 to 250. [°C]

    Returns
    -------
    float
        Resistance. [Ω/m]

    Raises
    ------
    OutOfRange
        If the temperature is not finite or outside the range above.

    Notes
    -----
    Gauges are ideal copper of their area. A stranded AWG cable is about 2 % above that; an SAE least area and the
    metric table already stand on the safe side of most cable.

    Examples
    --------
    >>> round(resistance_ohm_per_m(size=ConductorSize(GaugeBasis.AWG, "14")) * 1000, 3)
    8.285

    References
    ----------
    .. [1] IEC 60028, annealed copper.
    .. [2] IEC 60228, class 5, for metric sizes.
    """
    return _resistances_20c_ohm_per_m(size.basis)[size.gauge] * resistance_ratio(temperature_c=temperature_c)


def smallest_of_area(*, basis: GaugeBasis, least_mm2: float, stocked: Collection[str] | None = None) -> ConductorSize:
    """
    Return the smallest size whose area is at least the one asked for.

    Parameters
    ----------
    basis : GaugeBasis
        Table to choose from.
    least_mm2 : float
        Area asked for, at least 0. [mm²]
    stocked : collection of str, optional
        Gauges on the shelf; every size of the table if not given.

    Returns
    -------
    ConductorSize
        The smallest that will do.

    Raises
    ------
    NoStandardSize
        If none is large enough.
    """
    for size in _choices(basis, stocked):
        if area_mm2(size) >= least_mm2:
            return size
    raise NoStandardSize(f"The {_BASIS_NAMES[basis]} table", f"{least_mm2:.4g} mm²")


def next_larger(size: ConductorSize, *, stocked: Collection[str] | None = None) -> ConductorSize:
    """
    Return the next size up in the same basis.

    Parameters
    ----------
    size : ConductorSize
        Where to start.
    stocked : collection of str, optional
        Gauges on the shelf; every size of the table if not given.

    Returns
    -------
    ConductorSize
        The smallest that is larger.

    Raises
    ------
    NoStandardSize
        If there is none.

    Examples
    --------
    >>> str(next_larger(ConductorSize(GaugeBasis.SAE, "14"), stocked=("10", "14", "16")))
    '10 SAE'
    """
    for other in _choices(size.basis, stocked):
        if area_mm2(other) > area_mm2(size):
            return other
    raise NoStandardSize(f"The {_BASIS_NAMES[size.basis]} table", f"more than {size}")


def _choices(basis: GaugeBasis, stocked: Collection[str] | None) -> tuple[ConductorSize, ...]:
    if stocked is None:
        return sizes(basis)
    return tuple(size for size in sizes(basis) if size.gauge in stocked)
