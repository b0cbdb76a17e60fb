"""Check-in and check-out: the same list both times, with photos, all of it or nothing."""

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from builds.errors import BadInput, GuardRefused, NotAllowed, Taken
from builds.models import Build, CheckIn, Person, Photo, Role, StoredFile
from builds.selectors.match import match_of
from builds.services.check_ins import Condition, photo_ids, record
from tests.factories.builds import AT, make_build, make_person
from tests.factories.floor import make_photo_file

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


@pytest.fixture
def writer() -> Person:
    return make_person(Role.SERVICE_WRITER)


def found(**more: Any) -> Condition:
    return Condition(**{"odometer_km": Decimal("1200.5"), "fuel_ratio": Decimal("0.75")} | more)


def check(build: Build, by: Person, direction: str = "in", **more: Any) -> CheckIn:
    more = {"condition": found(), "event_id": uuid4(), "at": AT} | more
    return record(build=build, direction=direction, by=by, **more)


def test_check_in_keeps_what_was_found_and_the_vehicle_is_here(writer: Person) -> None:
    build = make_build()
    condition = found(warning_lamps="tyre", stored_faults="P0456", damage="scratch, left rear door", plate="X 12")

    entry = check(build, writer, condition=condition, photos=[make_photo_file(), make_photo_file(size=(30, 30))])

    entry.refresh_from_db()
    assert (entry.odometer_km, entry.fuel_ratio, entry.damage) == (
        Decimal("1200.5"),
        Decimal("0.750"),
        "scratch, left rear door",
    )
    kept = Photo.objects.filter(event_id__in=photo_ids(entry))
    assert [photo.caption for photo in kept] == ["Check-in", "Check-in"]
    assert match_of(build).vehicle


def test_same_check_in_sent_again_is_kept_once(writer: Person) -> None:
    build, event_id = make_build(), uuid4()
    first = check(build, writer, event_id=event_id, photos=[make_photo_file()])

    assert check(build, writer, event_id=event_id, photos=[make_photo_file()]) == first
    assert (CheckIn.objects.count(), Photo.objects.count()) == (1, 1)
    with pytest.raises(Taken):
        check(make_build(), writer, event_id=event_id)


def test_vehicle_comes_in_once_and_goes_out_once(writer: Person) -> None:
    build = make_build()
    with pytest.raises(GuardRefused, match="not checked in for this build"):
        check(build, writer, "out")
    check(build, writer)
    with pytest.raises(GuardRefused, match=f"checked in for {build.number} since"):
        check(build, writer, at=AT + HOUR)

    check(build, writer, "out", at=AT + HOUR)

    assert not match_of(build).vehicle
    with pytest.raises(GuardRefused):
        check(build, writer, "out", at=AT + 2 * HOUR)


def test_vehicle_in_for_one_build_is_not_here_for_its_other(writer: Person) -> None:
    build = make_build()
    other = make_build(customer=build.customer, platform=build.platform, vehicle=build.vehicle)
    check(build, writer)

    assert (match_of(build).vehicle, match_of(other).vehicle) == (True, False)
    with pytest.raises(GuardRefused):
        check(other, writer, at=AT + HOUR)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"odometer_km": Decimal(-1)}, "odometer"),
        ({"odometer_km": Decimal("NaN")}, "odometer"),
        ({"odometer_km": Decimal("1200.55")}, "odometer"),
        ({"odometer_km": Decimal(10) ** 8}, "odometer"),
        ({"fuel_ratio": Decimal("1.01")}, "fuel"),
        ({"fuel_ratio": Decimal("-0.1")}, "fuel"),
        ({"warning_lamps": "x" * 201}, "warning_lamps"),
        ({"plate": "x" * 21}, "plate"),
    ],
)
def test_figure_that_cannot_be_is_refused_at_its_field(writer: Person, change: dict[str, Any], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        check(make_build(), writer, condition=found(**change))
    assert list(refused.value.fields) == [field]
    assert not CheckIn.objects.exists()


def test_odometer_does_not_run_backwards(writer: Person) -> None:
    build = make_build()
    check(build, writer)

    with pytest.raises(BadInput, match=r"It stood at 746\.0 mi last time"):
        check(build, writer, "out", condition=found(odometer_km=Decimal(1200)), at=AT + HOUR)


def test_photo_that_cannot_be_read_keeps_nothing_of_the_check_in(writer: Person) -> None:
    with pytest.raises(BadInput, match="not a photo"):
        check(make_build(), writer, photos=[make_photo_file(), b"a text"])

    assert (CheckIn.objects.count(), Photo.objects.count(), StoredFile.objects.count()) == (0, 0, 0)


def test_more_photos_than_are_kept_are_refused(writer: Person) -> None:
    with pytest.raises(BadInput, match="at most 12 photos"):
        check(make_build(), writer, photos=[b""] * 13)


@pytest.mark.parametrize("role", [Role.PARTS_CLERK, Role.DESIGNER, Role.INSPECTOR])
def test_roles_that_do_not_check_in_are_refused(role: Role) -> None:
    with pytest.raises(NotAllowed):
        check(make_build(), make_person(role))
