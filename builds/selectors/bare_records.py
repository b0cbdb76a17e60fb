"""Rows as bare records: what reading a whole design takes in place of model objects."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from django.db.models import QuerySet

__all__ = ["Found", "optional", "records"]


def records(rows: QuerySet[Any], **named: str) -> Iterator[Any]:
    """
    Yield the rows as bare records, which :mod:`builds.selectors.engineering_inputs` reads like the rows themselves.

    A design of a hundred circuits is some thousand rows: making a model object of each takes longer than assessing them.
    ``named`` gives, for each reference, the column of the row pointed at that stands for it.
    """
    columns = [field.attname for field in rows.model._meta.concrete_fields if not field.is_relation]
    pointed = [f"{reference}__{column}" for reference, column in named.items()]
    for values in rows.values_list(*columns, *pointed):
        record = SimpleNamespace(**dict(zip(columns, values, strict=False)))
        for (reference, column), value in zip(named.items(), values[len(columns) :], strict=True):
            setattr(record, reference, SimpleNamespace(**{column: value}))
        yield record


@dataclass(frozen=True, slots=True)
class Found:
    """Rows that belong to one row, asked for as a row's own are."""

    found: list[SimpleNamespace]

    def all(self) -> list[SimpleNamespace]:
        return self.found


def optional(value: Decimal | None) -> float | None:
    """Return a column that may be empty as a figure."""
    return None if value is None else float(value)
