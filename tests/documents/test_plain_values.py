"""Frozen values survive the way to JSON and back, and nothing that does not fit gets through."""

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum

import pytest

from builds.documents.plain_values import PlainValueFault, plain_of, value_of
from builds.engineering.assessment import Assessment
from tests.factories.assessments import sample_assessment
from tests.factories.designs import large_design


class Colour(StrEnum):
    RED = "red"


@dataclass(frozen=True)
class Leaf:
    word: str
    figure: float
    count: int = 1
    flag: bool = False
    money: Decimal | None = None
    on: date | None = None
    at: datetime | None = None
    colour: Colour = Colour.RED
    pair: tuple[str, float] = ("a", 1.0)


@dataclass(frozen=True)
class Tree:
    leaves: tuple[Leaf, ...]


FULL = Leaf("x", 0.1, 3, True, Decimal("1.50"), date(2026, 12, 9), datetime(2026, 12, 9, 10, 40, tzinfo=UTC))


def test_value_of_gives_back_what_plain_of_wrote() -> None:
    tree = Tree((FULL, Leaf("y", 2.0)))

    assert value_of(Tree, json.loads(json.dumps(plain_of(tree)))) == tree


def test_value_of_gives_back_a_whole_assessment() -> None:
    assessment = sample_assessment(large_design())

    assert value_of(Assessment, json.loads(json.dumps(plain_of(assessment)))) == assessment


def test_plain_of_keeps_the_places_of_money() -> None:
    assert plain_of(Decimal("1.50")) == "1.50"


@pytest.mark.parametrize(
    ("plain", "place"),
    [
        ({"leaves": [{"word": 1, "figure": 1}]}, "/leaves/0/word"),
        ({"leaves": [{"word": "x", "figure": "1"}]}, "/leaves/0/figure"),
        ({"leaves": [{"word": "x", "figure": True}]}, "/leaves/0/figure"),
        ({"leaves": [{"word": "x", "figure": 1, "count": 1.5}]}, "/leaves/0/count"),
        ({"leaves": [{"word": "x", "figure": 1, "on": "9 December"}]}, "/leaves/0/on"),
        ({"leaves": [{"word": "x", "figure": 1, "money": "much"}]}, "/leaves/0/money"),
        ({"leaves": [{"word": "x", "figure": 1, "colour": "green"}]}, "/leaves/0/colour"),
        ({"leaves": [{"word": "x", "figure": 1, "pair": ["a"]}]}, "/leaves/0/pair"),
        ({"leaves": [{"word": "x", "figure": 1, "more": 1}]}, "/leaves/0/more"),
        ({"leaves": [{"word": "x"}]}, "/leaves/0"),
        ({"leaves": {}}, "/leaves"),
        ([], "the value"),
    ],
)
def test_value_of_names_the_place_of_what_does_not_fit(plain: object, place: str) -> None:
    with pytest.raises(PlainValueFault, match=place):
        value_of(Tree, plain)


def test_plain_of_refuses_what_json_cannot_carry() -> None:
    with pytest.raises(PlainValueFault):
        plain_of({1, 2})
