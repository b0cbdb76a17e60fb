"""
Text to raw JSON values, with the faults of JSON itself or of a hostile text: size, depth, doubled names, odd numbers.

Numbers are read as written (``int`` or ``Decimal``), never as binary fractions, so that no decimal is lost unseen.
"""

import json
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from typing import Any

from builds.engineering.document.faults import NOT_PRINTABLE, DocumentFaults, Fault, pointer_of

__all__ = ["MOST_BYTES", "MOST_DEPTH", "NotANumber", "oddities", "shown", "values_of"]

MOST_BYTES = 5_000_000
MOST_DEPTH = 12  # a build document is seven deep
_LONGEST_PLAIN_INTEGER = 18
_LONGEST_SHOWN = 40
_MANY_LINES = frozenset({("function_schedule",)})

_Path = tuple[str | int, ...]


class NotANumber:
    """A name such as NaN or Infinity where a number belongs; JSON has none of them."""

    def __init__(self, name: str) -> None:
        self.name = name


class _Doubled(dict[str, Any]):
    """An object in whose text some names stand more than once."""

    names: tuple[str, ...] = ()


def values_of(text: str | bytes) -> Any:
    """
    Return the JSON values of a text; numbers are ``int`` or ``Decimal``.

    Raises
    ------
    DocumentFaults
        If the text is too large, not UTF-8, not JSON, or nested too deep to be read at all. What can be read but should
        not stand there is told by :func:`oddities`.
    """
    return _parsed(_decoded(text))


def shown(value: object) -> str:
    """Return a value as a message quotes it: short, on one line, text in quotation marks."""
    words = json.dumps(value) if isinstance(value, str) else str(value)
    return words if len(words) <= _LONGEST_SHOWN else words[: _LONGEST_SHOWN - 1] + "…"


def _decoded(text: str | bytes) -> str:
    if len(text) > MOST_BYTES:
        raise _one(f"the text is larger than {MOST_BYTES // 1_000_000} MB; a build document is far smaller")
    if isinstance(text, str):
        return text.removeprefix("\ufeff")
    try:
        return text.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _one(f"the file is not UTF-8 text (byte {error.start + 1}); save it as UTF-8") from None


def _parsed(text: str) -> Any:
    if not text.strip():
        raise _one("the text is empty")
    try:
        return json.loads(
            text,
            parse_float=_number,
            parse_int=_number,
            parse_constant=NotANumber,
            object_pairs_hook=_object,
        )
    except json.JSONDecodeError as error:
        raise _one(f"the text stops being JSON at line {error.lineno}, column {error.colno}") from None
    except RecursionError:
        raise _one(f"brackets are nested more than {MOST_DEPTH} deep") from None


def _number(text: str) -> int | Decimal | NotANumber:
    if len(text) <= _LONGEST_PLAIN_INTEGER and text.lstrip("-").isdigit():
        return int(text)
    try:
        return Decimal(text)
    except InvalidOperation:  # an exponent beyond what decimal arithmetic holds
        return NotANumber(text[:_LONGEST_SHOWN])


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    plain = dict(pairs)
    if len(plain) == len(pairs):
        return plain
    times = Counter(name for name, _ in pairs)
    doubled = _Doubled(plain)
    doubled.names = tuple(name for name, count in times.items() if count > 1)
    return doubled


def oddities(values: Any) -> Iterator[Fault]:
    """
    Yield what JSON allows or half allows and a build document does not: doubled names, NaN, unprintable characters.

    The walk does not recurse, so that a deep text cannot end it.
    """
    waiting: list[tuple[_Path, Any]] = [((), values)]
    while waiting:
        path, value = waiting.pop()
        if len(path) > MOST_DEPTH:
            yield Fault(pointer=pointer_of(path[:3]), message=f"brackets are nested more than {MOST_DEPTH} deep")
        elif isinstance(value, dict):
            yield from _odd_names(path, value)
            waiting.extend(((*path, name), item) for name, item in reversed(value.items()))
        elif isinstance(value, list):
            waiting.extend(((*path, place), item) for place, item in reversed(list(enumerate(value))))
        elif isinstance(value, NotANumber):
            yield Fault(pointer=pointer_of(path), message=f"{value.name} is not a number that JSON knows")
        elif isinstance(value, str) and NOT_PRINTABLE.search(_lines_joined(path, value)):
            yield Fault(pointer=pointer_of(path), message="the text holds a character that cannot be printed")


def _lines_joined(path: _Path, value: str) -> str:
    """The text of a field, which has one line, or of one that may have many."""
    return value.replace("\n", " ") if path[-1:] in _MANY_LINES else value


def _odd_names(path: _Path, value: dict[str, Any]) -> Iterator[Fault]:
    for name in value:
        if NOT_PRINTABLE.search(name):
            yield Fault(pointer=pointer_of(path), message="a field's name holds a character that cannot be printed")
    if isinstance(value, _Doubled):
        for name in value.names:
            yield Fault(pointer=pointer_of((*path, name)), message="this field stands here more than once")


def _one(message: str) -> DocumentFaults:
    return DocumentFaults([Fault(pointer="", message=message)])
