"""
Whether of two devices in a row only the one nearer the fault opens, by their opening times with tolerance.

A rating alone does not tell: a slow fuse behind a quick one of twice its rating is the later of the two. The gates of a
family say the soonest and the latest any device of it opens at a multiple of its rating, so two devices are selective where
the latest of the one behind is sooner than the soonest of the one before it, at every current a fault may have.
"""

import math
from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache

from builds.engineering.electrical.protection import device_family, opening_gates
from builds.engineering.ranges import check_within

__all__ = ["OpeningTime", "Selectivity", "opening_time", "selectivity"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningTime:
    """The soonest and the latest a device opens; infinite where it may hold for good."""

    least_s: float
    most_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Selectivity:
    """
    How two devices in a row stand to each other over the currents a fault may have.

    ``upto_a`` is the largest current below which only the one behind opens, infinite where that is so all the way.
    """

    selective: bool
    upto_a: float


Curve = tuple[tuple[float, ...], tuple[float, ...]]  # logarithms of multiple and time, multiples rising


@lru_cache(maxsize=256)
def _curves(family: str) -> tuple[Curve, Curve] | None:
    """The soonest and the latest opening of a family; None where no gates are tabulated."""
    gates = opening_gates(family)
    least = [(math.log(gate.load_ratio), math.log(gate.least_s)) for gate in gates if gate.least_s is not None]
    most = [(math.log(gate.load_ratio), math.log(gate.most_s)) for gate in gates if gate.most_s is not None]
    if not least or not most:
        return None
    return (tuple(x for x, _ in least), tuple(y for _, y in least)), (
        tuple(x for x, _ in most),
        tuple(y for _, y in most),
    )


def _log_time(curve: Curve, log_ratio: float) -> float:
    """Logarithm of the time on a curve: infinite below it, on straight lines within, at equal heat let through above."""
    xs, ys = curve
    if log_ratio < xs[0] - 1e-12:
        return math.inf
    if log_ratio >= xs[-1]:
        return ys[-1] - 2 * (log_ratio - xs[-1])
    at = max(bisect_left(xs, log_ratio), 1)
    share = (log_ratio - xs[at - 1]) / (xs[at] - xs[at - 1])
    return ys[at - 1] + share * (ys[at] - ys[at - 1])


def opening_time(*, family: str, rating_a: float, current_a: float) -> OpeningTime | None:
    """
    Return between which times a device opens.

    Parameters
    ----------
    family : str
        Key of the family.
    rating_a : float
        Rating of the device, above 0. [A]
    current_a : float
        Current through it, above 0. [A]

    Returns
    -------
    OpeningTime or None
        None where the family's gates are not tabulated.

    Raises
    ------
    UnknownTableEntry
        If there is no such family.
    OutOfRange
        If a current is outside its range.

    Examples
    --------
    >>> opening_time(family="ATO", rating_a=10, current_a=20)
    OpeningTime(least_s=0.15, most_s=5.0)
    """
    check_within("rating_a", rating_a, 0.001, 1e9)
    check_within("current_a", current_a, 1e-9, 1e9)
    curves = _curves(device_family(family).key)
    if curves is None:
        return None
    log_ratio = math.log(current_a / rating_a)
    least, most = (math.exp(_log_time(curve, log_ratio)) for curve in curves)
    return OpeningTime(least_s=round(least, 12), most_s=round(most, 12))


@lru_cache(maxsize=4096)
def selectivity(
    *, family: str, rating_a: float, before_family: str, before_rating_a: float, fault_a: float
) -> Selectivity | None:
    """
    Return whether a device opens before the one that feeds it does, whatever a fault behind it draws.

    Parameters
    ----------
    family, before_family : str
        Keys of the families: of the device nearer the fault, and of the one before it.
    rating_a, before_rating_a : float
        Their ratings, above 0. [A]
    fault_a : float
        The most a fault behind the nearer device draws, above 0. [A]

    Returns
    -------
    Selectivity or None
        None where the gates of one of the families are not tabulated.

    Raises
    ------
    UnknownTableEntry
        If there is no such family.
    OutOfRange
        If a current is outside its range.

    Notes
    -----
    Both curves are straight between gates in logarithms, so it is enough to look at the gates of both and at the ends.
    Overloads too small for the nearer device to be sure to open are not looked at: there nothing is decided by time.

    Examples
    --------
    >>> selectivity(family="ATO", rating_a=15, before_family="MAXI", before_rating_a=50, fault_a=800).selective
    True
    >>> selectivity(family="MAXI", rating_a=50, before_family="ATO", before_rating_a=40, fault_a=800).selective
    False
    """
    for name, value in (("rating_a", rating_a), ("before_rating_a", before_rating_a), ("fault_a", fault_a)):
        check_within(name, value, 1e-9, 1e9)
    here, before = _curves(device_family(family).key), _curves(device_family(before_family).key)
    if here is None or before is None:
        return None
    latest, soonest = here[1], before[0]
    own, other = math.log(rating_a), math.log(before_rating_a)
    from_x, upto_x = latest[0][0] + own, math.log(fault_a)
    gates = {x + own for x in latest[0]} | {x + other for x in soonest[0]} | {upto_x}
    last_good = -math.inf
    for x in sorted({from_x} | {x for x in gates if from_x < x <= upto_x}):
        if x > upto_x:
            break
        spare = _log_time(soonest, x - other) - _log_time(latest, x - own)
        if spare <= 0:
            return Selectivity(selective=False, upto_a=math.exp(_crossing(last_good, x, latest, own, soonest, other)))
        last_good = x
    return Selectivity(selective=True, upto_a=math.inf)


def _crossing(low: float, high: float, latest: Curve, own: float, soonest: Curve, other: float) -> float:
    """Where on a stretch the time to spare is used up; its upper end where it was never there."""
    if math.isinf(low):
        return high
    for _ in range(60):
        middle = (low + high) / 2
        if _log_time(soonest, middle - other) > _log_time(latest, middle - own):
            low = middle
        else:
            high = middle
    return low
