"""A build's sheet: what stands on it, who may change it, and how few questions it asks."""

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.models import Build, Role, Stage
from builds.services import authorisations, design_edits, revisions
from tests.builds.views.sheets import HTMX, keep, marks, opened
from tests.factories.builds import AT, make_build, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def designer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.DESIGNER, short_name="M. Vale")
    client.force_login(person)
    return person


def sheet(client: Client, build: Build) -> str:
    response = client.get(f"/builds/{build.number}/")
    assert response.status_code == 200
    return str(response.content.decode())


def test_sheet_has_title_eight_figures_and_twelve_sections(client: Client, designer: Any) -> None:
    page = sheet(client, make_designed_build(designer))

    assert re.findall(r'data-figure="([^"]+)"', page) == [
        "load", "drop", "key-off", "battery", "payload", "axle", "hours", "price",
    ]  # fmt: skip
    assert re.findall(r'section-number">(\d+)<', page) == [str(number) for number in range(1, 13)]
    assert "Who acts next" in page and "M. Vale: release a revision" in page


def test_empty_build_says_what_is_absent_and_offers_the_first_step(client: Client, designer: Any) -> None:
    page = sheet(client, make_build(designer))

    assert "No circuits in this build." in page
    assert "No power tree in this build." in page
    assert "No parts in this build." in page
    assert 'href="?add=part#new-part"' in page


def test_unknown_build_is_not_here(client: Client, designer: Any) -> None:
    response = client.get("/builds/9999/")

    assert response.status_code == 404
    assert "There is no build 9999." in response.content.decode()


def test_every_finding_leads_to_a_row_that_is_on_the_page(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    build.circuits.update(gauge="20", length_m=30)
    build.loads.filter(key="L102").delete()
    page = sheet(client, build)

    targets = re.findall(r'class="finding-top">.*?<a href="#([^"]+)"', page)

    assert len(targets) >= 3
    assert set(targets) <= set(re.findall(r' id="([^"]+)"', page))


def test_page_has_no_inline_script_style_or_handler(client: Client, designer: Any) -> None:
    page = sheet(client, make_designed_build(designer))

    assert not re.search(r"<script(?![^>]* src=)", page)
    assert not re.search(r"<style", page)
    assert not re.search(r"<[^>]+ (style|on[a-z]+|hx-on[^=]*)=", page)


def test_element_ids_are_unique(client: Client, designer: Any) -> None:
    ids = re.findall(r' id="([^"]+)"', sheet(client, make_designed_build(designer, circuits=6)))

    assert sorted(ids) == sorted(set(ids))


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.INSPECTOR, Role.PARTS_CLERK])
def test_others_read_the_sheet_and_cannot_edit_it(client: Client, role: Role) -> None:
    make_shop()
    build = make_designed_build()
    client.force_login(make_person(role))
    page = sheet(client, build)

    assert "data-open" not in page and "Add circuit" not in page
    response = client.post(f"/builds/{build.number}/rows/circuit/101/", {"gauge": "10"}, headers=HTMX)
    assert response.status_code == 403
    assert build.circuits.get(number="101").gauge == "16"


def test_signed_out_screen_is_told_so_and_keeps_what_was_typed(client: Client) -> None:
    build = make_designed_build()

    response = client.post(f"/builds/{build.number}/rows/circuit/101/", {"gauge": "10"}, headers=HTMX)

    assert response.status_code == 401
    assert "what you typed is still here" in response.content.decode()


def test_delivered_build_can_no_longer_be_edited(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    sent = opened(client, build.number, "circuit:101") | {"gauge": "12"}
    Build.objects.filter(pk=build.pk).update(stage=Stage.DELIVERED)

    assert "data-open" not in sheet(client, build)
    response = client.post(f"/builds/{build.number}/rows/circuit/101/", sent)
    assert response.status_code == 409
    assert "its design stands as it is" in response.content.decode()
    assert build.circuits.get(number="101").gauge == "16"


def test_changed_rows_are_marked_once_a_revision_is_released(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    revision = revisions.release(build=build, summary="first", by=designer, at=AT)
    assert "Changed since the last revision" not in sheet(client, build)

    keep(client, build.number, "circuit:101", gauge="12")
    page = sheet(client, build)

    assert page.count("Changed since the last revision") == 2  # its words twice: seen and for screen readers
    assert "A + 1 change, not released" in page
    assert revision.letter == "A"


def test_price_and_hours_stand_against_the_last_authorised_revision(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    revision = revisions.release(build=build, summary="first", by=designer, at=AT)
    manager = make_person(Role.MANAGER)
    authorisations.record(
        revision=revision, kind="purchase_order", authorised_by="C. Reed", reference="PO-1", by=manager, at=AT
    )
    assert "as authorised, A" in sheet(client, build)

    design_edits.edit_row(
        build=build, family="part", key="1", values={"unit_price": 145}, row_version=1, by=designer, at=timezone.now()
    )

    assert "50.00 not authorised" in sheet(client, build)


def test_edit_answer_asks_as_many_questions_for_20_circuits_as_for_120(client: Client, designer: Any) -> None:
    counts = {}
    for circuits in (20, 120):
        build = make_designed_build(designer, circuits=circuits)
        seen = marks(sheet(client, build))
        with CaptureQueriesContext(connection) as questions:
            response = keep(client, build.number, "circuit:101", gauge="12", seen=seen)
        assert response.status_code == 200
        counts[circuits] = len(questions)

    assert counts[20] == counts[120]


def test_edit_sends_no_row_whose_figures_read_the_same(client: Client, designer: Any) -> None:
    """A longer wire moves every voltage of the vehicle a little; rows are sent where a figure is another."""
    build = make_designed_build(designer, circuits=60)
    build.loads.filter(key="L101").update(model="resistive")
    seen = marks(sheet(client, build))

    answer = keep(client, build.number, "circuit:101", length_m="14", seen=seen).content.decode()

    assert set(re.findall(r'<tbody id="(circuit-[0-9]+)"', answer)) == {"circuit-101"}


def test_sheet_itself_asks_as_many_questions_for_20_circuits_as_for_120(client: Client, designer: Any) -> None:
    counts = {}
    for circuits in (20, 120):
        build = make_designed_build(designer, circuits=circuits)
        with CaptureQueriesContext(connection) as questions:
            sheet(client, build)
        counts[circuits] = len(questions)

    assert counts[20] == counts[120]


def test_another_screen_gets_what_changed_and_nothing_else(client: Client, designer: Any) -> None:
    build = make_designed_build(designer, circuits=4)
    seen = marks(sheet(client, build))
    design_edits.edit_row(
        build=build, family="circuit", key="102", values={"legend": "REAR LAMP"}, row_version=1, by=designer, at=AT
    )

    answer = client.post(f"/builds/{build.number}/live/", {"seen": seen}, headers=HTMX)

    text = answer.content.decode()
    assert re.findall(r'<tbody id="([^"]+)"', text) == ["circuit-102"]
    assert "REAR LAMP" in text
    assert answer["X-Design-Version"] == "2"


def test_screen_that_shows_the_newest_gets_nothing(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)
    seen = marks(sheet(client, build))

    assert client.post(f"/builds/{build.number}/live/", {"seen": seen}, headers=HTMX).content == b""


def test_version_is_told_to_screens_without_a_stream(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)

    assert client.get(f"/builds/{build.number}/version/").json() == {"design_version": 1}


def test_document_of_the_working_design_can_be_saved(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)

    response = client.get(f"/builds/{build.number}/document/")

    assert response["Content-Disposition"] == f'attachment; filename="build-{build.number}.json"'
    assert response.json()["build"]["number"] == build.number
