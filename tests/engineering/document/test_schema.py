"""The published schema is that of the dataclasses: same fields, same ranges, and the files in docs are its text."""

import dataclasses
import json
import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from builds.engineering.document import schema_text
from builds.engineering.document.limits import limits_of
from builds.engineering.document.meanings import MEANINGS
from builds.engineering.document.reference_page import page_with_tables
from builds.engineering.document.scales import SCALES
from builds.engineering.document.shape import FieldShape, Kind, classes_of_design, shape_of
from builds.engineering.errors import OutOfRange
from builds.engineering.vocabulary import NodeKind
from tests.engineering.document.samples import small_design, small_document

REFERENCE = Path(__file__).parents[3] / "docs" / "reference"
NUMERIC = [
    pytest.param(part, shape, id=f"{part.__name__}.{shape.name}")
    for part in classes_of_design()
    for shape in shape_of(part)
    if shape.kind in (Kind.NUMBER, Kind.COUNT)
]
# Ranges that the dataclass leaves open on one end or both; the schema closes them at what a column keeps.
OPEN_ABOVE = {
    "Load.inrush_a",
    "Platform.curb_front_kg",
    "Platform.curb_rear_kg",
    "Platform.gawr_front_kg",
    "Platform.gawr_rear_kg",
    "Platform.gvwr_kg",
    "Platform.wheelbase_mm",
    "Route.length_m",
}
UNCHECKED = {
    "BatterySpec.reserve_min",
    "Circuit.insulation_c",
    "OperatingCondition.min_hours",
    "PowerNode.rating_a",
    "Run.insulation_c",
    "Run.resistance_mohm",
    "Vehicle.model_year",
    "Zone.max_load_kg",
    "Zone.x_mm",
    "Zone.y_mm",
}


def test_the_schema_itself_is_a_schema() -> None:
    Draft202012Validator.check_schema(json.loads(schema_text()))


def test_the_published_file_is_the_schema() -> None:
    published = (REFERENCE / "build-document.schema.json").read_text(encoding="utf-8")

    assert published == schema_text(), "run: python3 manage.py gendocs"


def test_the_reference_page_holds_the_field_tables() -> None:
    page = (REFERENCE / "build-document.md").read_text(encoding="utf-8")

    assert page == page_with_tables(page), "run: python3 manage.py gendocs"


def test_another_validator_takes_the_small_document() -> None:
    assert list(Draft202012Validator(json.loads(schema_text())).iter_errors(small_document())) == []


def test_every_class_and_field_has_a_meaning_and_no_meaning_is_left_over() -> None:
    named = {part.__name__ for part in classes_of_design()}
    named |= {f"{part.__name__}.{shape.name}" for part in classes_of_design() for shape in shape_of(part)}

    assert set(MEANINGS) == named


@pytest.mark.parametrize(("part", "shape"), NUMERIC)
def test_every_range_fits_its_column(part: type, shape: FieldShape) -> None:
    if shape.kind is Kind.COUNT:
        assert limits_of(part.__name__, shape.name).most <= 32_767  # a small integer
        return
    scale, limits = SCALES[shape.name], limits_of(part.__name__, shape.name)

    assert max(abs(limits.least), limits.most) < 10 ** (scale.digits - scale.decimals)
    assert Decimal(repr(limits.least)) % Decimal(1).scaleb(-scale.decimals) == 0


def _example_of(part: type) -> Any:
    """Return some sound part of this class from the small design."""
    waiting: list[Any] = [small_design()]
    while waiting:
        item = waiting.pop()
        if isinstance(item, part):
            return item
        if dataclasses.is_dataclass(item):
            waiting.extend(getattr(item, field.name) for field in dataclasses.fields(item))
        if isinstance(item, tuple):
            waiting.extend(item)
    return None


def _made(part: type, name: str, value: float) -> Any:
    example = _example_of(part)
    if example is not None:
        return dataclasses.replace(example, **{name: value})
    others = {
        "AccessPoint": {"key": "A", "name": "", "zone": "", "allowance_a": 30.0},
        "AlternatorPoint": {"speed_rpm": 1500.0, "ambient_c": 25.0, "output_a": 50.0},
        "AlternatorSpec": {"rated_a": 100.0, "idle_ratio": 0.5, "speed_ratio": 0.8},
        "ConverterSpec": {"output_v": 24.0, "limit_a": 10.0, "efficiency_ratio": 0.9, "return_node": "G1"},
        "DropRule": {
            "key": "D",
            "drop_class": "*",
            "limit_ratio": 0.1,
            "base_v": 12.0,
            "current": "peak",
            "conductor_temp_c": 50.0,
            "source": "",
        },
        "DutyProfile": {"key": "D", "name": ""},
        "DutySegment": {"key": "T", "profile": "D", "condition": "work", "duration_min": 100_000.0},
        "Operation": {"key": "O", "name": "", "place": "bench", "phase": "wire", "skill": "", "standard_h": 1.0},
        "PartsBillLine": {"key": "B", "part_number": "N", "description": "", "quantity": 1.0},
        "SeatPlace": {"name": "", "seats": 2, "x_mm": 1200.0},
        "ShedStep": {"key": "S", "name": "", "off_below_v": 1.0, "on_above_v": 60.0},
        "SourceSpec": {"limit_a": 40.0, "low_v": 1.0, "high_v": 60.0},
        "SourceUse": {"node": "ALT"},
    }
    return part(**{**others[part.__name__], name: value})


@pytest.mark.parametrize(("part", "shape"), [case for case in NUMERIC if "source_" not in str(case.id)])
def test_a_range_is_that_of_the_dataclass(part: type, shape: FieldShape) -> None:
    address, limits = f"{part.__name__}.{shape.name}", limits_of(part.__name__, shape.name)
    step = 1 if shape.kind is Kind.COUNT else 10.0 ** -SCALES[shape.name].decimals
    number = int if shape.kind is Kind.COUNT else float

    _made(part, shape.name, number(limits.least + (step if limits.above_least else 0)))
    _made(part, shape.name, number(limits.most))
    if address in UNCHECKED:
        return
    with pytest.raises(OutOfRange):
        _made(part, shape.name, number(limits.least if limits.above_least else limits.least - step))
    if address not in OPEN_ABOVE:
        with pytest.raises(OutOfRange):
            _made(part, shape.name, number(limits.most + step))


def test_a_conditions_voltages_run_from_low_to_high() -> None:
    condition = small_design().conditions[0]

    for low, high in ((0.999, 13.0), (13.0, 60.001), (13.2, 13.1), (math.nan, 13.0)):
        with pytest.raises(OutOfRange):
            dataclasses.replace(condition, source_low_v=low, source_high_v=high)


def test_choices_are_those_of_the_vocabulary() -> None:
    kinds = json.loads(schema_text())["$defs"]["PowerNode"]["properties"]["kind"]["enum"]

    assert kinds == [kind.value for kind in NodeKind]
