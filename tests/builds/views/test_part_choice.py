"""A line of the parts bill looks its number up in the catalogue, and says plainly when that has no such number."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from builds.models import Build, Role
from inventory.models import Part
from tests.builds.views.sheets import HTMX
from tests.factories.builds import make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def build(client: Client) -> Build:
    make_shop()
    designer = make_person(Role.DESIGNER)
    client.force_login(designer)
    Part.objects.create(
        number="LMP-7", description="Scene lamp (invented)", unit="each", unit_cost=Decimal(40), unit_price=Decimal("61.5"),
        mass_kg=Decimal("1.134"), serial_required=True,
    )  # fmt: skip
    return make_designed_build(designer)


def ask(client: Client, build: Build, typed: str) -> Any:
    return client.get(f"/builds/{build.number}/part-choice/", {"q": typed}).json()


def add(client: Client, build: Build, **typed: str) -> Any:
    sent = {"key": "7", "quantity": "2", "supplied_by": "shop", "taxed": "on"} | typed
    return client.post(f"/builds/{build.number}/rows/part/", sent, headers=HTMX)


def test_known_number_comes_with_all_the_catalogue_says_in_the_units_of_the_build(client: Client, build: Build) -> None:
    answer = ask(client, build, "LMP-7")

    assert answer["fields"] == {
        "description": "Scene lamp (invented)", "unit": "each", "unit_cost": "40", "unit_price": "61.5", "mass_kg": "2.5",
        "taxed": True, "serial_required": True, "programmable": False,
    }  # fmt: skip
    assert answer["words"] == "In the catalogue: Scene lamp (invented), 61.50 each, 2.5 lb."
    assert ["LMP-7", "Scene lamp (invented)"] in ask(client, build, "scene")["offers"]


def test_unknown_number_is_called_new(client: Client, build: Build) -> None:
    answer = ask(client, build, "LMP-8")

    assert answer["fields"] == {} and answer["words"].startswith("New to the catalogue")


def test_added_line_takes_from_the_catalogue_what_nobody_typed(client: Client, build: Build) -> None:
    assert add(client, build, part_number="LMP-7", unit_price="70").status_code == 200

    line = build.parts.get(key="7")
    assert (line.description, line.unit_price, line.unit_cost) == ("Scene lamp (invented)", Decimal(70), Decimal(40))
    assert (line.mass_kg, line.serial_required) == (Decimal("1.134"), True)


def test_tick_taken_away_on_the_page_stays_away(client: Client, build: Build) -> None:
    add(client, build, part_number="LMP-7", **{"catalogue-shown": "LMP-7"})

    assert build.parts.get(key="7").serial_required is False


def test_new_number_needs_its_own_words_and_is_cautioned_about(client: Client, build: Build) -> None:
    refused = add(client, build, part_number="LMP-8")
    assert refused.status_code == 422 and not build.parts.filter(key="7").exists()

    kept = add(client, build, part_number="LMP-8", description="Lamp of another make", zone="REAR")
    page = client.get(f"/builds/{build.number}/").content.decode()

    assert kept.status_code == 200
    assert "Part line 7 (Lamp of another make) comes from the shop and has no price" in page
    assert "Part line 7 (Lamp of another make) has a place on the vehicle and no mass" in page
    assert "no price</td>" in page and "not known</td>" in page


def test_row_being_typed_carries_the_address_of_the_catalogue(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/", {"add": "part"}).content.decode()

    assert f'data-catalogue="/builds/{build.number}/part-choice/"' in page
    assert '<datalist id="parts-catalogue">' in page
