"""
The schema's keywords, each answering in the words of a service writer instead of a library's.

They are given to the JSON Schema library in place of its own, so that pointers stay the library's work and every
sentence is ours. Numbers are compared as decimals, exactly as they were written.
"""

import difflib
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from jsonschema import Draft202012Validator, ValidationError
from jsonschema.protocols import Validator
from jsonschema.validators import extend

from builds.engineering.document.faults import Fault, pointer_of
from builds.engineering.document.schema import BUILD_NUMBER_PATTERN, KEY_PATTERN, NOT_EMPTY_PATTERN, TRIMMED_PATTERN
from builds.engineering.document.text import NotANumber, shown

__all__ = ["schema_faults"]

_Schema = dict[str, Any]
_Errors = Iterator[ValidationError]
_KIND_WORDS = {
    "array": "a list in square brackets",
    "boolean": "true or false",
    "integer": "a whole number",
    "number": "a number",
    "object": "a group of fields in braces",
    "string": "text in quotation marks",
}

_PATTERN_WORDS = {
    KEY_PATTERN: "{} must be 1 to 40 letters, digits, spaces and . _ / + -, starting with a letter or a digit, with no space at the end",
    BUILD_NUMBER_PATTERN: "{} must be 1 to 12 letters, digits and -, starting with a letter or a digit",
    NOT_EMPTY_PATTERN: "must not be empty, nor begin or end with a space",
    TRIMMED_PATTERN: "must not begin or end with a space",
}


def schema_faults(values: Any, schema: _Schema) -> Iterator[Fault]:
    """Yield every place where the values break the schema, in document order."""
    for error in _DocumentValidator(schema).iter_errors(values):
        yield Fault(pointer=pointer_of(list(error.absolute_path)), message=error.message)


def _is_number(value: object) -> bool:
    return isinstance(value, int | Decimal) and not isinstance(value, bool)


def _is_whole(value: object) -> bool:
    if isinstance(value, Decimal):
        return _decimals_of(value) == 0
    return isinstance(value, int) and not isinstance(value, bool)


_KIND_TESTS: dict[str, Callable[[object], bool]] = {
    "array": lambda value: isinstance(value, list),
    "boolean": lambda value: isinstance(value, bool),
    "integer": _is_whole,
    "number": _is_number,
    "object": lambda value: isinstance(value, dict),
    "string": lambda value: isinstance(value, str),
}


def _kind_named(value: object) -> str:
    return next((_KIND_WORDS[kind] for kind, holds in _KIND_TESTS.items() if holds(value)), "null")


def _type(validator: Validator, kinds: str | list[str], value: Any, schema: _Schema) -> _Errors:
    wanted = [kinds] if isinstance(kinds, str) else kinds
    if isinstance(value, NotANumber) or any(_KIND_TESTS[kind](value) for kind in wanted):
        return
    words = " or ".join(_KIND_WORDS[kind] for kind in wanted)
    if value is None:
        yield ValidationError(f"must be {words}; leave the field out where there is nothing to say")
    elif _is_number(value) and wanted == ["integer"]:
        yield ValidationError(f"{shown(value)} is not a whole number")
    else:
        yield ValidationError(f"must be {words}, not {_kind_named(value)}")


def _required(validator: Validator, names: list[str], value: Any, schema: _Schema) -> _Errors:
    if isinstance(value, dict):
        for name in names:
            if name not in value:
                yield ValidationError("is missing", path=(name,))


def _additional_properties(validator: Validator, allowed: bool, value: Any, schema: _Schema) -> _Errors:
    if not isinstance(value, dict):
        return
    known = schema.get("properties", {})
    for name in value:
        if name not in known:
            near = difflib.get_close_matches(name[:80], known, n=1)
            hint = f"; perhaps {near[0]} is meant" if near else ""
            yield ValidationError(f"there is no such field here{hint}", path=(name,))


def _enum(validator: Validator, choices: list[str], value: Any, schema: _Schema) -> _Errors:
    if value not in choices and not isinstance(value, NotANumber):
        yield ValidationError(f"{shown(value)} is not one of " + ", ".join(choices))


def _const(validator: Validator, wanted: object, value: Any, schema: _Schema) -> _Errors:
    if value != wanted or isinstance(value, bool):
        yield ValidationError(f"must be {shown(wanted)}")


def _range_words(schema: _Schema) -> str:
    most = schema["maximum"]
    if "exclusiveMinimum" in schema:
        return f"above {schema['exclusiveMinimum']} and at most {most}"
    return f"from {schema['minimum']} to {most}"


def _minimum(validator: Validator, least: Any, value: Any, schema: _Schema) -> _Errors:
    if _is_number(value) and value < least:
        yield ValidationError(f"{shown(value)} must be {_range_words(schema)}")


def _exclusive_minimum(validator: Validator, least: Any, value: Any, schema: _Schema) -> _Errors:
    if _is_number(value) and value <= least:
        yield ValidationError(f"{shown(value)} must be {_range_words(schema)}")


def _maximum(validator: Validator, most: Any, value: Any, schema: _Schema) -> _Errors:
    if _is_number(value) and value > most:
        yield ValidationError(f"{shown(value)} must be {_range_words(schema)}")


def _decimals(validator: Validator, allowed: int, value: Any, schema: _Schema) -> _Errors:
    if isinstance(value, Decimal) and _decimals_of(value) > allowed:
        words = "1 decimal" if allowed == 1 else f"{allowed} decimals"
        yield ValidationError(f"{shown(value)} has more than {words}")


def _decimals_of(value: Decimal) -> int:
    """Count decimals that are not trailing zeros, without ever writing a huge exponent out."""
    _, digits, exponent = value.as_tuple()
    if not isinstance(exponent, int) or exponent >= 0 or not any(digits):
        return 0
    zeros = next(place for place, digit in enumerate(reversed(digits)) if digit)
    return max(0, -exponent - zeros)


def _pattern(validator: Validator, pattern: str, value: Any, schema: _Schema) -> _Errors:
    if isinstance(value, str) and not re.search(pattern, value):
        yield ValidationError(_PATTERN_WORDS[pattern].format(shown(value)))


def _max_length(validator: Validator, most: int, value: Any, schema: _Schema) -> _Errors:
    if isinstance(value, str) and len(value) > most:
        yield ValidationError(f"is {len(value)} characters long; at most {most} are kept")


def _items(validator: Any, items: _Schema, value: Any, schema: _Schema) -> _Errors:
    """Look into a list only where it is no longer than can be read: a hostile one is not worth the time."""
    if isinstance(value, list) and len(value) <= schema["maxItems"]:
        for place, item in enumerate(value):
            yield from validator.descend(item, items, path=place)


def _max_items(validator: Validator, most: int, value: Any, schema: _Schema) -> _Errors:
    if isinstance(value, list) and len(value) > most:
        yield ValidationError(f"has {len(value)} entries; at most {most} are read")


_DocumentValidator = extend(  # type: ignore[no-untyped-call]
    Draft202012Validator,
    {
        "type": _type,
        "required": _required,
        "additionalProperties": _additional_properties,
        "enum": _enum,
        "const": _const,
        "minimum": _minimum,
        "exclusiveMinimum": _exclusive_minimum,
        "maximum": _maximum,
        "decimals": _decimals,
        "pattern": _pattern,
        "maxLength": _max_length,
        "items": _items,
        "maxItems": _max_items,
    },
)
