"""Figures as short words on the screen, in the units of a build; exact values stay where they are."""

from dataclasses import dataclass
from decimal import Decimal

from builds.drawings.margin_bar import figure
from builds.engineering.units import KG_PER_LB, M_PER_FT
from builds.engineering.vocabulary import GaugeBasis, UnitSystem

__all__ = ["Measures", "ampere", "hours", "money", "percent", "rule_value", "volts"]

_MM_PER_IN = 25.4


@dataclass(frozen=True, slots=True)
class Measures:
    """How lengths, masses and gauges of one build are shown."""

    units: UnitSystem
    gauge_basis: GaugeBasis

    @property
    def is_us(self) -> bool:
        """Whether feet and pounds are shown."""
        return self.units is UnitSystem.US

    @property
    def length_unit(self) -> str:
        """The word "ft" or "m"."""
        return "ft" if self.is_us else "m"

    @property
    def mass_unit(self) -> str:
        """The word "lb" or "kg"."""
        return "lb" if self.is_us else "kg"

    @property
    def gauge_unit(self) -> str:
        """The word "ga" or "mm²"."""
        return "mm²" if self.gauge_basis is GaugeBasis.METRIC else "ga"

    def length(self, length_m: float) -> str:
        """Return a length to a tenth, whole ones without."""
        return _tenth(length_m / M_PER_FT if self.is_us else length_m)

    def diameter(self, diameter_mm: float) -> str:
        """Return the diameter of a hole: millimetres, or inches with the millimetres after them."""
        if not self.is_us:
            return f"{diameter_mm:g} mm"
        return f"{diameter_mm / _MM_PER_IN:.2f} in ({diameter_mm:g} mm)"

    def quantity(self, quantity: float, unit: str) -> str:
        """
        Return how much of a part: a count bare, a measure with its unit, and metres in feet beside where feet are shown.

        >>> Measures(UnitSystem.US, GaugeBasis.SAE).quantity(210, "m")
        '210 m (689 ft)'
        """
        words = f"{quantity:g} {unit}"
        return f"{words} ({figure(quantity / M_PER_FT, places=0)} ft)" if self.is_us and unit == "m" else words

    def shown(self, value: float, unit: str) -> tuple[float, str]:
        """Return a figure of the core as it is shown: metres in feet and kilograms in pounds where the build has those."""
        if not self.is_us or unit not in ("m", "kg"):
            return value, unit
        return (value / M_PER_FT, "ft") if unit == "m" else (value / KG_PER_LB, "lb")

    def mass(self, mass_kg: float) -> float:
        """Return a mass in the unit shown."""
        return mass_kg / KG_PER_LB if self.is_us else mass_kg

    def mass_words(self, mass_kg: float) -> str:
        """Return a mass: whole above ten, else to a tenth."""
        mass = self.mass(mass_kg)
        return figure(mass, places=0) if abs(mass) >= 10 else _tenth(mass)


def ampere(current_a: float) -> str:
    """
    Return a current to a tenth, from 1,000 A on whole, to a hundredth where a tenth would leave nothing of it.

    >>> ampere(4.23), ampere(118.04), ampere(1900), ampere(0.028), ampere(-0.0)
    ('4.2', '118.0', '1,900', '0.03', '0.0')
    """
    if abs(current_a) >= 1000:
        return figure(current_a, places=0)
    return figure(current_a, places=2 if 0.005 <= abs(current_a) < 0.095 else 1)


def rule_value(value: float | str, unit: str) -> str:
    """
    Return the value of a buyer's rule with its unit; a ratio as it is entered, with the percentage it means.

    >>> rule_value(0.8, "ratio"), rule_value(76.0, "mm"), rule_value("not_cited", "")
    ('0.8 (80 %)', '76 mm', 'not cited')
    """
    if isinstance(value, str):
        return value.replace("_", " ")
    return f"{value:g} ({value * 100:g} %)" if unit == "ratio" else f"{value:g} {unit}".rstrip()


def percent(ratio: float) -> str:
    """Return a part of one in percent to a tenth, without the sign."""
    return f"{ratio * 100:.1f}"


def volts(voltage_v: float) -> str:
    """Return a voltage to a tenth."""
    return f"{voltage_v:.1f}"


def hours(time_h: float) -> str:
    """Return hours to a tenth."""
    return figure(time_h, places=1)


def money(amount: Decimal) -> str:
    """Return an amount to two places, thousands apart."""
    return f"{amount:,.2f}"


def _tenth(value: float) -> str:
    return figure(value, places=1).removesuffix(".0")
