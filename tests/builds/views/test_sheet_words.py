"""What a sheet says in the shop's own words: units a shop in pounds reads, what was taken off, what is left of what."""

from typing import Any

import pytest
from django.test import Client

from builds.models import BodyPenetration, PartsBillLine, Role
from inventory.models import Part
from tests.builds.views.sheets import keep
from tests.factories.builds import AT, make_build, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def designer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.DESIGNER, short_name="M. Vale")
    client.force_login(person)
    return person


def sheet(client: Client, number: str) -> str:
    return str(client.get(f"/builds/{number}/").content.decode())


def test_figures_of_a_finding_and_of_a_hole_stand_in_the_units_of_the_build(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    build.parts.update(mass_kg=3000)
    BodyPenetration.objects.create(build=build, label="H1", place="roof", diameter_mm=25.4, by=designer, at=AT)

    page = sheet(client, build.number)

    assert "limit 9,920.8 lb" in page  # 4,500 kg
    assert "1.00 in (25.4 mm)" in page


def test_payload_left_is_set_against_what_the_vehicle_may_carry(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    platform = build.platform
    carries_kg = platform.gvwr_kg - platform.curb_front_kg - platform.curb_rear_kg

    page = sheet(client, build.number)

    assert f"left of {float(carries_kg) / 0.45359237:,.0f}" in page


def test_what_the_bill_takes_off_stands_in_the_register_of_factory_parts(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    part = Part.objects.create(number="FACT-SEAT", description="Rear bench (invented)")
    PartsBillLine.objects.create(
        build=build,
        part=part,
        key="X1",
        line=91,
        quantity=1,
        description="Rear bench",
        supplied_by="shop",
        removed=True,
    )

    register = sheet(client, build.number).partition("Factory parts taken off")[2]

    assert "1 × Rear bench" in register
    assert "line X1" in register
    assert "written down as taken off" not in register


def test_wire_of_a_shop_in_feet_is_said_in_feet_too(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    part = Part.objects.create(number="WIRE-14", description="Wire (invented)", unit="m")
    PartsBillLine.objects.create(
        build=build, part=part, key="W1", line=92, quantity=210, unit="m", description="Wire", supplied_by="shop"
    )

    assert "210 m (689 ft)" in sheet(client, build.number)


def test_empty_build_claims_no_margins_and_no_clean_bill(client: Client, designer: Any) -> None:
    build = make_build(designer)

    page = sheet(client, build.number)

    assert "o compute yet." in page and "No findings." not in page
    strip = page.partition('id="strip"')[2].partition('id="bottom-bar"')[0].partition("<nav")[0]
    assert "margin-bar" not in strip and "no load yet" in strip and "no part, no operation yet" in strip


def test_places_where_nothing_is_mounted_and_findings_go_by_their_names(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    build.conditions.update(source_state="idle", name="On scene, idling")
    build.runs.filter(key="R0").delete()
    build.nodes.filter(key="ALT").delete()

    page = sheet(client, build.number)

    assert "<p>Curtain: Curtain airbag." in page
    assert "5 · On scene, idling</a>" in page


def test_a_voltage_range_upside_down_is_refused_without_names_of_fields(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)

    answer = keep(client, build.number, "condition:idle", source_low_v="14", source_high_v="12").content.decode()

    assert "12 is below the lowest voltage, 14." in answer
    assert "source_low_v," not in answer
