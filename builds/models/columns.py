"""
Column kinds: one scale per quantity, so that a document, a row and the core agree to the last digit.

The scales are those of :mod:`builds.engineering.document.scales`; a test holds the two together.
"""

from typing import Any

from django.contrib.postgres.fields import ArrayField
from django.db import models

__all__ = [
    "EditableRow",
    "capacity_column",
    "current_column",
    "curve_column",
    "exponent_column",
    "hours_column",
    "length_column",
    "mass_column",
    "millimetre_column",
    "minutes_column",
    "money_column",
    "power_column",
    "quantity_column",
    "ratio_column",
    "resistance_column",
    "seconds_column",
    "stretch_column",
    "temperature_column",
    "unit_price_column",
    "voltage_column",
]


def _decimal(digits: int, places: int, **options: Any) -> models.DecimalField:
    return models.DecimalField(max_digits=digits, decimal_places=places, **options)


def length_column(**options: Any) -> models.DecimalField:
    """Metres to the millimetre."""
    return _decimal(8, 3, **options)


def millimetre_column(**options: Any) -> models.DecimalField:
    """Millimetres to a tenth."""
    return _decimal(8, 1, **options)


def resistance_column(**options: Any) -> models.DecimalField:
    """Milliohms to four places."""
    return _decimal(10, 4, **options)


def current_column(**options: Any) -> models.DecimalField:
    """Amperes to the milliampere."""
    return _decimal(8, 3, **options)


def seconds_column(**options: Any) -> models.DecimalField:
    """Seconds to a hundredth."""
    return _decimal(8, 2, **options)


def stretch_column(**options: Any) -> models.DecimalField:
    """Minutes of a stretch of use, to a hundredth."""
    return _decimal(9, 2, **options)


def voltage_column(**options: Any) -> models.DecimalField:
    """Volts to the millivolt."""
    return _decimal(7, 3, **options)


def power_column(**options: Any) -> models.DecimalField:
    """Watts to a hundredth."""
    return _decimal(8, 2, **options)


def curve_column() -> ArrayField:
    """Points of an output curve, each a speed [1/min], a temperature [°C] and a current [A], to three places."""
    return ArrayField(ArrayField(_decimal(8, 3), size=3), default=list, blank=True)


def capacity_column(**options: Any) -> models.DecimalField:
    """Ampere-hours to three places."""
    return _decimal(8, 3, **options)


def exponent_column(**options: Any) -> models.DecimalField:
    """A pure number to four places."""
    return _decimal(6, 4, **options)


def ratio_column(**options: Any) -> models.DecimalField:
    """A part of one to four places."""
    return _decimal(6, 4, **options)


def temperature_column(**options: Any) -> models.DecimalField:
    """Degrees Celsius to a tenth."""
    return _decimal(5, 1, **options)


def mass_column(**options: Any) -> models.DecimalField:
    """Kilograms to the gram."""
    return _decimal(9, 3, **options)


def hours_column(**options: Any) -> models.DecimalField:
    """Hours to three places."""
    return _decimal(8, 3, **options)


def minutes_column(**options: Any) -> models.DecimalField:
    """Minutes to a tenth."""
    return _decimal(7, 1, **options)


def quantity_column(**options: Any) -> models.DecimalField:
    """A count or a length of stock, to three places."""
    return _decimal(10, 3, **options)


def unit_price_column(**options: Any) -> models.DecimalField:
    """Money for one unit, to four places (wire is priced by the metre)."""
    return _decimal(14, 4, **options)


def money_column(**options: Any) -> models.DecimalField:
    """Money of a line or a total, to two places."""
    return _decimal(12, 2, **options)


class EditableRow(models.Model):
    """A row that people edit: its version goes into every form, and a stale one is answered with both values."""

    row_version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True
