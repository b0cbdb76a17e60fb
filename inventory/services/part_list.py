"""
A parts list as CSV into the catalogue: every fault found by line and column, or the whole list taken.

The first line names the columns; ``number`` and ``description`` must be there, the others may be left out. A number that
the catalogue has is brought up to what the list says; a column left out keeps what stands there. A mass comes in kilograms
(``mass_kg``) or in pounds (``mass_lb``); the catalogue keeps kilograms.
"""

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib.auth.models import AbstractUser
from django.db import connection, transaction
from django.db.models import F

from inventory.errors import CatalogueFaults
from inventory.models import Part, Supplier

__all__ = ["COLUMNS", "ListTaken", "take_part_list"]

_LARGEST_BYTES = 2_000_000
_MOST_ROWS = 20_000
_KG_PER_LB = Decimal("0.45359237")  # exact: the international pound


@dataclass(frozen=True, slots=True, kw_only=True)
class ListTaken:
    """How many parts a list brought in, and how many it changed."""

    added: int
    changed: int


class _Fault(Exception):
    """Words about one value."""


def _text(most: int) -> Callable[[str], str]:
    def read(text: str) -> str:
        if len(text) > most:
            raise _Fault(f"is longer than {most} characters")
        return text

    return read


def _needed(most: int) -> Callable[[str], str]:
    def read(text: str) -> str:
        if not text:
            raise _Fault("must not be empty")
        return _text(most)(text)

    return read


def _decimal(places: int, most: int) -> Callable[[str], Decimal]:
    def read(text: str) -> Decimal:
        try:
            number = Decimal(text)
        except InvalidOperation:
            raise _Fault(f"{text!r} is not a number; write it with a point, without thousands") from None
        if not number.is_finite() or not 0 <= number <= most:
            raise _Fault(f"{text} must be from 0 to {most}")
        exponent = number.normalize().as_tuple().exponent
        if isinstance(exponent, int) and -exponent > places:
            raise _Fault(f"{text} has more than {places} decimals")
        return number

    return read


def _pounds(text: str) -> Decimal:
    """Read pounds and return the kilograms that the catalogue keeps, to the gram."""
    return (_decimal(3, 44_000)(text) * _KG_PER_LB).quantize(Decimal("0.001"))


def _yes_or_no(text: str) -> bool:
    answers = {"yes": True, "no": False}
    if text.lower() not in answers:
        raise _Fault(f"{text!r} must be yes or no")
    return answers[text.lower()]


def _load_model(text: str) -> str:
    known = ("constant_current", "resistive", "constant_power")
    if text not in known:
        raise _Fault(f"{text!r} must be one of {', '.join(known)}")
    return text


COLUMNS: dict[str, Callable[[str], Any]] = {
    "number": _needed(60),
    "description": _needed(160),
    "unit": _needed(20),
    "supplier": _text(120),
    "unit_cost": _decimal(4, 1_000_000),
    "unit_price": _decimal(4, 1_000_000),
    "taxed": _yes_or_no,
    "mass_kg": _decimal(3, 20_000),
    "mass_lb": _pounds,
    "serial_required": _yes_or_no,
    "programmable": _yes_or_no,
    "reorder_at": _decimal(3, 100_000),
    "load_model": _load_model,
    "load_current_a": _decimal(3, 2000),
    "load_at_v": _decimal(3, 60),
    "load_min_v": _decimal(3, 60),
    "load_inrush_a": _decimal(3, 5000),
    "load_key_off_a": _decimal(3, 100),
}
_MAY_BE_EMPTY = frozenset(COLUMNS) - {"number", "description"}


def take_part_list(*, content: bytes, by: AbstractUser) -> ListTaken:
    """
    Take a parts list into the catalogue.

    Parameters
    ----------
    content : bytes
        CSV in UTF-8, at most 2 MB and 20,000 lines.
    by : user
        Whose name the history carries.

    Raises
    ------
    CatalogueFaults
        With every fault of the list; nothing is taken then.
    """
    rows = _read(content)
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("select set_config('baywright.actor', %s, true)", [by.get_username()])
        suppliers = _suppliers({row["supplier"] for _, row in rows if row.get("supplier")})
        known = {part.number: part for part in Part.objects.filter(number__in=[row["number"] for _, row in rows])}
        _check_load_data(rows, known)
        added = [Part(**_columns(row, suppliers)) for _, row in rows if row["number"] not in known]
        Part.objects.bulk_create(added)
        for _, row in rows:
            if row["number"] in known:
                Part.objects.filter(number=row["number"]).update(
                    row_version=F("row_version") + 1, **_columns(row, suppliers)
                )
    return ListTaken(added=len(added), changed=len(rows) - len(added))


def _read(content: bytes) -> list[tuple[int, dict[str, Any]]]:
    text = _decoded(content)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        lines = [(reader.line_num, line) for line in reader]
    except csv.Error as error:
        raise CatalogueFaults(((reader.line_num, "line", f"cannot be read as CSV: {error}"),)) from error
    if not lines:
        raise CatalogueFaults(((1, "line", "the list is empty; its first line names the columns"),))
    names = [name.strip() for name in lines[0][1]]
    faults = list(_header_faults(names))
    rows: list[tuple[int, dict[str, Any]]] = []
    if not faults:
        for number, line in lines[1:]:
            if any(cell.strip() for cell in line):
                rows.append((number, _row(number, names, line, faults)))
        faults += _repeated(rows)
    if not faults and not rows:
        faults.append((2, "line", "the list names columns but no parts"))
    if faults:
        raise CatalogueFaults(tuple(faults))
    return rows


def _decoded(content: bytes) -> str:
    if len(content) > _LARGEST_BYTES:
        raise CatalogueFaults(((1, "file", "is larger than 2 MB; send it in parts"),))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise CatalogueFaults(((line, "file", "is not UTF-8 text; save the list as CSV in UTF-8"),)) from error
    if "\x00" in text:
        raise CatalogueFaults(((1, "file", "holds a NUL character; it is not a CSV list"),))
    if text.count("\n") > _MOST_ROWS:
        raise CatalogueFaults(((_MOST_ROWS, "file", "has more than 20,000 lines; send it in parts"),))
    return text


def _header_faults(names: list[str]) -> Iterator[tuple[int, str, str]]:
    for needed in ("number", "description"):
        if needed not in names:
            yield 1, needed, "this column is missing"
    for place, name in enumerate(names):
        if name not in COLUMNS:
            yield 1, name or f"column {place + 1}", "there is no such column; known are " + ", ".join(COLUMNS)
        elif name in names[:place]:
            yield 1, name, "this column is there twice"
    if {"mass_kg", "mass_lb"} <= set(names):
        yield 1, "mass_lb", "give the mass in kilograms or in pounds, not in both"


def _row(number: int, names: list[str], line: list[str], faults: list[tuple[int, str, str]]) -> dict[str, Any]:
    row: dict[str, Any] = {}
    if len(line) != len(names):
        faults.append((number, "line", f"has {len(line)} cells, the head has {len(names)}"))
        return {"number": f"\x00{number}"}
    for name, cell in zip(names, (cell.strip() for cell in line), strict=True):
        if not cell and name in _MAY_BE_EMPTY:
            continue
        try:
            row[name] = COLUMNS[name](cell)
        except _Fault as fault:
            faults.append((number, name, str(fault)))
    return {"number": f"\x00{number}"} | row


def _repeated(rows: list[tuple[int, dict[str, Any]]]) -> Iterator[tuple[int, str, str]]:
    seen: dict[str, int] = {}
    for number, row in rows:
        first = seen.setdefault(row["number"], number)
        if first != number:
            yield number, "number", f"{row['number']} stands in line {first} already"


def _check_load_data(rows: list[tuple[int, dict[str, Any]]], known: dict[str, Part]) -> None:
    faults = []
    for number, row in rows:
        part = known.get(row["number"])
        has = {name: row.get(name, getattr(part, name, None)) for name in ("load_model", "load_current_a", "load_at_v")}
        if has["load_model"] and (has["load_current_a"] is None or has["load_at_v"] is None):
            faults.append((number, "load_model", "needs load_current_a and load_at_v beside it"))
        if has["load_at_v"] == 0:
            faults.append((number, "load_at_v", "must be above 0"))
    if faults:
        raise CatalogueFaults(tuple(faults))


def _suppliers(names: set[str]) -> dict[str, Supplier]:
    Supplier.objects.bulk_create([Supplier(name=name) for name in sorted(names)], ignore_conflicts=True)
    return {supplier.name: supplier for supplier in Supplier.objects.filter(name__in=names)}


def _columns(row: dict[str, Any], suppliers: dict[str, Supplier]) -> dict[str, Any]:
    columns = dict(row)
    if "mass_lb" in columns:
        columns["mass_kg"] = columns.pop("mass_lb")
    if "supplier" in columns:
        columns["supplier"] = suppliers[columns["supplier"]]
    return columns
