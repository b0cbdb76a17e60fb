"""An alternator's output curve as one line of text, point by point: "1800 rpm 25 °C 95 A; 6000 rpm 25 °C 140 A"."""

import re
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.engineering.design import AlternatorPoint
from builds.engineering.errors import OutOfRange

__all__ = ["CURVE_HINT", "CurveField", "curve_text"]

CURVE_HINT = "The maker's own, by shaft speed and temperature: 1800 rpm 25 °C 95 A; 6000 rpm 25 °C 140 A"
_NUMBER = r"(-?\d{1,5}(?:\.\d{1,3})?)"
_POINT = re.compile(rf"{_NUMBER}\s*(?:rpm)?[\s,]+{_NUMBER}\s*(?:°?\s*C)?[\s,]+{_NUMBER}\s*A?", re.IGNORECASE)
_NAMES = {"speed_rpm": "speed", "ambient_c": "temperature", "output_a": "current"}


def curve_text(points: Iterable[AlternatorPoint]) -> str:
    """Return points as a person types them."""
    return "; ".join(
        f"{point.speed_rpm:.10g} rpm {point.ambient_c:.10g} °C {point.output_a:.10g} A" for point in points
    )


class CurveField(forms.CharField):
    """The text of :func:`curve_text`; cleaned to the list that the document has."""

    def to_python(self, value: Any) -> Any:
        """Return the list. Raises ValidationError with an example where a point cannot be read, or says it twice."""
        pieces = [piece.strip() for piece in re.split(r"[;\n]", str(value or "")) if piece.strip()]
        points = [_point(piece) for piece in pieces]
        seen: set[tuple[float, float]] = set()
        for piece, point in zip(pieces, points, strict=True):
            place = (point["speed_rpm"], point["ambient_c"])
            if place in seen:
                raise ValidationError(f"“{piece}”: this speed and temperature stand here twice.")
            seen.add(place)
        return points

    def run_validators(self, value: Any) -> None:
        """Each point is checked as it is read."""

    def validate(self, value: Any) -> None:
        """An empty list is a list."""


def _point(piece: str) -> dict[str, float]:
    found = _POINT.fullmatch(piece)
    if found is None:
        raise ValidationError(
            f"“{piece}” cannot be read. Write it like this: 1800 rpm 25 °C 95 A; 6000 rpm 25 °C 140 A."
        )
    point = {name: _plain(text) for name, text in zip(_NAMES, found.groups(), strict=True)}
    try:
        AlternatorPoint(**point)
    except OutOfRange as error:
        raise ValidationError(f"“{piece}”: its {_NAMES[error.name]} must be {error.allowed}.") from error
    return point


def _plain(text: str) -> int | float:
    number = Decimal(text)
    return int(number) if number == number.to_integral_value() else float(number)
