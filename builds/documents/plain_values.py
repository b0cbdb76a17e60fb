"""
Frozen dataclasses to plain JSON values and back, by their type hints alone.

Kept to what the dataclasses of this project are made of: text, whole numbers, floats, decimals, flags, enumerations,
moments and dates, tuples, other dataclasses, and any of these or None.
"""

import dataclasses
import types
import typing
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

__all__ = ["PlainValueFault", "plain_of", "value_of"]

_T = TypeVar("_T")


class PlainValueFault(ValueError):
    """A plain value does not fit the type it should become; the message says where."""

    def __init__(self, where: str, wanted: str, found: object) -> None:
        super().__init__(f"{where or 'the value'}: {wanted} is wanted, {type(found).__name__} is there")


def plain_of(value: object) -> Any:
    """
    Return a value as JSON can carry it; moments and decimals become text.

    Raises
    ------
    PlainValueFault
        If something in it has no plain form.

    Examples
    --------
    >>> plain_of((Decimal("1.50"), date(2026, 12, 9), None))
    ['1.50', '2026-12-09', None]
    """
    if isinstance(value, StrEnum):
        return value.value
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    return _plain_whole(value)


def _plain_whole(value: object) -> Any:
    if isinstance(value, tuple | list):
        return [plain_of(item) for item in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_of(getattr(value, field.name)) for field in dataclasses.fields(value)}
    raise PlainValueFault("", "a plain value", value)


def value_of(kind: type[_T], plain: Any, *, where: str = "") -> _T:
    """
    Return ``plain`` as a value of ``kind``; fields left out take their defaults, unknown fields are a fault.

    Raises
    ------
    PlainValueFault
        If a value does not fit; the message names the place.
    """
    return typing.cast(_T, _value(kind, plain, where))


def _value(kind: Any, plain: Any, where: str) -> Any:
    if get_origin(kind) in (typing.Union, types.UnionType):
        return _one_of(get_args(kind), plain, where)
    if get_origin(kind) is tuple:
        return _items(get_args(kind), plain, where)
    if dataclasses.is_dataclass(kind):
        return _part(kind, plain, where)
    return _leaf(kind, plain, where)


def _one_of(kinds: tuple[Any, ...], plain: Any, where: str) -> Any:
    """None, or the first kind that takes the value: only optional types are used."""
    if plain is None and type(None) in kinds:
        return None
    fault: PlainValueFault | None = None
    for kind in kinds:
        if kind is not type(None):
            try:
                return _value(kind, plain, where)
            except PlainValueFault as error:
                fault = fault or error
    raise fault or PlainValueFault(where, "a value", plain)


def _items(kinds: tuple[Any, ...], plain: Any, where: str) -> Any:
    if not isinstance(plain, list):
        raise PlainValueFault(where, "a list", plain)
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_value(kinds[0], item, f"{where}/{index}") for index, item in enumerate(plain))
    if len(kinds) != len(plain):
        raise PlainValueFault(where, f"a list of {len(kinds)}", plain)
    return tuple(
        _value(kind, item, f"{where}/{index}") for index, (kind, item) in enumerate(zip(kinds, plain, strict=True))
    )


def _part(kind: Any, plain: Any, where: str) -> Any:
    if not isinstance(plain, dict):
        raise PlainValueFault(where, kind.__name__, plain)
    hints = _hints(kind)
    for name in plain:
        if name not in hints:
            raise PlainValueFault(f"{where}/{name}", f"a field of {kind.__name__}", plain[name])
    try:
        return kind(**{name: _value(hints[name], item, f"{where}/{name}") for name, item in plain.items()})
    except TypeError as error:
        raise PlainValueFault(where, f"{kind.__name__} with all its fields ({error})", plain) from error


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def _leaf(kind: Any, plain: Any, where: str) -> Any:
    read = _FROM_TEXT.get(kind)
    if read is None and isinstance(kind, type) and issubclass(kind, StrEnum):
        read = kind
    if read is not None and isinstance(plain, str):
        try:
            return read(plain)
        except (ValueError, ArithmeticError) as error:
            raise PlainValueFault(where, kind.__name__, plain) from error
    if read is None and _fits(kind, plain):
        return float(plain) if kind is float else plain
    raise PlainValueFault(where, getattr(kind, "__name__", str(kind)), plain)


_FROM_TEXT: dict[Any, Callable[[str], Any]] = {
    datetime: datetime.fromisoformat,
    date: date.fromisoformat,
    Decimal: Decimal,
}


def _fits(kind: Any, plain: Any) -> bool:
    """Whether JSON's own type is the one wanted; a flag is no number."""
    if isinstance(plain, bool):
        return kind is bool
    return isinstance(plain, int | float) if kind is float else kind in (str, int) and isinstance(plain, kind)
