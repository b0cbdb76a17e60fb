"""
Named conversions for the edges of the core, which itself is SI.

Each factor is exact by definition: the foot is 0.3048 m and the pound 0.45359237 kg (international yard and pound
agreement of 1959).
"""

import math

__all__ = [
    "KG_PER_LB",
    "MM2_PER_CMIL",
    "M_PER_FT",
    "N_PER_LBF",
    "celsius_from_fahrenheit_c",
    "circular_mils_cmil",
    "feet_ft",
    "kilograms_kg",
    "metres_m",
    "pounds_lb",
    "square_millimetres_mm2",
]

M_PER_FT = 0.3048
KG_PER_LB = 0.45359237
N_PER_LBF = KG_PER_LB * 9.80665
# A circular mil is the area of a circle one thousandth of an inch across.
MM2_PER_CMIL = math.pi / 4 * 0.0254**2


def metres_m(length_ft: float) -> float:
    """
    Return a length in metres.

    Parameters
    ----------
    length_ft : float
        Length. [ft]

    Returns
    -------
    float
        Length. [m]

    Examples
    --------
    >>> metres_m(10)
    3.048
    """
    return length_ft * M_PER_FT


def feet_ft(length_m: float) -> float:
    """
    Return a length in feet.

    Parameters
    ----------
    length_m : float
        Length. [m]

    Returns
    -------
    float
        Length. [ft]
    """
    return length_m / M_PER_FT


def kilograms_kg(mass_lb: float) -> float:
    """
    Return a mass in kilograms.

    Parameters
    ----------
    mass_lb : float
        Mass. [lb]

    Returns
    -------
    float
        Mass. [kg]

    Examples
    --------
    >>> round(kilograms_kg(150), 3)
    68.039
    """
    return mass_lb * KG_PER_LB


def pounds_lb(mass_kg: float) -> float:
    """
    Return a mass in pounds.

    Parameters
    ----------
    mass_kg : float
        Mass. [kg]

    Returns
    -------
    float
        Mass. [lb]
    """
    return mass_kg / KG_PER_LB


def square_millimetres_mm2(area_cmil: float) -> float:
    """
    Return an area in square millimetres.

    Parameters
    ----------
    area_cmil : float
        Area in circular mils. [cmil]

    Returns
    -------
    float
        Area. [mm²]

    Examples
    --------
    >>> round(square_millimetres_mm2(10381), 2)
    5.26
    """
    return area_cmil * MM2_PER_CMIL


def circular_mils_cmil(area_mm2: float) -> float:
    """
    Return an area in circular mils.

    Parameters
    ----------
    area_mm2 : float
        Area. [mm²]

    Returns
    -------
    float
        Area in circular mils. [cmil]
    """
    return area_mm2 / MM2_PER_CMIL


def celsius_from_fahrenheit_c(temperature_f: float) -> float:
    """
    Return a temperature in degrees Celsius.

    Parameters
    ----------
    temperature_f : float
        Temperature in degrees Fahrenheit. [°F]

    Returns
    -------
    float
        Temperature. [°C]

    Examples
    --------
    >>> round(celsius_from_fahrenheit_c(80.6), 6)
    27.0
    """
    return (temperature_f - 32) / 1.8
