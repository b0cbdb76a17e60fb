"""A working as frozen values: steps of a formula each, tables of like lines with their sum, comparisons with a limit."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Comparison", "Number", "Row", "Rows", "Step", "Working", "number_text"]

_IN, _OUT = 6, 5  # significant digits of what goes in and of what comes out


def number_text(value: float, digits: int = _IN) -> str:
    """
    Return a figure with that many significant digits, never with an exponent.

    >>> number_text(0.0123456789), number_text(1234567.0), number_text(12.0), number_text(float("inf"))
    ('0.0123457', '1,234,567', '12', '∞')
    """
    if math.isinf(value):  # a limit that nothing reaches
        return "∞"
    if value == 0:
        return "0"
    text = f"{value:.{digits}g}"
    if "e" in text:
        text = f"{float(text):,.12f}" if abs(value) < 1 else f"{value:,.0f}"
    elif abs(value) >= 1000:
        whole, _, rest = text.partition(".")
        text = f"{int(whole):,}" + (f".{rest}" if rest else "")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _put_in(formula: str, texts: Mapping[str, str]) -> str:
    """The formula with each letter's printed figure in its place; what is negative stands in parentheses."""

    def printed(found: re.Match[str]) -> str:
        text = texts[found.group()]
        return f"({text})" if text.startswith("-") else text

    return re.sub(r"[A-Za-z]\w*", printed, formula).replace("-", "−")


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A figure that goes in: its letter in the formula, its value and unit, what it is and where it is from."""

    symbol: str
    value: float
    unit: str
    words: str
    places: int | None = None  # decimals of an amount of money

    @property
    def text(self) -> str:
        """As printed, without its unit."""
        return number_text(self.value) if self.places is None else f"{self.value:,.{self.places}f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """
    One formula worked: ``symbol = formula`` on ``numbers`` gives ``value``.

    A formula is written with + − × / ^ √( ) max( ; ) min( ; ) and letters that ``numbers`` explain.
    """

    words: str
    symbol: str
    formula: str
    numbers: tuple[Number, ...]
    value: float
    unit: str
    note: str = ""
    places: int | None = None  # decimals that a result is rounded to by rule, as money is

    @property
    def text(self) -> str:
        """The result as printed, without its unit."""
        return f"{self.value:,.{self.places}f}" if self.places is not None else number_text(self.value, _OUT)

    @property
    def put_in(self) -> str:
        """The formula with its numbers put in, as printed."""
        return _put_in(self.formula, {number.symbol: number.text for number in self.numbers})


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: what it is, its numbers in the order of the heads, and what they make."""

    words: str
    values: tuple[float, ...]
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """
    Lines alike: each line's ``value`` is the ``formula`` on its own numbers, and ``total`` is their sum.

    ``heads`` are (letter, unit, what it is). Without a formula the values of the lines are given as they are.
    """

    words: str
    symbol: str
    heads: tuple[tuple[str, str, str], ...]
    formula: str
    rows: tuple[Row, ...]
    total: float
    unit: str
    note: str = ""
    places: int | None = None

    def row_text(self, value: float) -> str:
        """The result of a line as printed."""
        return f"{value:,.{self.places}f}" if self.places is not None else number_text(value)

    def put_in(self, row: Row) -> str:
        """The formula with the numbers of one line put in, as printed."""
        heads = (symbol for symbol, _, _ in self.heads)
        return _put_in(
            self.formula, {symbol: number_text(value) for symbol, value in zip(heads, row.values, strict=True)}
        )

    @property
    def text(self) -> str:
        """The sum as printed, without its unit."""
        return f"{self.total:,.{self.places}f}" if self.places is not None else number_text(self.total, _OUT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A figure held against its limit; ``at_most`` says which side is allowed."""

    words: str
    value: float
    limit: float
    unit: str
    at_most: bool

    @property
    def kept(self) -> bool:
        """Whether the limit is kept; figures that agree to nine digits are equal."""
        slack = 1e-9 * max(abs(self.limit), abs(self.value))
        return self.value <= self.limit + slack if self.at_most else self.value >= self.limit - slack


@dataclass(frozen=True, slots=True, kw_only=True)
class Working:
    """
    How one figure came about.

    ``key`` names the figure ("circuit-drop:203"), ``result`` is what the sheet shows, in ``unit``. ``rule`` is the rule that
    applied, ``sources`` the tables with their editions and whatever else it rests on.
    """

    key: str
    title: str
    steps: tuple[Step | Rows | Comparison, ...]
    result: float
    unit: str
    rule: str
    sources: tuple[str, ...]
