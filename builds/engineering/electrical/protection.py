"""
Fuses and breakers: standard ratings, what heat leaves of them, the smallest that will do, and what they can break.

The families are data (``device_families``, ``device_ratings``, ``rerating_curves``, ``interrupting_capacities``,
``opening_times``), most of it from memory and marked so there: a device maker's figure replaces it.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import numpy as np

from builds.engineering.errors import NoStandardSize, UnknownTableEntry
from builds.engineering.findings import Severity
from builds.engineering.ranges import check_at_least, check_ratio, check_within
from builds.engineering.tables.loader import load_table

__all__ = [
    "DeviceFamily",
    "DeviceRating",
    "OpeningGate",
    "Reset",
    "device_families",
    "device_family",
    "device_margin_severity",
    "interrupting_capacity_a",
    "needed_rating_a",
    "opening_gates",
    "rerating_ratio",
    "smallest_device_a",
]

# Two figures that agree to nine digits are equal: 24 A on 80 % of 30 A is just allowed, whatever binary makes of 0.8.
ROUNDING_RATIO = 1e-9


class Reset(StrEnum):
    """How an opened breaker closes again: SAE J553 types 1, 2 and 3."""

    ALONE = "alone"
    POWER_OFF = "power-off"
    BY_HAND = "by-hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceRating:
    """A standard rating of a family, its body colour where the family is colour coded, and how far that is known."""

    rating_a: float
    colour: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceFamily:
    """
    A family of fuses or breakers.

    ``far_end_multiple_ratio`` is the fault current over rating at which it opens within seconds. ``reset`` is how an
    opened breaker closes again; a fuse does not.
    """

    key: str
    name: str
    is_breaker: bool
    rated_v: float
    far_end_multiple_ratio: float
    reset: Reset | None
    ratings: tuple[DeviceRating, ...]

    @property
    def cycles(self) -> bool:
        """Whether it closes again by itself while the fault lasts, and so needs another device before it."""
        return self.reset is Reset.ALONE

    @property
    def ratings_a(self) -> tuple[float, ...]:
        """The standard ratings, smallest first."""
        return tuple(rating.rating_a for rating in self.ratings)

    def colour_of(self, rating_a: float) -> str:
        """Return the body colour of a rating, empty where there is none."""
        return next((rating.colour for rating in self.ratings if rating.rating_a == rating_a), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningGate:
    """The times between which a device opens at a multiple of its rating; None where there is no limit."""

    load_ratio: float
    least_s: float | None
    most_s: float | None


@cache
def device_families() -> tuple[DeviceFamily, ...]:
    """Return every family, in the order of the table."""
    return tuple(
        DeviceFamily(
            key=row["family"],
            name=row["name"],
            is_breaker=row["kind"] == "breaker",
            rated_v=float(row["rated_v"]),
            far_end_multiple_ratio=float(row["far_end_multiple_ratio"]),
            reset=Reset(row["reset"]) if row["reset"] else None,
            ratings=_ratings(row["family"]),
        )
        for row in load_table("device_families").rows
    )


def _ratings(family: str) -> tuple[DeviceRating, ...]:
    rows = (row for row in load_table("device_ratings").rows if row["family"] == family)
    ratings = (
        DeviceRating(rating_a=float(row["rating_a"]), colour=row["colour"], status=row["status"]) for row in rows
    )
    return tuple(sorted(ratings, key=lambda rating: rating.rating_a))


@cache
def device_family(key: str) -> DeviceFamily:
    """
    Return a family by its key, upper or lower case.

    Raises
    ------
    UnknownTableEntry
        If there is none of that name.
    """
    for family in device_families():
        if family.key.casefold() == key.casefold():
            return family
    known = ", ".join(family.key for family in device_families())
    raise UnknownTableEntry("The table of device families", key, known)


@cache
def opening_gates(key: str) -> tuple[OpeningGate, ...]:
    """Return a family's opening times by multiple of rating, smallest first; none where they are not tabulated."""
    name = device_family(key).key
    return tuple(
        OpeningGate(load_ratio=float(row["load_ratio"]), least_s=_maybe(row["least_s"]), most_s=_maybe(row["most_s"]))
        for row in load_table("opening_times").rows
        if row["family"] == name
    )


def _maybe(text: str) -> float | None:
    return float(text) if text else None


@cache
def _curve(key: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    rows = [row for row in load_table("rerating_curves").rows if row["family"] == key]
    return tuple(float(row["ambient_c"]) for row in rows), tuple(float(row["factor"]) for row in rows)


def rerating_ratio(*, family: str, ambient_c: float) -> float:
    """
    Return the part of a device's rating that its surroundings leave.

    Parameters
    ----------
    family : str
        Key of the family.
    ambient_c : float
        Air at the device, -60 to 300. [°C]

    Returns
    -------
    float
        From the family's curve, on a straight line between its points; its first value in the cold, 0 beyond its end. [1]

    Raises
    ------
    UnknownTableEntry
        If there is no such family.
    OutOfRange
        If the ambient is not finite or outside the range above.

    Examples
    --------
    >>> rerating_ratio(family="ATO", ambient_c=65)
    0.9
    """
    check_within("ambient_c", ambient_c, -60.0, 300.0)
    temperatures, factors = _curve(device_family(family).key)
    if ambient_c > temperatures[-1]:
        return 0.0
    return float(np.interp(ambient_c, temperatures, factors))


def needed_rating_a(
    *, continuous_a: float, intermittent_a: float = 0.0, loading_ratio: float, ambient_ratio: float
) -> float:
    """
    Return the rating that a device must have at least.

    Parameters
    ----------
    continuous_a : float
        RMS current of what may stay on, at least 0. [A]
    intermittent_a : float, default 0.0
        Further current of what is on for moments only, at least 0. [A]
    loading_ratio : float
        The buyer's limit of continuous current over rerated rating, above 0 to 1. [1]
    ambient_ratio : float
        What the surroundings leave of the rating, above 0 to 1. [1]

    Returns
    -------
    float
        The larger of continuous / loading and continuous + intermittent, over the ambient ratio. [A]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> needed_rating_a(continuous_a=50, loading_ratio=0.8, ambient_ratio=1)
    62.5
    """
    check_at_least("continuous_a", continuous_a, 0.0)
    check_at_least("intermittent_a", intermittent_a, 0.0)
    check_ratio("loading_ratio", loading_ratio)
    check_ratio("ambient_ratio", ambient_ratio)
    return max(continuous_a / loading_ratio, continuous_a + intermittent_a) / ambient_ratio


def smallest_device_a(
    *, family: str, continuous_a: float, intermittent_a: float = 0.0, loading_ratio: float, ambient_c: float
) -> float:
    """
    Return the smallest standard rating that carries a load where the device sits.

    Parameters
    ----------
    family : str
        Key of the family.
    continuous_a : float
        RMS current of what may stay on, at least 0. [A]
    intermittent_a : float, default 0.0
        Further current of what is on for moments only, at least 0. [A]
    loading_ratio : float
        The buyer's limit of continuous current over rerated rating, above 0 to 1. [1]
    ambient_c : float
        Air at the device. [°C]

    Returns
    -------
    float
        A rating of the family. [A]

    Raises
    ------
    NoStandardSize
        If the family's largest is too small, or the place too hot for it.
    UnknownTableEntry
        If there is no such family.

    Examples
    --------
    >>> smallest_device_a(family="ATO", continuous_a=24, loading_ratio=0.8, ambient_c=25)
    30.0
    """
    chosen = device_family(family)
    ambient_ratio = rerating_ratio(family=family, ambient_c=ambient_c)
    if ambient_ratio == 0.0:
        raise NoStandardSize(f"The {chosen.name} family", f"{ambient_c:g} °C")
    needed_a = needed_rating_a(
        continuous_a=continuous_a,
        intermittent_a=intermittent_a,
        loading_ratio=loading_ratio,
        ambient_ratio=ambient_ratio,
    )
    for rating_a in chosen.ratings_a:
        if rating_a >= needed_a * (1 - ROUNDING_RATIO):
            return rating_a
    raise NoStandardSize(f"The {chosen.name} family", f"{needed_a:.4g} A")


def device_margin_severity(*, ampacity_a: float, rating_a: float, margin_ratio: float) -> Severity | None:
    """
    Return how a conductor stands to the device that protects it.

    Parameters
    ----------
    ampacity_a : float
        What the conductor may carry where it lies, at least 0. [A]
    rating_a : float
        Rating of the device, above 0. [A]
    margin_ratio : float
        The buyer's least ampacity / rating: 1.35, 1.25, 1.00, or 0.80 by a cited rule. [1]

    Returns
    -------
    Severity or None
        None at the buyer's margin or above; a caution below it; blocking below 1.00, or below the buyer's margin where
        that is under 1.00.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    Published rules run both ways: a state fleet standard lets the next larger device protect a conductor up to 125 % of
    its ampacity (a margin of 0.80), fire-apparatus specifications ask the conductor for 125 % of the device (1.25).

    Examples
    --------
    >>> device_margin_severity(ampacity_a=35, rating_a=30, margin_ratio=1.25).value
    'caution'
    """
    check_at_least("ampacity_a", ampacity_a, 0.0)
    check_within("rating_a", rating_a, 0.001, 1e9)
    check_within("margin_ratio", margin_ratio, 0.5, 3.0)
    ratio = ampacity_a / rating_a * (1 + ROUNDING_RATIO)
    if ratio >= margin_ratio:
        return None
    return Severity.BLOCKING if ratio < min(1.0, margin_ratio) else Severity.CAUTION


def interrupting_capacity_a(*, family: str, nominal_v: float) -> float:
    """
    Return the largest fault current a family may be asked to break.

    Parameters
    ----------
    family : str
        Key of the family.
    nominal_v : float
        Nominal voltage of the circuit, above 0. [V]

    Returns
    -------
    float
        Capacity at the first tabulated voltage not under the circuit's. [A]

    Raises
    ------
    NoStandardSize
        If the circuit's voltage is above what the family is rated for.
    UnknownTableEntry
        If there is no such family.

    Examples
    --------
    >>> interrupting_capacity_a(family="MRBF", nominal_v=24)
    5000.0
    """
    check_at_least("nominal_v", nominal_v, 0.0)
    chosen = device_family(family)
    rows = (row for row in load_table("interrupting_capacities").rows if row["family"] == chosen.key)
    steps = sorted((float(row["up_to_v"]), float(row["capacity_a"])) for row in rows)
    for up_to_v, capacity_a in steps:
        if nominal_v <= up_to_v:
            return capacity_a
    raise NoStandardSize(f"The {chosen.name} family", f"a {nominal_v:g} V circuit")
