"""Raw values that have passed every check, made into a design."""

from typing import Any, TypeVar

from builds.engineering.design import Design
from builds.engineering.document.shape import FieldShape, Kind, shape_of

__all__ = ["design_of", "part_of"]

_Part = TypeVar("_Part")


def design_of(build: dict[str, Any]) -> Design:
    """Return the design that a checked raw build describes. Raises OutOfRange where a value is outside its range."""
    return part_of(Design, build)


def part_of(part: type[_Part], values: dict[str, Any]) -> _Part:
    """Return one part of a design from checked raw values. Raises OutOfRange."""
    shapes = shape_of(part)
    return part(**{shape.name: _value(shape, values[shape.name]) for shape in shapes if shape.name in values})


def _value(shape: FieldShape, value: Any) -> object:  # noqa: PLR0911  (one kind of field, one line)
    match shape.kind:
        case Kind.NUMBER:
            return float(value)
        case Kind.COUNT:
            return int(value)
        case Kind.CHOICE:
            return shape.inner(value)
        case Kind.NUMBER_OR_TEXT:
            return value if isinstance(value, str) else float(value)
        case Kind.PART:
            return part_of(shape.inner, value)
        case Kind.PARTS:
            return tuple(part_of(shape.inner, item) for item in value)
        case Kind.TEXTS:
            return tuple(value)
        case Kind.FLAG | Kind.TEXT:
            return value
