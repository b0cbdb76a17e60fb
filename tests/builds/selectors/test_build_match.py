"""The matches kept beside each build say what the selector works out, whatever happens to parts, stock, gear and vehicle."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection

from builds.models import Build, BuildMatch, CheckIn, CustomerGear, PartsBillLine, Person, Role
from builds.selectors.match import match_of
from inventory.models import StockEntry
from tests.factories.builds import AT, make_build, make_designed_build, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk() -> Person:
    return make_person(Role.MANAGER)


@pytest.fixture
def build(clerk: Person) -> Build:
    return make_designed_build(clerk)


def kept(build: Build) -> tuple[bool, bool | None, bool | None]:
    match = BuildMatch.objects.get(build=build)
    return match.vehicle_here, match.parts_here, match.gear_here


def worked_out(build: Build) -> tuple[bool, bool | None, bool | None]:
    match = match_of(build)
    return match.vehicle, match.parts, match.gear


def move(build: Build, clerk: Person, kind: str, on_hand: str, reserved: str) -> None:
    StockEntry.objects.create(
        event_id=uuid4(), part=build.parts.get(key="1").part, kind=kind, on_hand_change=Decimal(on_hand),
        reserved_change=Decimal(reserved), job="" if kind == "receive" else build.number, by=clerk, at=AT,
    )  # fmt: skip


def check(build: Build, clerk: Person, direction: str, minute: int = 0) -> None:
    CheckIn.objects.create(
        event_id=uuid4(), build=build, vehicle=build.vehicle, direction=direction, odometer_km=10, fuel_ratio=Decimal("0.5"),
        by=clerk, at=AT.replace(minute=minute),
    )  # fmt: skip


def test_new_build_needs_its_vehicle_and_nothing_else_yet(clerk: Person) -> None:

    build = make_build(clerk)

    assert kept(build) == worked_out(build) == (False, None, None)


def test_vehicle_is_here_from_check_in_to_check_out(build: Build, clerk: Person) -> None:
    check(build, clerk, "in", 1)
    assert kept(build) == worked_out(build) and kept(build)[0]

    check(build, clerk, "out", 2)
    assert kept(build) == worked_out(build) and not kept(build)[0]


def test_vehicle_checked_in_for_another_build_is_not_here_for_this_one(build: Build, clerk: Person) -> None:
    other = make_designed_build(clerk, customer=build.customer, platform=build.platform, vehicle=build.vehicle)
    check(build, clerk, "in", 1)

    check(other, clerk, "in", 2)

    assert kept(build)[0] is worked_out(build)[0] is False
    assert kept(other)[0] is worked_out(other)[0] is True


def test_parts_are_here_while_reserved_and_after_they_are_issued(build: Build, clerk: Person) -> None:
    assert kept(build) == worked_out(build) and kept(build)[1] is False
    move(build, clerk, "receive", "5", "0")
    move(build, clerk, "reserve", "0", "1")
    assert kept(build) == worked_out(build) and kept(build)[1] is True

    move(build, clerk, "issue", "-1", "-1")
    assert kept(build) == worked_out(build) and kept(build)[1] is True

    move(build, clerk, "return", "1", "0")
    assert kept(build) == worked_out(build) and kept(build)[1] is False


def test_longer_parts_bill_is_short_again(build: Build, clerk: Person) -> None:
    move(build, clerk, "receive", "5", "0")
    move(build, clerk, "reserve", "0", "1")

    build.parts.update(quantity=2)
    assert kept(build) == worked_out(build) and kept(build)[1] is False

    build.parts.all().delete()
    assert kept(build) == worked_out(build) and kept(build)[1] is None


def test_customers_gear_is_here_once_all_of_it_came(build: Build, clerk: Person) -> None:
    line = build.parts.get(key="1")
    PartsBillLine.objects.create(
        build=build, part=line.part, line=2, key="2", description="Radio set", quantity=1, supplied_by="customer"
    )
    assert kept(build) == worked_out(build) and kept(build)[2] is False

    gear = CustomerGear.objects.create(build=build, description="Radio set", by=clerk, at=AT)
    assert kept(build) == worked_out(build) and kept(build)[2] is False

    CustomerGear.objects.filter(pk=gear.pk).update(received_at=AT)
    assert kept(build) == worked_out(build) and kept(build)[2] is True

    CustomerGear.objects.all().delete()
    assert kept(build) == worked_out(build) and kept(build)[2] is False


def test_many_rows_in_one_statement_mark_every_build(clerk: Person) -> None:
    builds = [make_designed_build(clerk) for _ in range(3)]
    CustomerGear.objects.bulk_create(
        CustomerGear(build=build, description="Radio", by=clerk, at=AT) for build in builds
    )

    assert [kept(build) for build in builds] == [worked_out(build) for build in builds]
    assert all(kept(build)[2] is False for build in builds)


def test_application_cannot_write_the_matches_itself(build: Build) -> None:
    with connection.cursor() as cursor:
        cursor.execute("select has_table_privilege('baywright_app', 'builds_buildmatch', 'insert, update, delete')")
        assert cursor.fetchone() == (False,)
