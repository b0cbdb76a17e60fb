"""
The rows of one family as a table to type and paste into: its columns in the build's own units, and cells read back.

A cell whose text is the one shown is left alone, so that a figure rounded for the screen never overwrites the exact one.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.engineering.changes import FAMILIES
from builds.engineering.design import Design
from builds.engineering.vocabulary import GaugeBasis
from builds.errors import CellFault
from builds.forms.design_rows import document_value, field_of, stored_value
from builds.forms.fields import FigureField
from builds.forms.row_choices import choices_of
from builds.forms.row_fields import FAMILY_FIELDS, RowChoices, RowField

__all__ = ["TABLE_FAMILIES", "Column", "DesignTable", "TypedCell"]

TABLE_FAMILIES = ("circuit", "run", "load")
# a gauge's word as sheets print it; SAE and AWG are different areas, so that one is not read as the other
_GAUGE_UNITS = {
    GaugeBasis.SAE: ("gauge", "SAE", "gauge SAE"),
    GaugeBasis.AWG: ("AWG", "gauge", "gauge AWG"),
    GaugeBasis.METRIC: ("mm²", "mm2"),
}
_FIGURE_AND_UNIT = re.compile(r"(?P<figure>[+-]?[0-9][0-9.,/]*) ?(?P<unit>[^\W\d_][\w°²·]*( [A-Z]+)?|%|°[CF]?)")
_YES = frozenset({"yes", "y", "true", "on", "1", "x"})
_NO = frozenset({"no", "n", "false", "off", "0", "", "–", "-"})


@dataclass(frozen=True, slots=True)
class TypedCell:
    """A text that somebody put into a cell: the row's key and the document's name of the field."""

    key: str
    field: str
    text: str


class Column:
    """One field of every row: how it is shown, and how a typed text is read."""

    def __init__(self, spec: RowField, family: str, choices: RowChoices, basis: GaugeBasis) -> None:
        self.name = spec.name
        self._basis = basis
        self.label = spec.label
        self.offer = spec.offer
        self.hint = spec.hint
        self._field = field_of(spec, family, choices)
        self.is_figure = isinstance(self._field, FigureField)
        self.unit = self._field.unit if isinstance(self._field, FigureField) else spec.unit
        offered: list[tuple[Any, Any]] = list(getattr(self._field, "choices", ()))
        self.choices = [str(value) for value, _ in offered if value not in ("", None)]
        self._by_word = {str(word).casefold(): str(value) for value, word in offered}
        self._by_word |= {str(value).casefold(): str(value) for value, _ in offered}

    @property
    def list_id(self) -> str:
        """The element that holds what may be chosen; columns that offer the same share it."""
        return f"offer-{self.offer}" if self.choices else ""

    def shown(self, part: Any) -> str:
        """Return the text of the cell of one row."""
        value = stored_value(part, self.name)
        if isinstance(self._field, FigureField):
            return self._field.shown(value)
        if isinstance(self._field, forms.BooleanField):
            return "yes" if value else "no"
        return "" if value is None else str(value)

    def read(self, text: str) -> Any:
        """Return the document's value of a typed text. Raises ValidationError with words for the cell."""
        text = text.strip()
        if isinstance(self._field, forms.BooleanField):
            return self._flag(text)
        if self.is_figure:
            text = _without_unit(text, (self.unit,))
        elif self.offer == "gauges":
            text = _without_unit(text, _GAUGE_UNITS[self._basis])
        if self.choices:
            text = self._by_word.get(text.casefold(), text)
        return document_value(self._field.clean(text))

    def _flag(self, text: str) -> bool:
        if text.casefold() in _YES | _NO:
            return text.casefold() in _YES
        raise ValidationError("Write yes or no.")


def _without_unit(text: str, units: tuple[str, ...]) -> str:
    """
    Return a figure copied with its unit, without it; a text that is no figure with a word behind it is returned as it is.

    Raises ValidationError where the word is another unit than the column's.
    """
    found = _FIGURE_AND_UNIT.fullmatch(text)
    if found is None:
        return text
    figure, unit = found["figure"], found["unit"]
    if unit in units:
        return figure
    if not any(units):
        raise ValidationError(f"Type {figure} alone: this column has no unit.", code="unit")
    raise ValidationError(
        f"This column is in {units[0]}, not in {unit}: type a number, with or without {units[0]}.", code="unit"
    )


class DesignTable:
    """The table of one family of a design."""

    def __init__(self, family: str, design: Design) -> None:
        self.family = family
        self.design = design
        choices = choices_of(design)
        self.columns = [
            Column(spec, family, choices, design.conventions.gauge_basis)
            for spec in FAMILY_FIELDS[family]
            if not spec.only_new and not spec.kinds
        ]
        kind = FAMILIES[family]
        self.parts: dict[str, Any] = {kind.key_of(part): part for part in getattr(design, kind.field)}

    def texts(self, key: str) -> list[str]:
        """Return the cells of one row, in the order of the columns."""
        return self.texts_of(self.parts[key])

    def texts_of(self, part: Any) -> list[str]:
        """Return the cells of a part, kept or not, in the order of the columns."""
        return [column.shown(part) for column in self.columns]

    def key_of(self, part: Any) -> str:
        """Return the address of a part of this family."""
        return FAMILIES[self.family].key_of(part)

    def read(self, cells: Iterable[TypedCell]) -> tuple[dict[str, dict[str, Any]], list[CellFault]]:
        """
        Return new values by row and field, and a fault at each cell that cannot be read.

        Of two texts for one cell the later counts; a text that is the one shown changes nothing.
        """
        by_name = {column.name: column for column in self.columns}
        last = {(cell.key, cell.field): cell for cell in cells}
        values: dict[str, dict[str, Any]] = defaultdict(dict)
        faults: list[CellFault] = []
        for cell in last.values():
            column, part = by_name.get(cell.field), self.parts.get(cell.key)
            if column is None or part is None:
                faults.append(CellFault(cell.key, cell.field, "There is no such cell in this table any more."))
                continue
            if cell.text.strip() == column.shown(part).strip():
                continue
            try:
                values[cell.key][cell.field] = column.read(cell.text)
            except ValidationError as error:
                faults.append(CellFault(cell.key, cell.field, " ".join(error.messages)))
        return dict(values), faults

    def sorted_keys(self) -> list[str]:
        """Return the keys in the order people read them: circuits by panel and position, runs supply first."""
        order = {node.key: place for place, node in enumerate(self.design.nodes)}
        circuits = {circuit.number: circuit for circuit in self.design.circuits}
        if self.family == "run":
            return [key for key, run in sorted(self.parts.items(), key=lambda item: item[1].side.value != "supply")]
        if self.family == "circuit":
            return sorted(self.parts, key=lambda key: _place(circuits[key], order))
        return sorted(self.parts, key=lambda key: (*_place(circuits[self.parts[key].circuit], order), key))


def _place(circuit: Any, order: Mapping[str, int]) -> tuple[int, int, str]:
    return order.get(circuit.panel, len(order)), circuit.position, circuit.number
