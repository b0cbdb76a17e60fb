"""
A battery bank over time: its rest voltage, what its discharge costs it, and how fast it takes charge.

Charge is kept in *rated* ampere-hours removed. A current above the rated one removes more than it delivers (Peukert's law
at the momentary current); the difference is an account of its own and not a loss of coulombs. At and below the rated
current what is removed is what is delivered.
"""

from bisect import bisect_right
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise

import numpy as np

from builds.engineering.electrical.battery import source_default
from builds.engineering.ranges import check_key, check_ratio, check_within
from builds.engineering.tables.loader import load_table
from builds.engineering.vocabulary import BatteryKind

__all__ = ["Bank", "bank_in_the_cold", "bank_not_full", "default_bank_figures", "rest_at_v", "rest_curve"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bank:
    """
    A battery as the simulation takes it.

    It takes charge at ``acceptance_per_h`` of its capacity an hour, and near full what is missing comes with the time
    constant ``absorption_h``. Of what it takes, ``charge_ratio`` can be had back. Under load its voltage sags by
    ``recovery_ohm`` times its current more than the resistance says, and comes back when the load goes, both with
    ``recovery_s``. Its ``kind`` says how its voltage at rest falls.

    ``internal_ohm`` is its resistance when full. That it grows as the charge goes counts where it decides, while the engine is
    cranked; the few amperes of other loads see it as when full.

    Examples
    --------
    >>> bank = Bank(key="b", capacity_ah=100, rated_hours=20, peukert_exponent=1.2, internal_ohm=0.004,
    ...             full_rest_v=12.8, usable_ratio=0.5)
    >>> bank.rest_v(50.0), bank.intake_a(50.0), bank.intake_a(10.0)
    (12.3, 20.0, 10.0)
    """

    key: str
    capacity_ah: float
    rated_hours: float
    peukert_exponent: float
    internal_ohm: float
    full_rest_v: float
    usable_ratio: float
    acceptance_per_h: float = 0.2
    absorption_h: float = 1.0
    charge_ratio: float = 1.0
    recovery_ohm: float = 0.0
    recovery_s: float = 600.0
    kind: BatteryKind = BatteryKind.LEAD
    rated_a: float = field(init=False)
    rest_curve: tuple[tuple[float, ...], tuple[float, ...]] = field(init=False, repr=False)
    _steepness: tuple[float, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("capacity_ah", self.capacity_ah, 0.1, 10_000.0)
        check_within("rated_hours", self.rated_hours, 0.1, 200.0)
        check_within("peukert_exponent", self.peukert_exponent, 1.0, 2.0)
        check_within("internal_ohm", self.internal_ohm, 1e-6, 10.0)
        check_within("full_rest_v", self.full_rest_v, 1.0, 100.0)
        check_ratio("usable_ratio", self.usable_ratio)
        check_within("acceptance_per_h", self.acceptance_per_h, 0.0, 20.0)
        check_within("absorption_h", self.absorption_h, 0.01, 100.0)
        check_ratio("charge_ratio", self.charge_ratio)
        check_within("recovery_ohm", self.recovery_ohm, 0.0, 10.0)
        check_within("recovery_s", self.recovery_s, 1.0, 100_000.0)
        object.__setattr__(self, "rated_a", self.capacity_ah / self.rated_hours)
        ratios, volts = rest_curve(self.kind)
        times = self.full_rest_v / volts[-1]
        removed_ah = tuple((1.0 - ratio) * self.capacity_ah for ratio in reversed(ratios))
        rest_v = tuple(volt * times for volt in reversed(volts))
        object.__setattr__(self, "rest_curve", (removed_ah, rest_v))
        steepness = tuple(
            (v2 - v1) / (r2 - r1) for (r1, r2), (v1, v2) in zip(pairwise(removed_ah), pairwise(rest_v), strict=True)
        )
        object.__setattr__(self, "_steepness", steepness)

    @property
    def floor_ratio(self) -> float:
        """State of charge at which the part that may be used is used."""
        return 1.0 - self.usable_ratio

    @property
    def taper_ratio(self) -> float:
        """State of charge from which it takes less than its acceptance."""
        return 1.0 - self.acceptance_per_h * self.absorption_h

    def extra_a(self, current_a: float) -> float:
        """
        Return what a discharge removes beyond what it delivers.

        Parameters
        ----------
        current_a : float
            Discharge, at least 0. [A]

        Returns
        -------
        float
            I ((I / I_rated)^(k - 1) - 1), 0 up to the rated current. [A]

        Examples
        --------
        >>> bank = Bank(key="b", capacity_ah=100, rated_hours=20, peukert_exponent=1.2, internal_ohm=0.004,
        ...             full_rest_v=12.8, usable_ratio=0.5)
        >>> round(bank.extra_a(10.0), 4), bank.extra_a(5.0)
        (1.487, 0.0)
        """
        ratio = current_a / self.rated_a
        return current_a * float(ratio ** (self.peukert_exponent - 1.0) - 1.0) if ratio > 1.0 else 0.0

    def cranked_ohm(self, removed_ah: float) -> float:
        """
        Return its resistance while the engine is cranked, with some of it removed.

        Parameters
        ----------
        removed_ah : float
            Rated ampere-hours removed. [Ah]
        """
        return self.internal_ohm * bank_not_full(charge_ratio=1.0 - removed_ah / self.capacity_ah, kind=self.kind)

    def rest_v(self, removed_ah: float) -> float:
        """
        Return its rest voltage with some of it removed.

        Parameters
        ----------
        removed_ah : float
            Rated ampere-hours removed; below 0 and above the capacity the nearer end counts. [Ah]
        """
        removed, volts = self.rest_curve
        if removed_ah <= removed[0]:
            return volts[0]
        if removed_ah >= removed[-1]:
            return volts[-1]
        place = bisect_right(removed, removed_ah) - 1
        return volts[place] + (removed_ah - removed[place]) * self._steepness[place]

    def intake_a(self, removed_ah: float) -> float:
        """
        Return the most it takes with some of it removed.

        Parameters
        ----------
        removed_ah : float
            Rated ampere-hours removed. [Ah]

        Returns
        -------
        float
            The lesser of its acceptance and what is missing over the absorption time, at least 0. [A]

        References
        ----------
        .. [1] An AGM maker's charging guide: charge current at most 0.2 C. The exponential tail is common practice.
        """
        missing_a, most_a = removed_ah / self.absorption_h, self.acceptance_per_h * self.capacity_ah
        return max(0.0, min(missing_a, most_a)) / self.charge_ratio


@cache
def rest_curve(kind: BatteryKind = BatteryKind.LEAD) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return states of charge, rising, and the rest voltages of a 12 V battery of a kind at them; lead stands as AGM."""
    named = BatteryKind.AGM if kind is BatteryKind.LEAD else kind
    rows = [row for row in load_table("rest_voltages").rows if row["kind"] == named]
    points = sorted((float(row["charge_ratio"]), float(row["rest_v"])) for row in rows)
    return tuple(ratio for ratio, _ in points), tuple(volts for _, volts in points)


def rest_at_v(*, full_rest_v: float, charge_ratio: float, kind: BatteryKind = BatteryKind.LEAD) -> float:
    """
    Return the rest voltage of a battery at a state of charge.

    Parameters
    ----------
    full_rest_v : float
        Its voltage at rest when full, which scales the table's. [V]
    charge_ratio : float
        State of charge, 0 to 1. [1]
    kind : BatteryKind
        What it is made of.

    Examples
    --------
    >>> rest_at_v(full_rest_v=25.6, charge_ratio=0.5)
    24.6
    >>> rest_at_v(full_rest_v=13.6, charge_ratio=0.5, kind=BatteryKind.LITHIUM_IRON_PHOSPHATE)  # on its flat part
    13.133333333333333
    """
    ratios, volts = rest_curve(kind)
    return float(np.interp(charge_ratio, ratios, volts)) * full_rest_v / volts[-1]


def bank_in_the_cold(*, temperature_c: float) -> tuple[float, float]:
    """
    Return what is left of a lead battery's capacity at a temperature, and how many times its resistance is as large.

    Parameters
    ----------
    temperature_c : float
        Temperature of the battery, -40 to 80. [°C]

    Returns
    -------
    tuple of float
        Part of the capacity and factor of the resistance; 1 and 1 at the temperature of the rating and above.

    Raises
    ------
    OutOfRange
        If the temperature is outside its range.

    Examples
    --------
    >>> bank_in_the_cold(temperature_c=25.0)
    (1.0, 1.0)

    References
    ----------
    .. [1] From memory, editable: the table ``cold_batteries``.
    """
    check_within("temperature_c", temperature_c, -40.0, 80.0)
    rows = sorted(
        (float(row["temperature_c"]), float(row["capacity_ratio"]), float(row["resistance_times"]))
        for row in load_table("cold_batteries").rows
    )
    below = [row for row in rows if row[0] <= temperature_c] or rows[:1]
    above = [row for row in rows if row[0] >= temperature_c] or rows[-1:]
    (cold_c, *cold), (warm_c, *warm) = below[-1], above[0]
    share = (temperature_c - cold_c) / (warm_c - cold_c) if warm_c > cold_c else 0.0
    capacity, times = (one + share * (other - one) for one, other in zip(cold, warm, strict=True))
    return capacity, times


def bank_not_full(*, charge_ratio: float, kind: BatteryKind = BatteryKind.LEAD) -> float:
    """
    Return how many times as large a battery's resistance is at a state of charge as when it is full.

    Parameters
    ----------
    charge_ratio : float
        State of charge; below 0 and above 1 the nearer end counts. [1]
    kind : BatteryKind
        Lead of any kind grows by one curve, lithium hardly.

    Examples
    --------
    >>> bank_not_full(charge_ratio=1.0), bank_not_full(charge_ratio=0.5)
    (1.0, 1.3)

    References
    ----------
    .. [1] From memory, editable: the table ``battery_resistances``.
    """
    return float(np.interp(charge_ratio, *_resistance_curve(kind)))


@cache
def _resistance_curve(kind: BatteryKind) -> tuple[tuple[float, ...], tuple[float, ...]]:
    rows = load_table("battery_resistances").rows
    named = kind if any(row["kind"] == kind for row in rows) else BatteryKind.LEAD
    points = sorted(
        (float(row["charge_ratio"]), float(row["resistance_times"])) for row in rows if row["kind"] == named
    )
    return tuple(ratio for ratio, _ in points), tuple(times for _, times in points)


def default_bank_figures() -> dict[str, float]:
    """Return the acceptance, absorption and charging figures that a battery's label does not bear, from the table."""
    names = {"acceptance_per_h", "absorption_h", "charge_ratio", "recovery_s"}
    return {name: source_default(name) for name in sorted(names)}
