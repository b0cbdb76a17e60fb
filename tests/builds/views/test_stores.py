"""The stores' pages: what they show and on whose clock."""

from datetime import UTC, datetime
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from builds.models import PartsBillLine, Role
from inventory.models import Part
from inventory.services import stock
from tests.factories.builds import make_designed_build, make_person, make_shop

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


def test_a_movement_shows_its_sign_and_a_figure_only_where_something_changed(client: Client) -> None:
    make_shop()
    clerk = make_person(Role.PARTS_CLERK)
    part = Part.objects.create(number="LMP-3", description="Lamp (invented)", unit_price=Decimal("12.5"))
    stock.receive(
        part=part, quantity=Decimal(4), unit_cost=Decimal(2), reference="note 1", event_id=uuid4(), by=clerk,
        at=datetime(2026, 12, 9, 15, 0, tzinfo=UTC),
    )  # fmt: skip
    client.force_login(clerk)

    page = client.get("/stores/parts/LMP-3/").content.decode()

    assert '<td class="num" data-label="On hand">+4</td><td class="num"></td>' in page
    assert "<dt>Price each</dt><dd>12.50 USD</dd>" in page


def test_search_of_many_letters_shows_nothing_rather_than_everything(client: Client) -> None:
    make_shop()
    Part.objects.create(number="LMP-9", description="Lamp (invented)")
    client.force_login(make_person(Role.PARTS_CLERK))

    assert "LMP-9" in client.get("/stores/").content.decode()
    assert "LMP-9" not in client.get("/stores/?q=" + "no+such+thing+" * 8).content.decode()


def test_movements_stand_newest_first_by_their_time_whenever_they_were_written(client: Client) -> None:
    make_shop()
    clerk = make_person(Role.PARTS_CLERK)
    part = Part.objects.create(number="LMP-2", description="Lamp (invented)")
    for note, day in (("later note", 9), ("earlier note", 3)):
        stock.receive(
            part=part, quantity=Decimal(1), unit_cost=Decimal(2), reference=note, event_id=uuid4(), by=clerk,
            at=datetime(2026, 12, day, 15, 0, tzinfo=UTC),
        )  # fmt: skip
    client.force_login(clerk)

    page = client.get("/stores/parts/LMP-2/").content.decode()

    assert page.index("later note") < page.index("earlier note")


def test_factory_parts_and_the_customers_own_are_not_listed_as_stores_parts(client: Client) -> None:
    writer = make_person(Role.DESIGNER)
    build = make_designed_build(writer)
    for number, supplied_by, removed in (
        ("FACT-1", "shop", True),
        ("OWN-1", "customer", False),
        ("SHOP-1", "shop", False),
    ):
        part = Part.objects.create(number=number, description=f"{number} (invented)")
        PartsBillLine.objects.create(
            build=build, part=part, key=number, line=90, quantity=1, description=number, supplied_by=supplied_by,
            removed=removed,
        )  # fmt: skip
    client.force_login(make_person(Role.PARTS_CLERK))

    page, with_others = (client.get(f"/stores/{query}").content.decode() for query in ("", "?others=on"))

    assert "SHOP-1" in page and "FACT-1" not in page and "OWN-1" not in page
    assert "FACT-1" in with_others and "OWN-1" in with_others


def test_a_list_of_one_part_is_said_in_the_singular(client: Client) -> None:
    make_shop()
    client.force_login(make_person(Role.PARTS_CLERK))
    upload = SimpleUploadedFile("list.csv", b"number,description\nLMP-3,Lamp\n")

    page = client.post("/stores/list/", {"file": upload}, follow=True).content.decode()

    assert "1 part added, none changed." in page
