"""What sources do in a condition, as one line of text: "ALT 13.2 to 14.8 V, 90 A; SH on; SOL off"."""

import re
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.engineering.design import SourceUse

__all__ = ["SOURCES_HINT", "SourcesField", "sources_text"]

SOURCES_HINT = "Only what is not as usual: ALT 13.2 to 14.8 V, 90 A; SH on; SOL off"
_NUMBER = r"(\d{1,4}(?:\.\d{1,3})?)"
_FIGURES = re.compile(rf"(?:{_NUMBER}(?:\s*(?:to|-|–)\s*{_NUMBER})?\s*V)?\s*,?\s*(?:{_NUMBER}\s*A)?", re.IGNORECASE)


def sources_text(uses: Iterable[SourceUse]) -> str:
    """Return uses as a person types them."""
    return "; ".join(_said(use) for use in uses)


def _said(use: SourceUse) -> str:
    if not use.available:
        return f"{use.node} off"
    volts = (
        "" if use.low_v is None else f"{use.low_v:g}" if use.low_v == use.high_v else f"{use.low_v:g} to {use.high_v:g}"
    )
    figures = [f"{volts} V"] if volts else []
    figures += [] if use.limit_a is None else [f"{use.limit_a:g} A"]
    return f"{use.node} {', '.join(figures) or 'on'}"


class SourcesField(forms.CharField):
    """The text of :func:`sources_text`; cleaned to the list that the document has."""

    def to_python(self, value: Any) -> Any:
        """Return the list. Raises ValidationError with an example where a piece cannot be read."""
        pieces = (piece.strip() for piece in str(value or "").split(";"))
        return [_use(piece) for piece in pieces if piece]

    def run_validators(self, value: Any) -> None:
        """The service checks each source against the build."""

    def validate(self, value: Any) -> None:
        """An empty list is a list."""


def _use(piece: str) -> dict[str, Any]:
    words = piece.split()
    if len(words) > 1 and words[-1].lower() in ("on", "off"):
        return {"node": " ".join(words[:-1])} | ({} if words[-1].lower() == "on" else {"available": False})
    for end in range(1, len(words)):  # a key may have spaces in it
        found = _FIGURES.fullmatch(" ".join(words[end:]))
        if found is not None and any(found.groups()):
            low, high, limit = found.groups()
            figures = {"low_v": low, "high_v": high or low, "limit_a": limit}
            return {"node": " ".join(words[:end])} | {name: _plain(text) for name, text in figures.items() if text}
    raise ValidationError(f"“{piece}” cannot be read. Write it like this: ALT 13.2 to 14.8 V, 90 A; SH on; SOL off.")


def _plain(text: str) -> int | float:
    number = Decimal(text)
    return int(number) if number == number.to_integral_value() else float(number)
