"""A parts list is taken whole or not at all, and every fault is named by line and column."""

from decimal import Decimal

import pytest

from builds.models import Person, Role
from inventory.errors import CatalogueFaults
from inventory.models import Part, Supplier
from inventory.services.part_list import take_part_list
from tests.factories.builds import make_person
from tests.factories.inventory import make_part

pytestmark = pytest.mark.django_db


@pytest.fixture
def by() -> Person:
    return make_person(Role.PARTS_CLERK)


def test_list_adds_new_parts_and_changes_known_ones(by: Person) -> None:
    make_part(number="INV-1", unit_price=Decimal("5"), mass_kg=Decimal("0.2"))
    content = (
        "\ufeffnumber,description,supplier,unit_price,load_model,load_current_a,load_at_v\r\n"
        "INV-1,Lamp head,Invented Lamps,6.25,constant_current,1.2,12.8\r\n"
        'INV-2,"Wire, red",Invented Lamps,0.4512,,,\r\n\r\n'
    )

    taken = take_part_list(content=content.encode(), by=by)

    assert (taken.added, taken.changed) == (1, 1)
    known = Part.objects.get(number="INV-1")
    assert (known.unit_price, known.mass_kg, known.row_version) == (Decimal("6.2500"), Decimal("0.200"), 2)
    assert known.load_current_a == Decimal("1.200")
    assert Part.objects.get(number="INV-2").description == "Wire, red"
    assert Supplier.objects.count() == 1


BAD_LISTS: dict[str, tuple[bytes, int, str, str]] = {
    "empty": (b"", 1, "line", "empty"),
    "head only": (b"number,description\n", 2, "line", "no parts"),
    "no number column": (b"description\nLamp\n", 1, "number", "missing"),
    "unknown column": (b"number,description,taste\nA,B,salt\n", 1, "taste", "no such column"),
    "column twice": (b"number,description,unit,unit\nA,B,each,each\n", 1, "unit", "twice"),
    "too few cells": (b"number,description\nA\n", 2, "line", "has 1 cells, the head has 2"),
    "too many cells": (b"number,description\nA,B,C\n", 2, "line", "has 3 cells"),
    "empty number": (b"number,description\n,B\n", 2, "number", "must not be empty"),
    "long number": (b"number,description\n" + b"A" * 61 + b",B\n", 2, "number", "longer than 60"),
    "number twice": (b"number,description\nA,B\nA,C\n", 3, "number", "line 2 already"),
    "comma for a point": (b'number,description,unit_cost\nA,B,"1,5"\n', 2, "unit_cost", "with a point"),
    "below zero": (b"number,description,mass_kg\nA,B,-1\n", 2, "mass_kg", "from 0 to"),
    "not finite": (b"number,description,unit_cost\nA,B,NaN\n", 2, "unit_cost", "from 0 to"),
    "too many decimals": (b"number,description,unit_cost\nA,B,1.23456\n", 2, "unit_cost", "more than 4 decimals"),
    "maybe": (b"number,description,taxed\nA,B,maybe\n", 2, "taxed", "yes or no"),
    "unknown model": (b"number,description,load_model\nA,B,magic\n", 2, "load_model", "constant_current"),
    "load without current": (b"number,description,load_model\nA,B,resistive\n", 2, "load_model", "load_current_a"),
    "load at zero volts": (
        b"number,description,load_model,load_current_a,load_at_v\nA,B,resistive,1,0\n",
        2,
        "load_at_v",
        "above 0",
    ),
    "not UTF-8": ("number,description\nA,Häkchen\n".encode("latin-1"), 2, "file", "UTF-8"),
    "NUL": (b"number,description\nA,\x00\n", 1, "file", "NUL"),
    "open quotation": (b'number,description\nA,"B\n', 2, "line", "cannot be read"),
    "too large": (b"number,description\n" + b"A,B\n" * 600_000, 1, "file", "larger than 2 MB"),
    "too many lines": (b"number,description\n" + b"A,\n" * 20_001, 20_000, "file", "20,000 lines"),
}


@pytest.mark.parametrize(("content", "line", "column", "words"), BAD_LISTS.values(), ids=BAD_LISTS.keys())
def test_bad_list_is_named_by_line_and_column_and_nothing_is_taken(
    by: Person, content: bytes, line: int, column: str, words: str
) -> None:
    with pytest.raises(CatalogueFaults) as refused:
        take_part_list(content=content, by=by)

    assert (line, column) in {(fault[0], fault[1]) for fault in refused.value.faults}
    assert any(words in fault[2] for fault in refused.value.faults if fault[:2] == (line, column))
    assert (Part.objects.count(), Supplier.objects.count()) == (0, 0)


def test_every_fault_of_a_list_is_named_at_once(by: Person) -> None:
    content = b"number,description,unit_cost,taxed\nA,B,x,maybe\n,C,1,yes\n"

    with pytest.raises(CatalogueFaults) as refused:
        take_part_list(content=content, by=by)

    assert [fault[:2] for fault in refused.value.faults] == [(2, "unit_cost"), (2, "taxed"), (3, "number")]


def test_mass_comes_in_pounds_as_well_and_never_in_both(by: Person) -> None:
    take_part_list(content=b"number,description,mass_lb\nLMP-9,Lamp,2.5\n", by=by)
    with pytest.raises(CatalogueFaults) as refused:
        take_part_list(content=b"number,description,mass_lb,mass_kg\nLMP-9,Lamp,2.5,1\n", by=by)

    # 2.5 lb x 0.45359237 kg/lb
    assert Part.objects.get(number="LMP-9").mass_kg == Decimal("1.134")
    assert [column for _, column, _ in refused.value.faults] == ["mass_lb"]
