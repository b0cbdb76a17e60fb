"""
Money: the one place where prices are multiplied, rounded and added.

Unit prices have four places (wire is priced by the metre), lines and totals two. Each line is rounded half up *before* it
is added, and tax is taken once, on the sum of the taxed lines. Page, API and packet print what comes from here.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from builds.engineering.errors import OutOfRange

__all__ = ["Bill", "BillLine", "as_decimal", "bill_of", "line_total", "rounded"]

LINE_PLACES = 2
UNIT_PLACES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One line of a bill: so many at so much each, taxed or not."""

    quantity: Decimal
    unit_price: Decimal
    taxed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """A bill added up; ``taxed`` is the part of ``subtotal`` that tax is taken on."""

    subtotal: Decimal
    taxed: Decimal
    tax: Decimal
    total: Decimal


def as_decimal(value: float | int | str | Decimal) -> Decimal:
    """
    Return a figure as the decimal it was written as, not as its binary neighbour.

    Parameters
    ----------
    value : float, int, str or Decimal
        A finite figure; a float stands for the shortest decimal that reads back as it. [1]

    Returns
    -------
    Decimal
        The same figure.

    Raises
    ------
    OutOfRange
        If it is not finite.

    Examples
    --------
    >>> as_decimal(1.005)
    Decimal('1.005')
    """
    figure = Decimal(str(value))
    if not figure.is_finite():
        raise OutOfRange("value", value, "finite")
    return figure


def rounded(amount: Decimal, *, places: int = LINE_PLACES) -> Decimal:
    """
    Return an amount rounded half up, away from zero.

    Parameters
    ----------
    amount : Decimal
        Amount of money.
    places : int, default 2
        Decimal places kept.

    Returns
    -------
    Decimal
        The amount with exactly that many places.

    Examples
    --------
    >>> rounded(Decimal("2.345")), rounded(Decimal("-2.345"))
    (Decimal('2.35'), Decimal('-2.35'))
    """
    return amount.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def line_total(*, quantity: Decimal, unit_price: Decimal) -> Decimal:
    """
    Return the total of one line.

    Parameters
    ----------
    quantity : Decimal
        How many, or how long, in the unit of the price.
    unit_price : Decimal
        Price of one; more than four places are rounded to four first.

    Returns
    -------
    Decimal
        Two places, half up.

    Examples
    --------
    >>> line_total(quantity=Decimal("12.5"), unit_price=Decimal("0.8937"))
    Decimal('11.17')
    """
    return rounded(quantity * rounded(unit_price, places=UNIT_PLACES))


def bill_of(lines: Iterable[BillLine], *, tax_ratio: Decimal) -> Bill:
    """
    Return a bill added up.

    Parameters
    ----------
    lines : iterable of BillLine
        The lines, in any order: the sum does not depend on it.
    tax_ratio : Decimal
        Tax on the taxed lines, 0 to 1.

    Returns
    -------
    Bill
        Subtotal, taxed part, tax (rounded once, on the taxed subtotal) and total.

    Raises
    ------
    OutOfRange
        If the tax is not from 0 to 1.

    Examples
    --------
    >>> line = BillLine(quantity=Decimal(3), unit_price=Decimal("3.33"))
    >>> bill_of([line], tax_ratio=Decimal("0.0825")).total
    Decimal('10.81')
    """
    if not tax_ratio.is_finite() or not 0 <= tax_ratio <= 1:
        raise OutOfRange("tax_ratio", tax_ratio, "from 0 to 1")
    subtotal = taxed = rounded(Decimal(0))
    for line in lines:
        amount = line_total(quantity=line.quantity, unit_price=line.unit_price)
        subtotal += amount
        taxed += amount if line.taxed else 0
    tax = rounded(taxed * tax_ratio)
    return Bill(subtotal=subtotal, taxed=taxed, tax=tax, total=subtotal + tax)
