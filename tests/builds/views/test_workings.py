"""Figures of the sheet lead to how they came about: a page of its own, or the fragment for the panel."""

import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from builds.models import Build, Role
from builds.services.build_documents import import_build
from tests.builds.views.sheets import HTMX
from tests.factories.builds import make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db

AT = datetime(2026, 12, 9, 10, 40, tzinfo=UTC)
DEMO = sorted((Path(__file__).parents[3] / "demo").glob("*.json"))


@pytest.fixture
def designer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.DESIGNER, short_name="M. Vale")
    client.force_login(person)
    return person


@pytest.fixture
def build(designer: Any) -> Build:
    return make_designed_build(designer, circuits=3)


def links(page: str) -> list[str]:
    return re.findall(r'<a class="worked" href="([^"]+)" data-working>', page)


def test_figures_of_every_section_lead_to_their_working(client: Client, build: Build) -> None:
    found = links(client.get(f"/builds/{build.number}/").content.decode())

    kinds = {address.split("/")[4] for address in found}
    assert {
        "circuit-mean", "circuit-peak", "circuit-drop", "run-continuous", "run-drop", "run-short", "condition-mean",
        "condition-rms", "condition-peak", "front-axle", "rear-axle", "payload", "added-mass", "price", "key-off",
    } <= kinds  # fmt: skip


def test_every_link_of_a_sheet_opens(client: Client, build: Build) -> None:
    for address in dict.fromkeys(links(client.get(f"/builds/{build.number}/").content.decode())):
        answer = client.get(address, headers=HTMX)

        assert answer.status_code == 200, address
        assert answer.content.decode().startswith('<article class="working">')


@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_every_kind_of_figure_of_a_demo_build_opens(client: Client, designer: Any, path: Path) -> None:
    document = json.loads(path.read_bytes())
    document["build"]["platform"]["track_mm"] = 1700.0  # sides are told where the platform says its track
    document["build"]["buyer"]["rules"] += [{"key": "crew-mass", "value": 100.0, "source": "the buyer"}]
    build = import_build(text=json.dumps(document), by=designer, at=AT)
    found = links(client.get(f"/builds/{build.number}/").content.decode())
    first_of = {address.split("/")[4]: address for address in reversed(found)}

    weights = {"zone-added", "payload-crew", "case-front", "case-left", "case-right", "case-together"}
    shown = {
        "condition-lowest",
        "hours",
        "hours-elapsed",
        "price",
        "panel-feed-drop",
        "alternator-idle",
        "alternator-speed",
    }
    assert weights | shown <= set(first_of)
    assert ({"duty-lowest", "duty-start"} <= set(first_of)) == bool(document["build"].get("duty_profiles"))
    for address in first_of.values():
        assert client.get(address, headers=HTMX).status_code == 200, address


def test_a_working_prints_formula_numbers_result_rule_and_sources(client: Client, build: Build) -> None:
    text = client.get(f"/builds/{build.number}/workings/circuit-drop/101/", headers=HTMX).content.decode()

    assert "R × I / 1000" in text
    assert re.search(r"= [\d.]+ × [\d.]+ / 1000", text)
    assert "Rule" in text and "drop-general" in text and "IEC 60028" in text


def test_without_script_a_working_has_a_page_of_its_own(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/workings/payload/").content.decode()

    assert page.startswith("<!doctype html>")
    assert f'href="/builds/{build.number}/"' in page


def test_what_stands_beside_a_figure_is_one_step_away(client: Client, build: Build) -> None:
    text = client.get(f"/builds/{build.number}/workings/circuit-drop/101/", headers=HTMX).content.decode()

    assert f'href="/builds/{build.number}/workings/circuit-ampacity/101/"' in text
    assert re.search(r'circuit-drop/101/" data-working aria-current="page"', text)


@pytest.mark.parametrize("address", ["taste/", "taste/101/", "circuit-drop/999/", "condition-source/nowhere/"])
def test_what_has_no_working_says_so(client: Client, build: Build, address: str) -> None:
    answer = client.get(f"/builds/{build.number}/workings/{address}")

    assert answer.status_code == 404
    assert "has no working" in answer.content.decode() or "There is no" in answer.content.decode()


def test_names_in_a_working_are_escaped(client: Client, build: Build) -> None:
    build.loads.filter(circuit__number="101").update(name="<b>lamp</b>")

    text = client.get(f"/builds/{build.number}/workings/circuit-mean/101/", headers=HTMX).content.decode()

    assert "&lt;b&gt;lamp" in text and "<b>lamp" not in text
