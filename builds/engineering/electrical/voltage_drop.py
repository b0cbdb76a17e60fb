"""
Voltage lost along conductors: leg by leg, as a part of a declared base, and by the published K form.

A percentage is of something: 0.8712 V is 7.26 % of 12 V and 6.15 % of 14.16 V. Every ratio here names its base.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from builds.engineering.electrical.conductors import (
    COPPER_INFERRED_ZERO_C,
    ConductorSize,
    resistance_ohm_per_m,
    sizes,
)
from builds.engineering.errors import NoStandardSize
from builds.engineering.ranges import check_at_least, check_within
from builds.engineering.vocabulary import GaugeBasis

__all__ = [
    "K_OHM_CMIL_PER_FT",
    "DropLeg",
    "drop_by_leg_v",
    "drop_ratio",
    "k_form_area_cmil",
    "k_form_drop_v",
    "resistance_of_run_ohm",
    "same_drop_length_m",
    "smallest_for_drop",
]

# The constant of the published formula. Pure copper is 10.371 Ω·cmil/ft at 20 °C, so this is a conductor at 29.3 °C, not
# a hot one: at 105 °C copper is 13.84.
K_OHM_CMIL_PER_FT = 10.75


@dataclass(frozen=True, slots=True, kw_only=True)
class DropLeg:
    """One leg of a way out or back: a run, a contact, a stud, a strap."""

    name: str
    current_a: float
    resistance_ohm: float

    @property
    def drop_v(self) -> float:
        """Voltage across the leg."""
        return self.current_a * self.resistance_ohm


def resistance_of_run_ohm(*, size: ConductorSize, length_m: float, temperature_c: float, parallel: int = 1) -> float:
    """
    Return the resistance of one leg of a run.

    Parameters
    ----------
    size : ConductorSize
        Gauge with its basis.
    length_m : float
        Length of this leg, at least 0. [m]
    temperature_c : float
        Conductor temperature. [°C]
    parallel : int, default 1
        Equal conductors side by side, at least 1.

    Returns
    -------
    float
        Resistance. [Ω]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.
    """
    check_at_least("length_m", length_m, 0.0)
    check_at_least("parallel", parallel, 1)
    return resistance_ohm_per_m(size=size, temperature_c=temperature_c) * length_m / parallel


def drop_by_leg_v(legs: Sequence[DropLeg]) -> float:
    """Return the voltage lost over all legs together."""
    return sum(leg.drop_v for leg in legs)


def drop_ratio(*, drop_v: float, base_v: float) -> float:
    """
    Return a drop as a part of its declared base.

    Parameters
    ----------
    drop_v : float
        Voltage lost. [V]
    base_v : float
        The voltage the rule counts from, above 0. [V]

    Returns
    -------
    float
        Ratio. [1]

    Raises
    ------
    OutOfRange
        If the base is not above 0.

    Examples
    --------
    >>> round(drop_ratio(drop_v=0.8712, base_v=12), 4)
    0.0726
    """
    check_within("base_v", base_v, 0.1, 1000.0)
    return drop_v / base_v


def k_form_area_cmil(*, current_a: float, length_total_ft: float, drop_v: float) -> float:
    """
    Return the area the published formula asks for: CM = K I L / E.

    Parameters
    ----------
    current_a : float
        Current, at least 0. [A]
    length_total_ft : float
        Length out and back together, at least 0. [ft]
    drop_v : float
        Drop allowed, above 0. [V]

    Returns
    -------
    float
        Area in circular mils. [cmil]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> k_form_area_cmil(current_a=10, length_total_ft=21, drop_v=1.2)
    1881.25
    """
    check_at_least("current_a", current_a, 0.0)
    check_at_least("length_total_ft", length_total_ft, 0.0)
    check_within("drop_v", drop_v, 1e-6, 1000.0)
    return K_OHM_CMIL_PER_FT * current_a * length_total_ft / drop_v


def k_form_drop_v(*, current_a: float, length_total_ft: float, area_cmil: float) -> float:
    """
    Return the drop by the published formula: E = K I L / CM.

    Parameters
    ----------
    current_a : float
        Current, at least 0. [A]
    length_total_ft : float
        Length out and back together, at least 0. [ft]
    area_cmil : float
        Area in circular mils, above 0. [cmil]

    Returns
    -------
    float
        Voltage lost. [V]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> round(k_form_drop_v(current_a=10, length_total_ft=30, area_cmil=3702), 4)
    0.8712
    """
    check_at_least("current_a", current_a, 0.0)
    check_at_least("length_total_ft", length_total_ft, 0.0)
    check_within("area_cmil", area_cmil, 1e-3, 1e9)
    return K_OHM_CMIL_PER_FT * current_a * length_total_ft / area_cmil


def same_drop_length_m(*, length_20c_m: float, temperature_c: float) -> float:
    """
    Return how long a hot conductor may be for the drop that a longer one has at 20 °C.

    Parameters
    ----------
    length_20c_m : float
        Length allowed at 20 °C, at least 0. [m]
    temperature_c : float
        Conductor temperature, -60 to 250. [°C]

    Returns
    -------
    float
        L2 = 254.5 L1 / (234.5 + T2). [m]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    References
    ----------
    .. [1] FAA AC 43.13-1B, p. 11-22.
    """
    check_at_least("length_20c_m", length_20c_m, 0.0)
    check_within("temperature_c", temperature_c, -60.0, 250.0)
    return length_20c_m * (COPPER_INFERRED_ZERO_C + 20) / (COPPER_INFERRED_ZERO_C + temperature_c)


def smallest_for_drop(
    *, basis: GaugeBasis, current_a: float, length_total_m: float, temperature_c: float, limit_v: float
) -> ConductorSize:
    """
    Return the smallest size whose drop is within a limit.

    Parameters
    ----------
    basis : GaugeBasis
        Table to choose from.
    current_a : float
        Current, at least 0. [A]
    length_total_m : float
        Length out and back together, at least 0. [m]
    temperature_c : float
        Conductor temperature. [°C]
    limit_v : float
        Drop allowed, above 0. [V]

    Returns
    -------
    ConductorSize
        The smallest that will do.

    Raises
    ------
    NoStandardSize
        If none is large enough.
    OutOfRange
        If an argument is outside its range.
    """
    check_at_least("current_a", current_a, 0.0)
    check_within("limit_v", limit_v, 1e-6, 1000.0)
    for size in sizes(basis):
        leg_ohm = resistance_of_run_ohm(size=size, length_m=length_total_m, temperature_c=temperature_c)
        if current_a * leg_ohm <= limit_v:
            return size
    raise NoStandardSize(f"The {basis} sizes", f"{limit_v:g} V at {current_a:g} A over {length_total_m:g} m")
