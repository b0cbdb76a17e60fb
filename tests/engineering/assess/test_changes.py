"""Changes applied to a design, part by part."""

from dataclasses import replace

import pytest

from builds.engineering.changes import FAMILIES, apply_changes
from builds.engineering.design import DutyProfile, DutySegment, ShedStep
from builds.engineering.errors import OutOfRange, UnknownTableEntry
from builds.engineering.findings import Change
from tests.engineering.assess.designs import SOUND


def test_change_sets_one_field_of_one_part() -> None:
    changed = apply_changes(SOUND, [Change(subject="circuit:103", field="gauge", value="10")])

    assert [circuit.gauge for circuit in changed.circuits] == ["12", "12", "10", "14", "8", "16"]
    assert changed.circuits[0] is SOUND.circuits[0]
    assert SOUND.circuits[2].gauge == "12"


def test_changes_are_made_in_order() -> None:
    changes = [Change(subject="run:R2", field="gauge", value=gauge) for gauge in ("6", "2")]

    assert apply_changes(SOUND, changes).runs[1].gauge == "2"


WITH_DUTY = replace(
    SOUND,
    duty_profiles=(DutyProfile(key="day", name="a day"),),
    duty_segments=(DutySegment(key="1", profile="day", condition="scene", duration_min=30.0),),
    shed_steps=(ShedStep(key="1", name="lockers", off_below_v=11.8, on_above_v=12.8),),
)


@pytest.mark.parametrize("family", FAMILIES)
def test_every_family_finds_its_parts_by_key(family: str) -> None:
    part = getattr(WITH_DUTY, FAMILIES[family].field)[0]
    field = next(name for name in ("legend", "name", "gauge", "description", "condition") if hasattr(part, name))
    changed = apply_changes(
        WITH_DUTY, [Change(subject=f"{family}:{FAMILIES[family].key_of(part)}", field=field, value="12")]
    )

    assert getattr(getattr(changed, FAMILIES[family].field)[0], field) == "12"


def test_change_of_the_build_itself() -> None:
    assert apply_changes(SOUND, [Change(subject="build", field="title", value="van")]).title == "van"


@pytest.mark.parametrize(
    ("subject", "field"),
    [
        ("circuit:999", "gauge"),
        ("splice:1", "gauge"),
        ("circuit:101", "no_such_field"),
        ("build", "no_such_field"),
        ("circuit", "gauge"),
    ],
)
def test_change_of_what_is_not_there_is_an_error(subject: str, field: str) -> None:
    with pytest.raises(UnknownTableEntry):
        apply_changes(SOUND, [Change(subject=subject, field=field, value="10")])


def test_changed_value_is_checked_like_a_typed_one() -> None:
    with pytest.raises(OutOfRange):
        apply_changes(SOUND, [Change(subject="circuit:101", field="device_rating_a", value=-5.0)])
