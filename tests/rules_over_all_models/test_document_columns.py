"""Every column that holds a field of the build document is as wide and as exact as the document says."""

from typing import Any

import pytest
from django.contrib.postgres.fields import ArrayField
from django.db import models as django_models

from builds import models
from builds.engineering import design as core
from builds.engineering.document.scales import SCALES, text_length
from builds.engineering.document.shape import FieldShape, Kind, shape_of
from builds.services.design_rows import FAMILIES
from inventory.models import Part

OWNERS: dict[type[Any], tuple[type[django_models.Model], str]] = {
    **{family.part: (family.model, "") for family in FAMILIES.values()},
    core.BatterySpec: (models.PowerNode, "battery_"),
    core.AlternatorSpec: (models.PowerNode, "alternator_"),
    core.PanelSpec: (models.PowerNode, "panel_"),
    core.SourceSpec: (models.PowerNode, "source_"),
    core.ConverterSpec: (models.PowerNode, "converter_"),
    core.LoadUse: (models.LoadUse, ""),
    core.AccessPoint: (models.AccessPoint, ""),
    core.SeatPlace: (models.SeatPlace, ""),
    core.DropRule: (models.DropRule, ""),
    core.BuyerRule: (models.BuyerRule, ""),
    core.Platform: (models.PlatformVersion, ""),
    core.Zone: (models.Zone, ""),
    core.Route: (models.Route, ""),
    core.NoMountZone: (models.NoMountZone, ""),
    core.Vehicle: (models.Vehicle, ""),
    core.Design: (models.Build, ""),
}
# Fields kept as a reference or in two columns, and those that are rows of another table.
ELSEWHERE = {"BuyerRule.value", "PartsBillLine.part_number", "Design.function_schedule"}


def columns(kind: Kind) -> list[Any]:
    return [
        pytest.param(shape, model._meta.get_field(prefix + shape.name), id=f"{part.__name__}.{shape.name}")
        for part, (model, prefix) in OWNERS.items()
        for shape in shape_of(part)
        if shape.kind is kind and f"{part.__name__}.{shape.name}" not in ELSEWHERE
    ]


@pytest.mark.parametrize(("shape", "column"), columns(Kind.NUMBER))
def test_a_figure_has_its_scale(shape: FieldShape, column: Any) -> None:
    assert (column.max_digits, column.decimal_places) == SCALES[shape.name]


@pytest.mark.parametrize(("shape", "column"), columns(Kind.TEXT))
def test_a_text_has_its_length(shape: FieldShape, column: Any) -> None:
    if not column.is_relation:
        assert column.max_length == text_length(shape.owner, shape.name)


@pytest.mark.parametrize(("shape", "column"), columns(Kind.TEXTS))
def test_a_list_of_texts_has_their_length(shape: FieldShape, column: Any) -> None:
    assert isinstance(column, ArrayField)
    assert column.base_field.max_length == text_length(shape.owner, shape.name)


@pytest.mark.parametrize(("shape", "column"), columns(Kind.COUNT))
def test_a_count_is_kept_as_a_whole_number(shape: FieldShape, column: Any) -> None:
    assert isinstance(column, django_models.PositiveSmallIntegerField | django_models.PositiveIntegerField)


def test_a_buyers_rule_keeps_a_number_or_a_text() -> None:
    number, text = (models.BuyerRule._meta.get_field(name) for name in ("number_value", "text_value"))

    assert (number.max_digits, number.decimal_places) == SCALES["value"]
    assert text.max_length == text_length("BuyerRule", "value")


def test_names_that_many_builds_share_have_their_length() -> None:
    assert models.Customer._meta.get_field("name").max_length == text_length("Buyer", "customer")
    assert Part._meta.get_field("number").max_length == text_length("PartsBillLine", "part_number")
    assert models.FunctionSchedule._meta.get_field("text").max_length == text_length("Design", "function_schedule")
    assert models.BuyerProfile._meta.get_field("name").max_length == text_length("Buyer", "profile")
    assert models.Build._meta.get_field("wire_colour_scheme").max_length == text_length(
        "Conventions", "wire_colour_scheme"
    )
