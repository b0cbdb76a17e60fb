"""
What a load takes: at which voltage, and which of its three currents for which use.

**Mean** is for source and battery, **RMS** for the heat of fuse and conductor, **peak** for drop and switching. A light
of 6 A that is lit 40 % of the time has a mean of 2.4 A and an RMS of 3.8 A; sizing its fuse on the mean undersizes it.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from builds.engineering.ranges import check_at_least, check_ratio, check_within
from builds.engineering.vocabulary import LoadModel

__all__ = ["LoadCurrents", "add_currents", "current_at_voltage_a", "duty_ratio", "load_currents", "worst_current_a"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCurrents:
    """
    The currents of a load, or of several together.

    ``sizing_a`` is what fuse and wire are sized on: the peak where the load can be steady, else the RMS.
    """

    mean_a: float
    rms_a: float
    peak_a: float
    sizing_a: float


def duty_ratio(*, on_s: float, off_s: float) -> float:
    """
    Return the lit part of a flash cycle.

    Parameters
    ----------
    on_s : float
        Time on in one cycle, above 0. [s]
    off_s : float
        Time off in one cycle, at least 0. [s]

    Returns
    -------
    float
        Duty, above 0 to 1. [1]

    Raises
    ------
    OutOfRange
        If a time is not finite or outside its range.

    Examples
    --------
    >>> round(duty_ratio(on_s=3 * 0.200, off_s=0.250 + 0.250 + 0.850), 4)
    0.3077

    References
    ----------
    .. [1] NHTSA interpretation letter GF006498 (the flash pattern of the example).
    """
    check_within("on_s", on_s, 1e-6, 1e6)
    check_within("off_s", off_s, 0.0, 1e6)
    return on_s / (on_s + off_s)


def current_at_voltage_a(*, model: LoadModel, current_a: float, at_v: float, voltage_v: float) -> float:
    """
    Return a load's current at a voltage other than its data sheet's.

    Parameters
    ----------
    model : LoadModel
        How the current follows the voltage.
    current_a : float
        Current on the data sheet, at least 0. [A]
    at_v : float
        Voltage that current was stated at, above 0. [V]
    voltage_v : float
        Voltage asked for, above 0. [V]

    Returns
    -------
    float
        The same current, in proportion, or in inverse proportion. [A]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    A lamp's filament is treated as a plain resistance; it takes somewhat more than that below its rated voltage. A reading
    is compared with a calculated figure only after both are brought to one voltage with this function.

    Examples
    --------
    >>> current_at_voltage_a(model=LoadModel.CONSTANT_POWER, current_a=10, at_v=12.8, voltage_v=11.2) > 11.4
    True
    """
    check_at_least("current_a", current_a, 0.0)
    check_within("at_v", at_v, 0.1, 1000.0)
    check_within("voltage_v", voltage_v, 0.1, 1000.0)
    if model is LoadModel.RESISTIVE:
        return current_a * voltage_v / at_v
    if model is LoadModel.CONSTANT_POWER:
        return current_a * at_v / voltage_v
    return current_a


def worst_current_a(*, model: LoadModel, current_a: float, at_v: float, low_v: float, high_v: float) -> float:
    """
    Return the largest current a load takes anywhere between two voltages.

    Parameters
    ----------
    model : LoadModel
        How the current follows the voltage.
    current_a : float
        Current on the data sheet, at least 0. [A]
    at_v : float
        Voltage that current was stated at, above 0. [V]
    low_v : float
        Lowest operating voltage. [V]
    high_v : float
        Highest operating voltage. [V]

    Returns
    -------
    float
        The current at the low voltage for constant power, at the high voltage for a resistive load. [A]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.
    """
    at_low = current_at_voltage_a(model=model, current_a=current_a, at_v=at_v, voltage_v=low_v)
    at_high = current_at_voltage_a(model=model, current_a=current_a, at_v=at_v, voltage_v=high_v)
    return max(at_low, at_high)


def load_currents(*, current_a: float, quantity: int = 1, duty_ratio: float = 1.0, can_be_steady: bool) -> LoadCurrents:
    """
    Return the mean, RMS and peak of a flashing load.

    Parameters
    ----------
    current_a : float
        Current of one while it is on, at least 0. [A]
    quantity : int, default 1
        How many alike, on together.
    duty_ratio : float, default 1.0
        Lit part of the cycle, above 0 to 1. [1]
    can_be_steady : bool
        Whether a mode, a stuck rule or a lamp test can hold it on.

    Returns
    -------
    LoadCurrents
        mean = peak × duty, rms = peak × sqrt(duty).

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    The RMS is right for heat while the cycle is short beside the thermal time of the fuse (under about 2 s, common
    practice); slower cycles are to be declared as able to be steady.

    Examples
    --------
    >>> currents = load_currents(current_a=6, duty_ratio=0.4, can_be_steady=False)
    >>> round(currents.mean_a, 2), round(currents.rms_a, 2), currents.peak_a
    (2.4, 3.79, 6)
    """
    check_at_least("current_a", current_a, 0.0)
    check_at_least("quantity", quantity, 1)
    check_ratio("duty_ratio", duty_ratio)
    peak_a = current_a * quantity
    rms_a = peak_a * math.sqrt(duty_ratio)
    return LoadCurrents(
        mean_a=peak_a * duty_ratio, rms_a=rms_a, peak_a=peak_a, sizing_a=peak_a if can_be_steady else rms_a
    )


def add_currents(currents: Iterable[LoadCurrents]) -> LoadCurrents:
    """
    Return the currents of several loads in one conductor.

    Parameters
    ----------
    currents : iterable of LoadCurrents
        The loads that can be on together.

    Returns
    -------
    LoadCurrents
        Sums of each figure. The mean is exact; RMS and peak are upper bounds that hold however the flashes fall
        together (the RMS of a sum is never above the sum of the RMS values).
    """
    total = LoadCurrents(mean_a=0.0, rms_a=0.0, peak_a=0.0, sizing_a=0.0)
    for one in currents:
        total = LoadCurrents(
            mean_a=total.mean_a + one.mean_a,
            rms_a=total.rms_a + one.rms_a,
            peak_a=total.peak_a + one.peak_a,
            sizing_a=total.sizing_a + one.sizing_a,
        )
    return total
