"""The function schedule over the API: the same edit as on its page, with versions, and faults by line and column."""

import json
from typing import Any

import pytest
from django.test import Client

from builds.models import Build, Person, Role
from builds.selectors.engineering_inputs import design_of
from builds.services.function_schedules import replace_schedule
from tests.factories.builds import AT, make_designed_build, make_person

pytestmark = pytest.mark.django_db

TEXT = """# lamps
input mode: selector off, respond
channel bar: lamp; facing front; colour red; load L101
rule go (priority 10): bar steady when mode is respond; if lost, does not apply
"""


@pytest.fixture
def designer() -> Person:
    return make_person(Role.DESIGNER)


@pytest.fixture
def build(client: Client, designer: Person) -> Build:
    client.force_login(designer)
    return make_designed_build(designer)


@pytest.fixture
def kept(build: Build, designer: Person) -> Build:
    replace_schedule(build=build, text=TEXT, row_version=0, by=designer, at=AT)
    return build


def send(client: Client, method: str, build: Build, **body: Any) -> Any:
    address = f"/api/builds/{build.number}/functions/"
    return getattr(client, method)(address, data=json.dumps(body), content_type="application/json")


def text_of(build: Build) -> str:
    return design_of(build).function_schedule


def test_a_text_is_put_read_and_taken_away(client: Client, build: Build) -> None:
    absent = client.get(f"/api/builds/{build.number}/functions/").json()
    put = send(client, "put", build, row_version=0, text=TEXT)
    read = client.get(f"/api/builds/{build.number}/functions/").json()
    gone = send(client, "put", build, row_version=1, text="")

    assert (absent["row_version"], absent["text"]) == (0, "")
    assert put.status_code == 200 and put.json() == read
    assert (read["row_version"], read["text"]) == (1, TEXT)
    assert read["design_version"] == absent["design_version"] + 1
    assert gone.json()["text"] == "" and text_of(build) == ""


def test_one_statement_is_changed_added_and_taken_out(client: Client, kept: Build) -> None:
    rule = "rule go (priority 20): bar steady at 50 % when mode is respond; if lost, applies"
    changed = send(client, "patch", kept, row_version=1, subject="rule:go", statement=rule).json()
    added = send(
        client, "patch", kept, row_version=2, subject="", statement="claim dark: never bar is lit and mode is off"
    )
    gone = send(client, "patch", kept, row_version=3, subject="claim:dark", statement="").json()

    assert changed["text"] == TEXT.replace(TEXT.splitlines()[3], rule)
    assert added.json()["text"].endswith("claim dark: never bar is lit and mode is off\n")
    assert gone["text"] == changed["text"] and gone["row_version"] == 4


def test_what_cannot_be_read_is_answered_with_line_and_column_and_nothing_is_kept(client: Client, kept: Build) -> None:
    put = send(client, "put", kept, row_version=1, text=TEXT.replace("mode is respond", "mode is respand"))
    patched = send(
        client, "patch", kept, row_version=1, subject="rule:go", statement="rule go (priority 1): bar steady when mode"
    )

    assert [answer.status_code for answer in (put, patched)] == [422, 422]
    assert put.json()["code"] == "bad-input"
    (fault,) = put.json()["faults"]
    assert (fault["name"], fault["line"], fault["column"]) == ("value-unknown", 4, 48)
    assert fault["subject"] == "rule:go" and "respond" in fault["expected"]
    assert [one["name"] for one in patched.json()["faults"]] == ["fail-state-missing"]
    assert text_of(kept) == TEXT


def test_a_version_that_somebody_overtook_answers_409_with_both_texts(client: Client, kept: Build) -> None:
    mine, theirs = TEXT.replace("10)", "11)"), TEXT.replace("10)", "12)")
    send(client, "put", kept, row_version=1, text=theirs)

    late = send(client, "put", kept, row_version=1, text=mine)

    assert late.status_code == 409 and late.json()["row_version"] == 2
    assert late.json()["conflicts"] == [{"field": "function_schedule", "yours": mine, "theirs": theirs}]
    assert text_of(kept) == theirs


@pytest.mark.parametrize(
    ("method", "body", "status", "field"),
    [
        ("put", {"text": TEXT}, 422, "row_version"),
        ("put", {"row_version": "1", "text": TEXT}, 422, "row_version"),
        ("put", {"row_version": 1}, 422, "text"),
        ("patch", {"row_version": 1, "subject": "rule:go"}, 422, "statement"),
        ("patch", {"row_version": 1, "subject": "", "statement": " "}, 422, "statement"),
        ("patch", {"row_version": 1, "subject": "rule:gone", "statement": "rule x"}, 404, ""),
    ],
)
def test_a_body_that_lacks_something_is_refused_at_its_field(
    client: Client, kept: Build, method: str, body: dict[str, Any], status: int, field: str
) -> None:
    answer = send(client, method, kept, **body)

    assert answer.status_code == status
    assert not field or field in answer.json()["fields"]
    assert text_of(kept) == TEXT


def test_who_may_only_look_cannot_edit(client: Client, kept: Build) -> None:
    client.force_login(make_person(Role.TECHNICIAN))

    assert client.get(f"/api/builds/{kept.number}/functions/").status_code == 200
    assert send(client, "put", kept, row_version=1, text="").status_code == 403
    assert text_of(kept) == TEXT
