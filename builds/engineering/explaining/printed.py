"""A working as the words it is printed in, the same on a page and in a packet."""

from dataclasses import dataclass

from builds.engineering.explaining.shown_units import working_shown
from builds.engineering.explaining.values import Comparison, Row, Rows, Step, Working, number_text
from builds.engineering.vocabulary import UnitSystem

__all__ = ["PrintedNumber", "PrintedRow", "PrintedStep", "PrintedWorking", "printed_working"]


@dataclass(frozen=True, slots=True)
class PrintedNumber:
    """A figure that goes in, or the head of a column: its letter, the figure with its unit, what it is."""

    symbol: str
    text: str
    words: str


@dataclass(frozen=True, slots=True)
class PrintedRow:
    """One line of a table; each cell is the letter of its column and its figure."""

    words: str
    cells: tuple[tuple[str, str], ...]
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedStep:
    """
    One step; ``kind`` is "step", "rows" or "comparison".

    ``put_in`` is the formula with its numbers in it; ``limit`` and ``kept`` belong to a comparison.
    """

    kind: str
    words: str
    symbol: str = ""
    formula: str = ""
    put_in: str = ""
    result: str = ""
    numbers: tuple[PrintedNumber, ...] = ()
    rows: tuple[PrintedRow, ...] = ()
    note: str = ""
    limit: str = ""
    kept: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedWorking:
    """A whole working in words."""

    key: str
    title: str
    steps: tuple[PrintedStep, ...]
    rule: str
    sources: tuple[str, ...]


def printed_working(working: Working, units: UnitSystem = UnitSystem.METRIC) -> PrintedWorking:
    """Return the words of a working, its lengths and masses in ``units``."""
    working = working_shown(working, units)
    return PrintedWorking(
        key=working.key,
        title=working.title,
        steps=tuple(_printed(step) for step in working.steps),
        rule=working.rule,
        sources=working.sources,
    )


def _printed(step: Step | Rows | Comparison) -> PrintedStep:
    if isinstance(step, Step):
        return PrintedStep(
            kind="step", words=step.words, symbol=step.symbol, formula=step.formula,
            put_in="" if len(step.numbers) == 1 and step.formula == step.numbers[0].symbol else step.put_in,
            result=with_unit(step.text, step.unit), note=step.note,
            numbers=tuple(PrintedNumber(item.symbol, with_unit(item.text, item.unit), item.words) for item in step.numbers),
        )  # fmt: skip
    if isinstance(step, Rows):
        return PrintedStep(
            kind="rows", words=step.words, symbol=step.symbol, formula=step.formula, result=with_unit(step.text, step.unit),
            numbers=tuple(PrintedNumber(symbol, unit, words) for symbol, unit, words in step.heads), note=step.note,
            rows=tuple(_printed_row(step, row) for row in step.rows),
        )  # fmt: skip
    return PrintedStep(
        kind="comparison", words=step.words, result=with_unit(number_text(step.value, 5), step.unit),
        limit=f"at {'most' if step.at_most else 'least'} {with_unit(number_text(step.limit, 5), step.unit)}", kept=step.kept,
    )  # fmt: skip


def _printed_row(rows: Rows, row: Row) -> PrintedRow:
    letters = (symbol for symbol, _, _ in rows.heads)
    cells = tuple((letter, number_text(value)) for letter, value in zip(letters, row.values, strict=True))
    return PrintedRow(row.words, cells, rows.row_text(row.value))


def with_unit(text: str, unit: str) -> str:
    """A figure with its unit, if it has one."""
    return f"{text} {unit}".rstrip()
