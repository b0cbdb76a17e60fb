"""A working design kept in the process is never an older one than the rows."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from builds.models import BuyerProfile, Person, Role, Vehicle
from builds.selectors.build_sheet import build_named
from builds.selectors.design_after import design_after
from builds.selectors.engineering_inputs import PART_OF_ROW, design_of
from builds.selectors.kept_designs import assessed_design, forget_designs
from builds.services import buyer_profiles, design_edits
from builds.services.design_rows import FAMILIES
from tests.factories.builds import AT, make_designed_build, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_kept() -> Any:
    forget_designs()
    yield
    forget_designs()


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


def test_design_at_hand_asks_nothing(manager: Person) -> None:
    build = build_named(make_designed_build(manager).number)
    first = assessed_design(build)

    with CaptureQueriesContext(connection) as questions:
        again = assessed_design(build)

    assert again == first and len(questions) == 0


def test_edit_of_the_design_is_seen(manager: Person) -> None:
    build = make_designed_build(manager)
    assessed_design(build_named(build.number))

    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "12"}, row_version=1, by=manager, at=AT
    )

    design, _ = assessed_design(build_named(build.number))
    assert design == design_of(build) and design.circuits[0].gauge == "12"


def test_new_rule_of_the_buyer_is_seen(manager: Person) -> None:
    build = make_designed_build(manager)
    assessed_design(build_named(build.number))

    buyer_profiles.set_rule(
        profile=build.profile,
        key="key-off-limit",
        value=Decimal(20),
        source="contract",
        row_version=0,
        by=manager,
        at=AT,
    )

    _, assessment = assessed_design(build_named(build.number))
    assert assessment.energy.key_off_limit_ma == 20
    assert BuyerProfile.objects.get(pk=build.profile_id).row_version == 2


def test_vehicle_by_another_version_is_read_anew(manager: Person) -> None:
    build = make_designed_build(manager)
    assessed_design(build_named(build.number))
    Vehicle.objects.filter(pk=build.vehicle_id).update(unit_number="SWR-9", row_version=2)

    assert assessed_design(build_named(build.number))[0].vehicle.unit_number == "SWR-9"


def test_bare_records_give_the_parts_that_rows_give(manager: Person) -> None:
    build = make_designed_build(manager, circuits=3)
    design = design_of(build)

    for family in FAMILIES.values():
        rows = tuple(PART_OF_ROW[family.name](row) for row in family.rows(build))
        assert getattr(design, family.related_name) == rows


@pytest.mark.parametrize(
    "edits",
    [
        [("circuit", "101", {"gauge": "12"})],
        [("load", "L102", {"current_a": 2.5, "zone": "REAR"}), ("circuit", "102", {"legend": "REAR LAMP"})],
        [("circuit", "101", {"number": "150"})],
        [("condition", "idle", {"uses": [{"load": "L101", "duty_ratio": 0.5}]})],
        [("node", "BAT1", {"battery.usable_ratio": 0.6})],
        [("operation", "O2", {"after": []})],
    ],
)
def test_design_carried_over_an_edit_is_the_one_that_is_read(manager: Person, edits: list[Any]) -> None:
    build = make_designed_build(manager)
    before, read_at = design_of(build), build.design_version
    rows = [design_edits.RowEdit(family=family, key=key, values=values, row_version=1) for family, key, values in edits]

    batch = design_edits.edit_rows(build=build, rows=rows, by=manager, at=AT)

    assert design_after(build, before=before, read_at=read_at, batch=batch) == design_of(build)


def test_design_with_rows_added_removed_or_undone_is_the_one_that_is_read(manager: Person) -> None:
    build = make_designed_build(manager)
    before, read_at = design_of(build), build.design_version
    batch = design_edits.remove_row(build=build, family="circuit", key="101", row_version=1, by=manager, at=AT)
    assert design_after(build, before=before, read_at=read_at, batch=batch) == design_of(build)

    before, read_at = design_of(build), build.design_version
    batch = design_edits.undo_last(build=build, by=manager, at=AT)
    assert design_after(build, before=before, read_at=read_at, batch=batch) == design_of(build)


def test_edit_of_someone_else_in_between_is_not_lost(manager: Person) -> None:
    build = make_designed_build(manager)
    before, read_at = design_of(build), build.design_version
    design_edits.edit_row(
        build=build, family="circuit", key="102", values={"gauge": "10"}, row_version=1, by=manager, at=AT
    )
    batch = design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "12"}, row_version=1, by=manager, at=AT
    )

    after = design_after(build, before=before, read_at=read_at, batch=batch)

    assert [circuit.gauge for circuit in after.circuits] == ["12", "10"]
