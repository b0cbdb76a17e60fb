"""
Batteries: Peukert's law in the rated-hours form, reserve minutes, and how long a load can be carried.

Two forms of Peukert's law are in print and mixing them is the classic mistake. The *rated-hours* form
``t = H (C / (I H))^k`` takes the capacity that stands on the battery together with its hours. The *one-ampere* form
``t = C_p / I^k`` takes a capacity that stands on no battery. For 100 Ah at 20 h, k 1.2 and 5 A the first gives 20 h, as it
must; the second, fed with the same 100, gives 14.5 h.
"""

import math
from dataclasses import dataclass
from functools import cache

from builds.engineering.errors import UnknownTableEntry
from builds.engineering.ranges import check_at_least, check_ratio, check_within
from builds.engineering.tables.loader import load_table

__all__ = [
    "RESERVE_CURRENT_A",
    "Discharge",
    "ReserveCheck",
    "check_reserve",
    "discharge_at",
    "one_ampere_form_h",
    "peukert_exponent",
    "rated_ah_estimate_ah",
    "reserve_ah",
    "source_default",
    "time_to_empty_h",
]

RESERVE_CURRENT_A = 25.0  # reserve capacity: minutes at 25 A, 27 °C, to 10.5 V


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharge:
    """
    A battery carrying a constant load down to its cut-off, with every ampere-hour accounted for.

    ``delivered_ah`` reached the load, ``peukert_extra_ah`` is what the rate of discharge made unavailable, and
    ``left_ah`` stays in the battery by choice; the three add up to the rated capacity.
    """

    time_h: float
    delivered_ah: float
    peukert_extra_ah: float
    left_ah: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReserveCheck:
    """Ampere-hours taken in the test against the part of the reserve it may take."""

    used_ah: float
    allowed_ah: float

    @property
    def within(self) -> bool:
        """Whether the test stays within what it may take."""
        return self.used_ah <= self.allowed_ah


@cache
def source_default(key: str) -> float:
    """Return a starting value of the table ``source_defaults``. Raises UnknownTableEntry for a key it does not have."""
    for row in load_table("source_defaults").rows:
        if row["key"] == key:
            return float(row["value"])
    raise UnknownTableEntry("The table of battery and alternator defaults", key)


def time_to_empty_h(*, capacity_ah: float, rated_hours: float, peukert_exponent: float, current_a: float) -> float:
    """
    Return how long a full battery gives a constant current until it is empty.

    Parameters
    ----------
    capacity_ah : float
        Capacity at its rated hours, 0.1 to 10,000. [Ah]
    rated_hours : float
        Hours that capacity is stated for (20 for most), 0.1 to 200. [h]
    peukert_exponent : float
        k, 1 (ideal) to 2. [1]
    current_a : float
        Constant current, above 0. [A]

    Returns
    -------
    float
        t = H (C / (I H))^k above the rated current C / H; C / I up to it. [h]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    The cap: below the rated current the bare law would give more than the label (a 70 Ah battery with k 1.2 would bear
    0.1 A for 58 days instead of 29), which no battery does.

    Examples
    --------
    >>> round(time_to_empty_h(capacity_ah=100, rated_hours=20, peukert_exponent=1.2, current_a=10), 4)
    8.7055
    >>> time_to_empty_h(capacity_ah=100, rated_hours=20, peukert_exponent=1.2, current_a=5)
    20.0
    """
    check_within("capacity_ah", capacity_ah, 0.1, 10_000.0)
    check_within("rated_hours", rated_hours, 0.1, 200.0)
    check_within("peukert_exponent", peukert_exponent, 1.0, 2.0)
    check_within("current_a", current_a, 1e-9, 1e9)
    rated_a = capacity_ah / rated_hours
    if current_a <= rated_a:
        return capacity_ah / current_a
    return float(rated_hours * (rated_a / current_a) ** peukert_exponent)


def discharge_at(
    *, capacity_ah: float, rated_hours: float, peukert_exponent: float, current_a: float, usable_ratio: float = 1.0
) -> Discharge:
    """
    Return the time to cut-off at a constant load, and where every ampere-hour went.

    Parameters
    ----------
    capacity_ah : float
        Capacity at its rated hours. [Ah]
    rated_hours : float
        Hours that capacity is stated for. [h]
    peukert_exponent : float
        k, 1 (ideal) to 2. [1]
    current_a : float
        Constant current, above 0. [A]
    usable_ratio : float, default 1.0
        Part of the battery that may be used, above 0 to 1. [1]

    Returns
    -------
    Discharge
        Time, and the accounts.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    At a constant current the charge falls on a straight line, so using half takes half the time. Coulombs are conserved:
    delivered = I t; Peukert's extra is an account of its own, 0 up to the rated current.

    Examples
    --------
    >>> half = discharge_at(capacity_ah=100, rated_hours=20, peukert_exponent=1.2, current_a=10, usable_ratio=0.5)
    >>> round(half.time_h, 3), round(half.delivered_ah, 2), round(half.peukert_extra_ah, 2), half.left_ah
    (4.353, 43.53, 6.47, 50.0)
    """
    check_ratio("usable_ratio", usable_ratio)
    time_h = usable_ratio * time_to_empty_h(
        capacity_ah=capacity_ah, rated_hours=rated_hours, peukert_exponent=peukert_exponent, current_a=current_a
    )
    delivered_ah = current_a * time_h
    usable_ah = usable_ratio * capacity_ah
    return Discharge(
        time_h=time_h,
        delivered_ah=delivered_ah,
        peukert_extra_ah=usable_ah - delivered_ah,
        left_ah=capacity_ah - usable_ah,
    )


def peukert_exponent(
    *, first_current_a: float, first_time_h: float, second_current_a: float, second_time_h: float
) -> float:
    """
    Return the exponent that two discharge times imply.

    Parameters
    ----------
    first_current_a : float
        A current, above 0. [A]
    first_time_h : float
        How long it lasted, above 0. [h]
    second_current_a : float
        Another current, above 0. [A]
    second_time_h : float
        How long that lasted, above 0. [h]

    Returns
    -------
    float
        k = ln(t1 / t2) / ln(I2 / I1). [1]

    Raises
    ------
    OutOfRange
        If a figure is not above 0 or the currents are equal.

    Examples
    --------
    >>> round(peukert_exponent(first_current_a=5, first_time_h=20, second_current_a=25, second_time_h=2), 6)
    1.430677
    """
    for name, value in (("first_current_a", first_current_a), ("second_current_a", second_current_a)):
        check_within(name, value, 1e-9, 1e6)
    for name, value in (("first_time_h", first_time_h), ("second_time_h", second_time_h)):
        check_within(name, value, 1e-9, 1e6)
    check_within("ratio of the currents", abs(math.log(second_current_a / first_current_a)), 1e-9, 1e3)
    return math.log(first_time_h / second_time_h) / math.log(second_current_a / first_current_a)


def one_ampere_form_h(*, peukert_capacity_ah: float, peukert_exponent: float, current_a: float) -> float:
    """
    Return the time to empty by the one-ampere form, for data sheets that give a *Peukert capacity*.

    Parameters
    ----------
    peukert_capacity_ah : float
        Peukert capacity (what the battery would give at 1 A by the law), above 0. [Ah]
    peukert_exponent : float
        k, 1 (ideal) to 2. [1]
    current_a : float
        Constant current, above 0. [A]

    Returns
    -------
    float
        t = C_p / I^k. [h]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> round(one_ampere_form_h(peukert_capacity_ah=250, peukert_exponent=1.3, current_a=20), 6)
    5.088632
    """
    check_within("peukert_capacity_ah", peukert_capacity_ah, 0.1, 100_000.0)
    check_within("peukert_exponent", peukert_exponent, 1.0, 2.0)
    check_within("current_a", current_a, 1e-9, 1e9)
    return float(peukert_capacity_ah / current_a**peukert_exponent)


def reserve_ah(*, reserve_min: float) -> float:
    """
    Return the ampere-hours that reserve minutes stand for: minutes at 25 A.

    Parameters
    ----------
    reserve_min : float
        Reserve capacity, at least 0. [min]

    Returns
    -------
    float
        RC x 25 / 60. [Ah]

    Raises
    ------
    OutOfRange
        If ``reserve_min`` is below 0 or not finite.

    Examples
    --------
    >>> reserve_ah(reserve_min=120)
    50.0
    """
    check_at_least("reserve_min", reserve_min, 0.0)
    return reserve_min * RESERVE_CURRENT_A / 60


def rated_ah_estimate_ah(*, reserve_min: float) -> float:
    """
    Return an *estimate* of the 20-hour capacity behind reserve minutes.

    Parameters
    ----------
    reserve_min : float
        Reserve capacity, at least 0. [min]

    Returns
    -------
    float
        0.6 x RC. [Ah]

    Raises
    ------
    OutOfRange
        If ``reserve_min`` is below 0 or not finite.

    Notes
    -----
    A rule of thumb; another in print, RC / 2 + 15.5, differs from it by up to 41 % at small RC. Print "estimate".

    Examples
    --------
    >>> rated_ah_estimate_ah(reserve_min=110)
    66.0
    """
    check_at_least("reserve_min", reserve_min, 0.0)
    return reserve_min * source_default("reserve_to_rated_ah_per_min")


def check_reserve(
    *, current_a: float, reserve_min: float, test_min: float | None = None, usable_ratio: float | None = None
) -> ReserveCheck:
    """
    Return how the engine-off test stands: a load for some minutes against a part of the reserve capacity.

    Parameters
    ----------
    current_a : float
        Minimum continuous load, at least 0. [A]
    reserve_min : float
        Reserve capacity of the batteries, at least 0. [min]
    test_min : float, optional
        Length of the test, at least 0; 10 if not given. [min]
    usable_ratio : float, optional
        Part of the reserve it may take, above 0 to 1; one half if not given. [1]

    Returns
    -------
    ReserveCheck
        Ampere-hours used and allowed.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> check_reserve(current_a=60, reserve_min=180)
    ReserveCheck(used_ah=10.0, allowed_ah=37.5)
    >>> check_reserve(current_a=60, reserve_min=45).within
    False

    References
    ----------
    .. [1] Fire-apparatus production specifications restating the low-voltage chapter of the national standard.
    """
    minutes = source_default("reserve_check_min") if test_min is None else test_min
    ratio = source_default("reserve_check_usable_ratio") if usable_ratio is None else usable_ratio
    check_at_least("current_a", current_a, 0.0)
    check_at_least("test_min", minutes, 0.0)
    check_ratio("usable_ratio", ratio)
    return ReserveCheck(used_ah=current_a * minutes / 60, allowed_ah=ratio * reserve_ah(reserve_min=reserve_min))
