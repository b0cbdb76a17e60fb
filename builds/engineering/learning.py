"""
Learning over a fleet: the two curves in use, kept apart by name.

Both say that each doubling of the quantity takes the same part off. **Wright** says it of the *cumulative average*,
**Crawford** of the *single unit*. At 80 % and 100 h for the first, the second unit takes 60 h by Wright and 80 h by
Crawford: a rate means nothing without the name of its curve.
"""

import math

from builds.engineering.ranges import check_count, check_within

__all__ = [
    "crawford_first_h",
    "crawford_total_h",
    "crawford_unit_h",
    "learning_exponent",
    "wright_average_h",
    "wright_total_h",
]


def learning_exponent(*, rate_ratio: float) -> float:
    """
    Return the exponent of a learning rate.

    Parameters
    ----------
    rate_ratio : float
        What is left after a doubling, 0.5 to 1 (0.80 for an 80 % curve). [1]

    Returns
    -------
    float
        b = ln(rate) / ln 2, at most 0. [1]

    Raises
    ------
    OutOfRange
        If the rate is outside its range.

    Examples
    --------
    >>> round(learning_exponent(rate_ratio=0.8), 4)
    -0.3219
    """
    check_within("rate_ratio", rate_ratio, 0.5, 1.0)
    return math.log(rate_ratio) / math.log(2)


def wright_average_h(*, first_h: float, rate_ratio: float, units: int) -> float:
    """
    Return the average hours of a number of units by Wright's curve.

    Parameters
    ----------
    first_h : float
        Hours of the first unit, 0 to 100,000. [h]
    rate_ratio : float
        What is left of the average after a doubling, 0.5 to 1. [1]
    units : int
        How many units, at least 1.

    Returns
    -------
    float
        A = T1 n^b. [h]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> [round(wright_average_h(first_h=100, rate_ratio=0.8, units=n), 2) for n in (1, 2, 4, 8, 16)]
    [100.0, 80.0, 64.0, 51.2, 40.96]
    """
    check_within("first_h", first_h, 0.0, 100_000.0)
    check_count("units", units, least=1)
    return float(first_h * units ** learning_exponent(rate_ratio=rate_ratio))


def wright_total_h(*, first_h: float, rate_ratio: float, units: int) -> float:
    """
    Return the hours of a number of units together by Wright's curve.

    Parameters
    ----------
    first_h : float
        Hours of the first unit, 0 to 100,000. [h]
    rate_ratio : float
        What is left of the average after a doubling, 0.5 to 1. [1]
    units : int
        How many units, at least 1.

    Returns
    -------
    float
        n x average. [h]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.
    """
    return units * wright_average_h(first_h=first_h, rate_ratio=rate_ratio, units=units)


def crawford_unit_h(*, first_h: float, rate_ratio: float, unit: int) -> float:
    """
    Return the hours of one unit by Crawford's curve.

    Parameters
    ----------
    first_h : float
        Hours of the first unit, 0 to 100,000. [h]
    rate_ratio : float
        What is left of a unit's hours after a doubling, 0.5 to 1. [1]
    unit : int
        Which unit, at least 1.

    Returns
    -------
    float
        T = T1 n^b. [h]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> round(crawford_unit_h(first_h=2000, rate_ratio=0.8, unit=10))
    953
    """
    check_within("first_h", first_h, 0.0, 100_000.0)
    check_count("unit", unit, least=1)
    return float(first_h * unit ** learning_exponent(rate_ratio=rate_ratio))


def crawford_total_h(*, first_h: float, rate_ratio: float, units: int) -> float:
    """
    Return the hours of a number of units together by Crawford's curve.

    Parameters
    ----------
    first_h : float
        Hours of the first unit, 0 to 100,000. [h]
    rate_ratio : float
        What is left of a unit's hours after a doubling, 0.5 to 1. [1]
    units : int
        How many units, at least 1.

    Returns
    -------
    float
        The exact sum of the units, not the integral that stands for it in some books (poor below 100 units). [h]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> round(crawford_total_h(first_h=2000, rate_ratio=0.8, units=10))
    12631
    """
    check_count("units", units, least=1)
    each = (crawford_unit_h(first_h=first_h, rate_ratio=rate_ratio, unit=unit) for unit in range(1, units + 1))
    return math.fsum(each)


def crawford_first_h(*, unit_h: float, rate_ratio: float, unit: int) -> float:
    """
    Return the hours of the first unit that a later one implies by Crawford's curve.

    Parameters
    ----------
    unit_h : float
        Hours of the later unit, 0 to 100,000. [h]
    rate_ratio : float
        What is left of a unit's hours after a doubling, 0.5 to 1. [1]
    unit : int
        Which unit it was, at least 1.

    Returns
    -------
    float
        T1 = T / n^b. [h]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> round(crawford_first_h(unit_h=120, rate_ratio=0.75, unit=100), 1)
    811.4
    """
    check_within("unit_h", unit_h, 0.0, 100_000.0)
    check_count("unit", unit, least=1)
    return float(unit_h / unit ** learning_exponent(rate_ratio=rate_ratio))
