"""
The published JSON Schema (2020-12) of the build document, made from the dataclasses of the design.

``docs/reference/build-document.schema.json`` is its text: ``python3 manage.py gendocs`` writes the file, and
a test holds it to this module.
"""

import json
from decimal import Decimal
from functools import cache
from typing import Any

from builds.engineering.document.limits import limits_of
from builds.engineering.document.meanings import meaning_of
from builds.engineering.document.scales import SCALES, text_length
from builds.engineering.document.shape import FieldShape, Kind, classes_of_design, shape_of

__all__ = [
    "BUILD_NUMBER_PATTERN",
    "FORMAT",
    "KEY_PATTERN",
    "NOT_EMPTY_PATTERN",
    "SCHEMA_NUMBER",
    "TRIMMED_PATTERN",
    "document_schema",
    "schema_text",
]

FORMAT = "baywright-build"
SCHEMA_NUMBER = 1
KEY_PATTERN = "^[A-Za-z0-9]([A-Za-z0-9 ._/+-]{0,38}[A-Za-z0-9._/+-])?$"  # no blank at its end: nobody would see it
BUILD_NUMBER_PATTERN = "^[A-Za-z0-9][A-Za-z0-9-]{0,11}$"  # it stands in addresses of pages
NOT_EMPTY_PATTERN = r"^\S(.*\S)?$"  # a form trims what people type, so a document must not come with more
TRIMMED_PATTERN = r"^(\S(.*\S)?)?$"
_KEY_FIELDS = (
    frozenset(
        {"AccessPoint.key", "BuyerRule.key", "DropRule.key", "Zone.key", "PowerNode.key", "Run.key", "Circuit.number"}
    )
    | {f"{owner}.key" for owner in ("Load", "OperatingCondition", "Operation", "PartsBillLine")}
    | {"InputSetting.input", "InputSetting.value", "DutyProfile.key", "DutySegment.key", "ShedStep.key"}
)
_NOT_EMPTY_FIELDS = frozenset(
    {
        "Design.title",
        "Buyer.customer",
        "Buyer.profile",
        "Platform.name",
        "Platform.version",
        "PartsBillLine.part_number",
    }
)
_MOST_ITEMS = 2000  # ten times the largest vehicle; a longer list is not looked into
_LONGEST_ABOUT = 2000


@cache
def document_schema() -> dict[str, Any]:
    """
    Return the schema; numbers in it are ``int`` or ``Decimal`` so that they compare exactly with a document's.

    ``decimals`` is a keyword of ours, which other readers of the schema take as a remark: ``multipleOf`` would say the
    same, but where numbers are binary fractions 1.2 is no multiple of 0.0001.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Build document",
        "description": "A whole build of an upfit shop: buyer, vehicle, power tree, circuits, loads, work and parts.",
        "type": "object",
        "additionalProperties": False,
        "required": ["format", "schema", "build"],
        "properties": {
            "format": {"description": "What this text is.", "const": FORMAT},
            "schema": {"description": "Number of this form of the document.", "const": SCHEMA_NUMBER},
            "about": {
                "description": "A remark on this file; it is not part of the build and is not kept on import.",
                "type": "string",
                "maxLength": _LONGEST_ABOUT,
            },
            "build": {"$ref": "#/$defs/Design"},
        },
        "$defs": {part.__name__: _part_schema(part) for part in classes_of_design()},
    }


def schema_text() -> str:
    """Return the schema as it is published."""
    return json.dumps(document_schema(), indent=2, ensure_ascii=False, default=_plain) + "\n"


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(value)


def _part_schema(part: type) -> dict[str, Any]:
    fields = shape_of(part)
    return {
        "description": meaning_of(part.__name__),
        "type": "object",
        "additionalProperties": False,
        "required": [field.name for field in fields if field.required],
        "properties": {field.name: _field_schema(field) for field in fields},
    }


def _field_schema(field: FieldShape) -> dict[str, Any]:
    described = {"description": meaning_of(field.owner, field.name)}
    if not field.required and isinstance(field.default, str | int | float):
        described["default"] = _exact(field.default)
    return {**described, **_value_schema(field)}


def _value_schema(field: FieldShape) -> dict[str, Any]:  # noqa: PLR0911  (one kind of field, one line)
    match field.kind:
        case Kind.NUMBER:
            return _number_schema(field)
        case Kind.COUNT:
            limits = limits_of(field.owner, field.name)
            return {"type": "integer", "minimum": int(limits.least), "maximum": int(limits.most)}
        case Kind.FLAG:
            return {"type": "boolean"}
        case Kind.TEXT:
            return _text_schema(field)
        case Kind.CHOICE:
            return {"enum": [item.value for item in field.inner]}
        case Kind.NUMBER_OR_TEXT:
            return {**_number_schema(field), **_text_schema(field), "type": ["number", "string"]}
        case Kind.TEXTS:
            return {"type": "array", "maxItems": _MOST_ITEMS, "items": _text_schema(field)}
        case Kind.PART:
            return {"$ref": f"#/$defs/{field.inner.__name__}"}
        case Kind.PARTS:
            return {"type": "array", "maxItems": _MOST_ITEMS, "items": {"$ref": f"#/$defs/{field.inner.__name__}"}}


def _number_schema(field: FieldShape) -> dict[str, Any]:
    limits = limits_of(field.owner, field.name)
    least = "exclusiveMinimum" if limits.above_least else "minimum"
    return {
        "type": "number",
        least: _exact(limits.least),
        "maximum": _exact(limits.most),
        "decimals": SCALES[field.name].decimals,
    }


def _text_schema(field: FieldShape) -> dict[str, Any]:
    address = f"{field.owner}.{field.name}"
    if address in _KEY_FIELDS:
        return {"type": "string", "pattern": KEY_PATTERN}
    if address == "Design.number":
        return {"type": "string", "pattern": BUILD_NUMBER_PATTERN}
    bounds: dict[str, Any] = {"type": "string", "maxLength": text_length(field.owner, field.name)}
    if address in _NOT_EMPTY_FIELDS:
        return {**bounds, "pattern": NOT_EMPTY_PATTERN}
    return {**bounds, "pattern": TRIMMED_PATTERN} if address == "Design.purchase_order" else bounds


def _exact(value: Any) -> Any:
    return Decimal(repr(value)).normalize() if isinstance(value, float) and not value.is_integer() else _whole(value)


def _whole(value: Any) -> Any:
    return int(value) if isinstance(value, float) else value
