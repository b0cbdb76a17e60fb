"""The stores' pages: what they show and on whose clock."""

from datetime import UTC, datetime
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client

from builds.models import Role
from inventory.models import Part
from inventory.services import stock
from tests.factories.builds import make_person, make_shop

pytestmark = pytest.mark.django_db


def test_movements_of_a_part_are_printed_on_the_shops_clock(client: Client) -> None:
    make_shop(time_zone="America/New_York")
    clerk = make_person(Role.PARTS_CLERK)
    part = Part.objects.create(number="LMP-1", description="Lamp (invented)")
    stock.receive(
        part=part, quantity=Decimal(4), unit_cost=Decimal(2), reference="note 1", event_id=uuid4(), by=clerk,
        at=datetime(2026, 12, 9, 3, 40, tzinfo=UTC),
    )  # fmt: skip
    client.force_login(clerk)

    page = client.get("/stores/parts/LMP-1/").content.decode()

    assert "Tue 8 Dec 2026 22:40" in page
