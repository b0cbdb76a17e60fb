"""The demo shop goes in through the services, once, whatever the hour of the week."""

from datetime import UTC, datetime

import pytest

from builds.models import Booking, Build, Occupancy, Person, Stage
from config.demo.shop import load_demo_shop
from inventory.models import StockEntry

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("day", [25, 28, 29])
def test_demo_shop_goes_in_on_any_day_and_only_once(day: int) -> None:
    at = datetime(2026, 11, day, 3, 20, tzinfo=UTC)

    load_demo_shop(at=at)
    before = [model.objects.count() for model in (Build, Booking, Occupancy, Person, StockEntry)]
    load_demo_shop(at=at)

    assert [model.objects.count() for model in (Build, Booking, Occupancy, Person, StockEntry)] == before
    assert dict(Build.objects.values_list("number", "stage")) == {
        "2609": Stage.IN_WORK, "2612": Stage.IN_WORK, "2613": Stage.IN_WORK, "2615": Stage.APPROVED,
        "2617": Stage.QUOTED, "2619": Stage.INTAKE,
    }  # fmt: skip
    assert set(Build.objects.values_list("invented", flat=True)) == {True}
