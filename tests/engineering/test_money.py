"""Money: half up per line, tax once on the taxed part."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.errors import OutOfRange
from builds.engineering.money import BillLine, as_decimal, bill_of, line_total, rounded

prices = st.decimals(0, 10_000, places=4)
quantities = st.decimals(0, 1000, places=3)
lines = st.builds(BillLine, quantity=quantities, unit_price=prices, taxed=st.booleans())


# Half up, away from zero; halves that binary floats or bankers' rounding would take the other way.
@pytest.mark.parametrize(
    ("amount", "kept"),
    [("0.005", "0.01"), ("1.005", "1.01"), ("2.675", "2.68"), ("2.674999", "2.67"), ("-0.005", "-0.01")],
)
def test_halves_are_rounded_up(amount: str, kept: str) -> None:
    assert rounded(Decimal(amount)) == Decimal(kept)


def test_a_line_is_rounded_before_it_is_added() -> None:
    # three lines of 0.335 each: 0.34 + 0.34 + 0.34 = 1.02, while 1.005 rounded once would be 1.01
    line = BillLine(quantity=Decimal("0.5"), unit_price=Decimal("0.67"))

    assert bill_of([line, line, line], tax_ratio=Decimal(0)).total == Decimal("1.02")


def test_wire_by_the_metre_keeps_four_places_of_its_price() -> None:
    # 12.5 m x 0.8937 = 11.17125
    assert line_total(quantity=Decimal("12.5"), unit_price=Decimal("0.8937")) == Decimal("11.17")


def test_tax_is_taken_once_on_the_taxed_lines() -> None:
    # taxed 10.10 + 10.10 = 20.20, tax 8.25 % = 1.6665 -> 1.67 (line by line it would be 0.83 + 0.83 = 1.66)
    taxed = BillLine(quantity=Decimal(1), unit_price=Decimal("10.10"))
    labour = BillLine(quantity=Decimal(2), unit_price=Decimal("110"), taxed=False)

    bill = bill_of([taxed, labour, taxed], tax_ratio=Decimal("0.0825"))

    assert (bill.subtotal, bill.taxed, bill.tax, bill.total) == tuple(
        map(Decimal, ("240.20", "20.20", "1.67", "241.87"))
    )


def test_an_empty_bill_is_nothing_with_two_places() -> None:
    assert str(bill_of([], tax_ratio=Decimal("0.05")).total) == "0.00"


def test_a_float_becomes_the_decimal_it_was_typed_as() -> None:
    assert as_decimal(0.1) == Decimal("0.1")
    assert as_decimal("12.3456") == Decimal("12.3456")
    assert as_decimal(3) == Decimal(3)


@given(st.lists(lines, max_size=12), st.decimals(0, 1, places=4), st.randoms())
def test_the_order_of_lines_does_not_matter(bill_lines: list[BillLine], tax: Decimal, random) -> None:
    shuffled = bill_lines[:]
    random.shuffle(shuffled)

    assert bill_of(bill_lines, tax_ratio=tax) == bill_of(shuffled, tax_ratio=tax)


@given(st.lists(lines, max_size=12), st.decimals(0, 1, places=4))
def test_a_bill_adds_up(bill_lines: list[BillLine], tax: Decimal) -> None:
    bill = bill_of(bill_lines, tax_ratio=tax)

    assert bill.total == bill.subtotal + bill.tax
    assert Decimal(0) <= bill.taxed <= bill.subtotal
    assert abs(bill.tax - bill.taxed * tax) <= Decimal("0.005")


@pytest.mark.parametrize("tax", ["-0.01", "1.01", "NaN"])
def test_a_tax_that_is_none_is_refused(tax: str) -> None:
    with pytest.raises(OutOfRange):
        bill_of([], tax_ratio=Decimal(tax))


def test_a_figure_that_is_not_finite_is_refused() -> None:
    with pytest.raises(OutOfRange):
        as_decimal(float("inf"))
