"""A build with everything a design can say of sources, converters, access points and seats opens wherever a build does."""

from dataclasses import replace
from typing import Any

import pytest
from django.test import Client

from builds.documents.packet import packet_html
from builds.engineering.design import Design, PowerNode, SeatPlace, SourceSpec, SourceUse
from builds.engineering.document import canonical_text
from builds.engineering.vocabulary import NodeKind, ReversedBattery, Suppression, Switching
from builds.models import Build, Role
from builds.selectors.engineering_inputs import design_of
from builds.services.build_documents import import_build
from tests.builds.views.sheets import keep
from tests.documents.conftest import frozen_packet
from tests.engineering.assess.designs import added, changed, supply
from tests.engineering.assess.plants_feeding import WITH_24_V, WITH_STUD, on_file
from tests.factories.builds import AT, make_person, make_shop

pytestmark = pytest.mark.django_db


def wide_design() -> Design:
    design = WITH_24_V
    for family, keys in (("nodes", {"AP1"}), ("runs", {"R10"}), ("loads", {"HEAT"})):
        more = tuple(part for part in getattr(WITH_STUD, family) if part.key in keys)
        design = added(design, family.removesuffix("s"), *more)
    design = added(design, "circuit", *(circuit for circuit in WITH_STUD.circuits if circuit.number == "401"))
    shore = PowerNode(key="SH", kind=NodeKind.SHORE, name="shore inlet", zone="cargo",
                      source=SourceSpec(limit_a=20.0, low_v=13.5, high_v=14.4))  # fmt: skip
    design = added(added(design, "node", shore), "run", supply("R13", "BAT2", "SH", "8", 1.0))
    design = changed(design, "condition", "watch", sources=(SourceUse(node="SH", limit_a=15.0),), closed_nodes=("ISO",))
    design = changed(design, "load", "LOCKER", switching=Switching.LOW_SIDE)
    design = changed(design, "load", "WINCH", jump_v=18.0, reversed_battery=ReversedBattery.OPENS_DEVICE,
                     suppression=Suppression.SUPPRESSED)  # fmt: skip
    platform = replace(
        WITH_STUD.platform, track_mm=1700.0, fuel_kg=80.0, fuel_x_mm=2000.0, jump_posts="red cap", jump_order="positive first",
        seat_places=(SeatPlace(name="front", seats=2, x_mm=1200.0), SeatPlace(name="rear", seats=3, x_mm=2200.0)),
    )  # fmt: skip
    return replace(design, number="9200", platform=platform)


@pytest.fixture
def build(client: Client) -> Build:
    make_shop()
    client.force_login(make_person(Role.DESIGNER))
    return import_build(
        text=canonical_text(wide_design()), by=make_person(Role.SERVICE_WRITER, username="writer-2"), at=AT
    )


def page(client: Client, address: str) -> str:
    response = client.get(address)
    assert response.status_code == 200, address
    return str(response.content.decode())


def test_the_sheet_says_what_each_source_is(client: Client, build: Build) -> None:
    sheet = page(client, "/builds/9200/")

    assert "20 A, 13.5 to 14.4 V" in sheet
    assert "12 V to 24 V, 30 A, 90 %" in sheet
    assert "the maker&#x27;s X1" in sheet
    assert "Crew aboard" in sheet and "Nearly out of fuel" in sheet


@pytest.mark.parametrize(
    "subject", ["node:CV", "node:SH", "node:AP1", "node:BODY", "load:LOCKER", "load:WINCH", "condition:watch"]
)
def test_rows_that_say_more_open(client: Client, build: Build, subject: str) -> None:
    assert "Keep" in page(client, f"/builds/9200/?edit={subject}")


def test_a_person_changes_a_converter_and_what_charges_in_a_condition(client: Client, build: Build) -> None:
    for subject, changes in (
        ("node:CV", {"converter__limit_a": "25"}),
        ("condition:watch", {"sources": "SH 13.6 to 14.2 V, 18 A; ALT off", "open_nodes": "DISC"}),
    ):
        answer: Any = keep(client, "9200", subject, **changes)
        assert answer.status_code == 200, answer.content.decode()[:2000]

    design = design_of(Build.objects.get(pk=build.pk))
    made = next(node.converter for node in design.nodes if node.key == "CV")
    watch = next(condition for condition in design.conditions if condition.key == "watch")
    assert made is not None
    assert made.limit_a == 25
    assert watch.open_nodes == ("DISC",)
    assert [(use.node, use.low_v, use.limit_a, use.available) for use in watch.sources] == [
        ("SH", 13.6, 18.0, True), ("ALT", None, None, False),
    ]  # fmt: skip


@pytest.mark.parametrize("address", ["drawings/", "tree/", "table/run/", "table/load/", "sizes/", "what-if/"])
def test_the_other_pages_of_the_build_open(client: Client, build: Build, address: str) -> None:
    assert page(client, f"/builds/9200/{address}")


def test_what_flows_names_the_run_that_takes_most(client: Client, build: Build) -> None:
    text = page(client, "/builds/9200/currents/scene/?load=RADIO")

    assert "Load RADIO: where its volts go" in text
    assert "its own wire, 201" in text and "run S1, on the way back" in text and ">ISO<" in text
    assert "SH" in page(client, "/builds/9200/currents/watch/")
    nodes = text[text.index('id="nodes"') :]
    assert all(f">{key} <span" in nodes for key in ("BAT1", "ISO", "P2", "G2")) and "Way back, V" in nodes


def test_the_packet_names_sources_by_their_kind(build: Build) -> None:
    text = packet_html(frozen_packet(design_of(Build.objects.get(pk=build.pk))))

    assert "shore charger, set to 13.5 to 14.4 V" in text


def test_an_access_point_named_and_not_drawn_stands_wherever_runs_do(client: Client) -> None:
    make_shop()
    client.force_login(make_person(Role.DESIGNER))
    named = replace(on_file(gauge=""), number="9210")
    known = import_build(text=canonical_text(named), by=make_person(Role.SERVICE_WRITER, username="writer-2"), at=AT)

    assert design_of(known).platform == named.platform
    sheet = page(client, "/builds/9210/")
    assert "from BAT1 through the maker&#x27;s 60 A, 4.17 mΩ" in sheet
    assert "the maker&#x27;s way, 60 A" in sheet
    assert "the maker&#x27;s way, on file · 60 A" in page(client, "/builds/9210/tree/")
    assert "AP1-maker" in page(client, "/builds/9210/currents/scene/")
    assert "Fed from BAT1 starting battery by the vehicle maker: 4.17 mΩ, 60 A MRBF fuse." in packet_html(
        frozen_packet(named)
    )
