"""
Figures as people type them: the point is the decimal sign, units are those of the build, what is stored is SI.

A figure that comes back as it was shown is not a new figure: 12 ft shown for 3.658 m and kept untouched stays 3.658 m.
So a field knows what it showed, and only a text that differs from it is converted.
"""

import math
import re
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.engineering.units import KG_PER_LB, M_PER_FT
from builds.engineering.vocabulary import UnitSystem

__all__ = [
    "CountField",
    "DayField",
    "FigureField",
    "LengthField",
    "MassField",
    "MilliampereField",
    "MomentField",
    "PercentField",
    "plain",
]

_FIGURE = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")
_LONGEST = 20
_YEARS = range(2000, 2101)


def plain(value: Decimal) -> str:
    """
    Return a figure without an exponent or zeros at its end.

    >>> plain(Decimal("12.500")), plain(Decimal("100")), plain(Decimal("0.000"))
    ('12.5', '100', '0')
    """
    text = f"{value:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def _exactly(stored: Decimal, decimals: int, *, typed_decimals: int) -> Decimal:
    """Return a figure at its scale; one that would have to be rounded is refused in the decimals people type."""
    kept = stored.quantize(Decimal(1).scaleb(-decimals))
    if kept != stored:
        words = f"Use at most {typed_decimals} decimals." if typed_decimals else "Type a whole number."
        raise ValidationError(words, code="decimals")
    return kept


class FigureField(forms.CharField):
    """A number with a point, kept with so many decimals, from ``least`` to ``most`` in the unit it is shown in."""

    unit = ""

    def __init__(
        self, *, decimals: int, least: float | None = None, most: float | None = None, unit: str = "", **options: Any
    ) -> None:
        self.decimals = decimals
        self.least, self.most = least, most
        self.unit = unit
        options.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 6}))
        super().__init__(max_length=_LONGEST, **options)
        self.error_messages["required"] = "Type a number."
        self.error_messages["max_length"] = "Type a shorter number."

    def shown(self, stored: Decimal | None) -> str:
        """Return the text a stored figure is shown as."""
        return "" if stored is None else plain(stored)

    def prepare_value(self, value: Any) -> Any:
        """Show a stored figure in its unit; what a person typed comes back as they typed it."""
        return self.shown(value) if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Any:
        """Return the stored figure of a typed text, ``None`` for an empty one."""
        text = str(value or "").strip()
        if not text:
            return None
        return self._kept(self._typed(text))

    def validate(self, value: Any) -> None:
        """Say so where a needed figure is not there."""
        if value is None and self.required:
            raise ValidationError(self.error_messages["required"], code="required")

    def run_validators(self, value: Any) -> None:
        """The checks of a text do not hold for a figure."""

    def clean(self, value: Any) -> Any:
        """Refuse a text too long to be a figure before reading it."""
        if len(str(value or "").strip()) > _LONGEST:
            raise ValidationError(self.error_messages["max_length"], code="max_length")
        return super().clean(value)

    def _typed(self, text: str) -> Decimal:
        if "," in text:
            raise ValidationError("Write the number with a point and no commas: 12.5 or 1200.", code="comma")
        if not _FIGURE.fullmatch(text):
            raise ValidationError("Type a number, such as 12.5.", code="figure")
        figure = Decimal(text)
        unit = f" {self.unit}" if self.unit else ""
        if self.least is not None and figure < Decimal(repr(self.least)):
            raise ValidationError(f"Type at least {self.least:g}{unit}.", code="least")
        if self.most is not None and figure > Decimal(repr(self.most)):
            raise ValidationError(f"Type at most {self.most:g}{unit}.", code="most")
        return figure

    def _kept(self, figure: Decimal) -> Decimal:
        return _exactly(figure, self.decimals, typed_decimals=self.decimals)


class CountField(FigureField):
    """A whole number."""

    def __init__(self, *, least: int = 1, most: int = 10_000, **options: Any) -> None:
        options.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": 4}))
        super().__init__(decimals=0, least=least, most=most, **options)

    def _kept(self, figure: Decimal) -> Decimal:
        return _exactly(figure, 0, typed_decimals=0)


class _ScaledField(FigureField):
    """A figure stored in one unit and shown in another; ``least`` and ``most`` are those of the stored figure."""

    def __init__(
        self, *, stored_per_shown: Decimal, stored_decimals: int, rounded_to: int | None = None, least: float,
        most: float, **options: Any,
    ) -> None:  # fmt: skip
        self.stored_per_shown = stored_per_shown
        self.stored_decimals = stored_decimals
        self.rounded_to = rounded_to
        scale = float(stored_per_shown)
        # limits in the shown unit, rounded inwards to what can be typed
        super().__init__(
            decimals=stored_decimals, least=math.ceil(least / scale * 100) / 100, most=math.floor(most / scale * 100) / 100,
            **options,
        )  # fmt: skip

    def shown(self, stored: Decimal | None) -> str:
        """Return the figure in the unit it is shown in."""
        if stored is None:
            return ""
        figure = Decimal(stored) / self.stored_per_shown
        if self.rounded_to is not None:
            figure = figure.quantize(Decimal(1).scaleb(-self.rounded_to), ROUND_HALF_UP)
        return plain(figure)

    def _kept(self, figure: Decimal) -> Decimal:
        stored = figure * self.stored_per_shown
        if self.rounded_to is None:
            shift = self.stored_per_shown.adjusted()  # a power of ten: percent, thousandths, or one
            return _exactly(stored, self.stored_decimals, typed_decimals=self.stored_decimals + shift)
        return stored.quantize(Decimal(1).scaleb(-self.stored_decimals), ROUND_HALF_UP)


class LengthField(_ScaledField):
    """A length, stored in metres to the millimetre, shown in metres or in feet to a hundredth."""

    def __init__(self, units: UnitSystem, **options: Any) -> None:
        us = units == UnitSystem.US
        super().__init__(
            stored_per_shown=Decimal(repr(M_PER_FT)) if us else Decimal(1), stored_decimals=3,
            rounded_to=2 if us else None, unit="ft" if us else "m", **options,
        )  # fmt: skip


class MassField(_ScaledField):
    """A mass, stored in kilograms to the gram, shown in kilograms or in pounds to a hundredth."""

    def __init__(self, units: UnitSystem, **options: Any) -> None:
        us = units == UnitSystem.US
        super().__init__(
            stored_per_shown=Decimal(repr(KG_PER_LB)) if us else Decimal(1), stored_decimals=3,
            rounded_to=2 if us else None, unit="lb" if us else "kg", **options,
        )  # fmt: skip


class PercentField(_ScaledField):
    """A part of one, stored to four places, shown in percent."""

    def __init__(self, **options: Any) -> None:
        super().__init__(stored_per_shown=Decimal("0.01"), stored_decimals=4, unit="%", **options)


class MilliampereField(_ScaledField):
    """A small current, stored in amperes, shown in milliamperes."""

    def __init__(self, **options: Any) -> None:
        super().__init__(stored_per_shown=Decimal("0.001"), stored_decimals=3, unit="mA", **options)


class DayField(forms.DateField):
    """A day, written year first, so that nobody has to guess which figure is the month; of this century."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(input_formats=["%Y-%m-%d"], **options)
        self.error_messages["invalid"] = "Write the day as year, month, day: 2026-12-18."

    def to_python(self, value: Any) -> date | None:
        """Return the day."""
        return _of_this_century(super().to_python(value))


class MomentField(forms.DateTimeField):
    """A day and a time of the shop's clock, without a zone; of this century."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"))
        super().__init__(input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"], **options)
        self.error_messages |= {"required": "Say when.", "invalid": "Write day and time, such as 2026-12-09T10:40."}

    def to_python(self, value: Any) -> datetime | None:
        """Return the moment."""
        return _of_this_century(super().to_python(value))


def _of_this_century(value: Any) -> Any:
    """A typing slip in the year would book a bay for thousands of years."""
    if value is not None and value.year not in _YEARS:
        raise ValidationError(f"Write a year from {_YEARS[0]} to {_YEARS[-1]}.", code="year")
    return value
