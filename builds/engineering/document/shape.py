"""The shape of a design as data: which fields each dataclass has, of what kind; everything else here reads this."""

import dataclasses
import types
import typing
from collections.abc import Iterator
from enum import StrEnum
from typing import Any

from builds.engineering.design import Design

__all__ = ["FieldShape", "Kind", "classes_of_design", "shape_of"]


class Kind(StrEnum):
    """What a field holds."""

    NUMBER = "number"
    COUNT = "count"
    FLAG = "flag"
    TEXT = "text"
    CHOICE = "choice"
    NUMBER_OR_TEXT = "number_or_text"
    PART = "part"
    PARTS = "parts"
    TEXTS = "texts"


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class FieldShape:
    """One field: ``inner`` is the enumeration of a choice or the dataclass of a part; ``default`` holds if left out."""

    owner: str
    name: str
    kind: Kind
    inner: Any
    required: bool
    default: Any


_shapes: dict[type, tuple[FieldShape, ...]] = {}


def shape_of(part: type) -> tuple[FieldShape, ...]:
    """Return the fields of a dataclass of the design, in their order; worked out once per class."""
    if part not in _shapes:
        hints = typing.get_type_hints(part)
        fields = dataclasses.fields(part)
        _shapes[part] = tuple(_field_shape(part, field, hints[field.name]) for field in fields)
    return _shapes[part]


def classes_of_design(root: type = Design) -> Iterator[type]:
    """Yield the root and every dataclass below it once, in reading order."""
    seen: dict[type, None] = {}
    waiting = [root]
    while waiting:
        part = waiting.pop(0)
        if part not in seen:
            seen[part] = None
            waiting.extend(field.inner for field in shape_of(part) if field.kind in (Kind.PART, Kind.PARTS))
    yield from seen


def _field_shape(part: type, field: "dataclasses.Field[Any]", hint: Any) -> FieldShape:
    kind, inner = _kind_of(hint)
    return FieldShape(
        owner=part.__name__,
        name=field.name,
        kind=kind,
        inner=inner,
        required=field.default is dataclasses.MISSING,
        default=None if field.default is dataclasses.MISSING else field.default,
    )


def _kind_of(hint: Any) -> tuple[Kind, Any]:
    if isinstance(hint, types.UnionType):
        inner = tuple(item for item in hint.__args__ if item is not types.NoneType)
        return (Kind.NUMBER_OR_TEXT, None) if inner == (float, str) else _kind_of(inner[0])
    if typing.get_origin(hint) is tuple:
        item = typing.get_args(hint)[0]
        return (Kind.TEXTS, None) if item is str else (Kind.PARTS, item)
    if dataclasses.is_dataclass(hint):
        return Kind.PART, hint
    if issubclass(hint, StrEnum):
        return Kind.CHOICE, hint
    return {bool: Kind.FLAG, int: Kind.COUNT, float: Kind.NUMBER, str: Kind.TEXT}[hint], None
