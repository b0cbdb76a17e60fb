"""The page of proposed sizes: rows by standing, what chosen ones would do, applied one by one and together."""

import re
from typing import Any

import pytest
from django.test import Client

from builds.models import Build, EditBatch, Role
from tests.builds.views.sheets import HTMX
from tests.factories.builds import make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def build(client: Client) -> Build:
    make_shop()
    person: Any = make_person(Role.DESIGNER, short_name="M. Vale")
    client.force_login(person)
    return make_designed_build(person, circuits=3)


def subjects(page: str) -> list[str]:
    return re.findall(r'name="subject" value="([^"]+)"', page)


def test_rows_say_what_is_there_what_is_proposed_and_which_rule_decided(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/sizes/").content.decode()

    assert "circuit:101" in subjects(page)
    assert re.search(r"Conductor: [a-z].* fails: ", page)
    assert re.search(r"Device: continuous loading; [\d.]+ A fails", page)


def test_the_sheet_leads_to_the_sizes(client: Client, build: Build) -> None:
    assert f"/builds/{build.number}/sizes/" in client.get(f"/builds/{build.number}/").content.decode()


def test_trying_says_what_would_move_and_keeps_nothing(client: Client, build: Build) -> None:
    sent = {"do": "try", "subject": ["circuit:101", "circuit:102"], "design_version": build.design_version}

    answer = client.post(f"/builds/{build.number}/sizes/", sent, headers=HTMX)

    text = answer.content.decode()
    assert text.startswith('<div id="sizes-says"')
    assert "2 chosen would do this" in text
    assert not EditBatch.objects.exists()


def test_trying_without_script_shows_the_page_with_the_same_ticks(client: Client, build: Build) -> None:
    sent = {"do": "try", "subject": ["circuit:102"], "design_version": build.design_version}

    page = client.post(f"/builds/{build.number}/sizes/", sent).content.decode()

    assert re.findall(r'value="([^"]+)" checked', page) == ["circuit:102"]
    assert "1 chosen would do this" in page


def test_one_row_alone_is_applied_by_its_own_button(client: Client, build: Build) -> None:
    sent = {"only": "circuit:101", "subject": ["circuit:102"], "design_version": build.design_version}

    answer = client.post(f"/builds/{build.number}/sizes/", sent)

    assert answer.status_code == 302
    assert [entry.key for entry in EditBatch.objects.get().entries.all()] == ["101"]


def test_all_are_applied_together(client: Client, build: Build) -> None:
    listed = subjects(client.get(f"/builds/{build.number}/sizes/").content.decode())

    client.post(f"/builds/{build.number}/sizes/", {"do": "apply-all", "design_version": build.design_version})

    assert EditBatch.objects.get().entries.count() == len(listed)


def test_a_design_changed_meanwhile_is_said_and_ticks_stay(client: Client, build: Build) -> None:
    sent = {"do": "apply", "subject": ["circuit:101"], "design_version": build.design_version + 7}

    answer = client.post(f"/builds/{build.number}/sizes/", sent)

    assert answer.status_code == 409
    assert "has changed since" in answer.content.decode()
    assert re.findall(r'value="([^"]+)" checked', answer.content.decode()) == ["circuit:101"]


def test_nothing_chosen_is_said(client: Client, build: Build) -> None:
    answer = client.post(f"/builds/{build.number}/sizes/", {"do": "apply", "design_version": build.design_version})

    assert answer.status_code == 422
    assert "Choose at least one size" in answer.content.decode()


def test_whoever_may_only_look_sees_no_buttons(client: Client, build: Build) -> None:
    client.force_login(make_person(Role.TECHNICIAN, short_name="T. Brook"))

    page = client.get(f"/builds/{build.number}/sizes/").content.decode()

    assert "Apply" not in page and subjects(page) == []
