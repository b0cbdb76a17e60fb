"""A design as the one text that stands for it: what is hashed, kept, exported and attached to a packet."""

import hashlib
import json
from decimal import Decimal
from typing import Any

from builds.engineering.design import Design
from builds.engineering.document.additions import is_left_out
from builds.engineering.document.scales import SCALES
from builds.engineering.document.schema import FORMAT, SCHEMA_NUMBER
from builds.engineering.document.shape import FieldShape, Kind, shape_of
from builds.engineering.errors import OutOfRange

__all__ = ["canonical_text", "content_sha256", "document_values", "part_values"]


def canonical_text(design: Design) -> str:
    """
    Return the canonical text of a design: names sorted, no spaces, plain decimals, every field that has a value.

    Equal designs give equal text, and :func:`builds.engineering.document.read_document` gives the design back.

    Raises
    ------
    OutOfRange
        If a figure has more decimals than its scale keeps; rounding it here would lose it silently.
    """
    values = document_values(design)
    return json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def content_sha256(text: str) -> str:
    """Return the SHA-256 of a text in UTF-8, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def document_values(design: Design) -> dict[str, Any]:
    """Return the whole document as plain values, in the order of the dataclasses. Raises OutOfRange."""
    return {"format": FORMAT, "schema": SCHEMA_NUMBER, "build": part_values(design)}


def part_values(part: Any) -> dict[str, Any]:
    """Return one part of a design as plain values, without the fields that hold nothing. Raises OutOfRange."""
    held = ((shape, getattr(part, shape.name)) for shape in shape_of(type(part)))
    return {shape.name: _value(shape, value) for shape, value in held if not is_left_out(shape, value)}


def _value(shape: FieldShape, value: Any) -> Any:  # noqa: PLR0911  (one kind of field, one line)
    match shape.kind:
        case Kind.NUMBER:
            return _plain_number(shape.name, value)
        case Kind.NUMBER_OR_TEXT:
            return value if isinstance(value, str) else _plain_number(shape.name, value)
        case Kind.CHOICE:
            return value.value
        case Kind.PART:
            return part_values(value)
        case Kind.PARTS:
            return [part_values(item) for item in value]
        case Kind.TEXTS:
            return list(value)
        case Kind.COUNT | Kind.FLAG | Kind.TEXT:
            return value


def _plain_number(name: str, value: float) -> int | float:
    """Return a number whose JSON text is a plain decimal; within the scales Python writes no exponent."""
    if value == int(value):
        return int(value)
    decimals = SCALES[name].decimals
    exponent = Decimal(repr(value)).as_tuple().exponent
    if not isinstance(exponent, int) or -exponent > decimals:
        raise OutOfRange(name, value, f"a number with at most {decimals} decimals")
    return value
