"""The API says the same as the pages, in the document's words, and refuses with code, message and fields."""

import json
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from builds.engineering.document.reader import read_document
from builds.models import Build, Person, Role, Tick
from builds.selectors.engineering_inputs import design_of
from tests.factories.builds import make_designed_build, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def designer() -> Person:
    return make_person(Role.DESIGNER)


@pytest.fixture
def api(client: Client, designer: Person) -> Client:
    client.force_login(designer)
    return client


def send(api: Client, method: str, address: str, body: Any) -> Any:
    return getattr(api, method)(address, data=body if isinstance(body, str | bytes) else json.dumps(body),
                                content_type="application/json")  # fmt: skip


def test_document_reads_back_as_the_working_design(api: Client, designer: Person) -> None:
    build = make_designed_build(designer)

    answer = api.get(f"/api/builds/{build.number}/document/")

    assert read_document(answer.content) == design_of(build)
    again = api.get(f"/api/builds/{build.number}/document/", headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304


def test_document_sent_to_the_list_opens_a_build(api: Client, designer: Person) -> None:
    build = make_designed_build(designer)
    text = api.get(f"/api/builds/{build.number}/document/").content

    answer = send(api, "post", "/api/builds/?number=7001", text)

    assert answer.status_code == 201
    assert design_of(Build.objects.get(number="7001")).circuits == design_of(build).circuits


def test_patch_changes_a_row_and_the_assessment_follows(api: Client, designer: Person) -> None:
    build = make_designed_build(designer)
    before = api.get(f"/api/builds/{build.number}/assessment/").json()

    answer = send(api, "patch", f"/api/builds/{build.number}/rows/circuit/101/",
                  {"row_version": 1, "values": {"length_m": 6.125}})  # fmt: skip

    after = api.get(f"/api/builds/{build.number}/assessment/").json()
    assert answer.status_code == 200
    drops = [next(row["drop_v"] for row in said["circuits"] if row["number"] == "101") for said in (before, after)]
    assert drops[1] > drops[0]


def test_stale_patch_answers_409_with_both_values(api: Client, designer: Person) -> None:
    build = make_designed_build(designer)
    address = f"/api/builds/{build.number}/rows/circuit/101/"
    send(api, "patch", address, {"row_version": 1, "values": {"gauge": "14"}})

    answer = send(api, "patch", address, {"row_version": 1, "values": {"gauge": "12"}})

    assert answer.status_code == 409
    assert answer.json()["conflicts"] == [{"field": "gauge", "yours": "12", "theirs": "14"}]
    assert answer.json()["row_version"] == 2


def test_patch_of_a_field_nobody_else_touched_answers_with_the_row_as_merged(api: Client, designer: Person) -> None:
    build = make_designed_build(designer)
    address = f"/api/builds/{build.number}/rows/circuit/101/"
    send(api, "patch", address, {"row_version": 1, "values": {"gauge": "14"}})

    answer = send(api, "patch", address, {"row_version": 1, "values": {"legend": "LAMP"}})

    said = answer.json()
    assert answer.status_code == 200
    assert (said["row_version"], said["values"]["gauge"], said["values"]["legend"]) == (3, "14", "LAMP")
    assert said["meanwhile"] == [{"field": "gauge", "was": "16", "now": "14", "by": str(designer)}]


BAD_BODIES: dict[str, tuple[str, Any, int, str]] = {
    "not JSON": ("patch", "{", 400, ""),
    "NaN": ("patch", '{"row_version": 1, "values": {"length_m": NaN}}', 400, ""),
    "key twice": ("patch", '{"row_version": 1, "row_version": 2}', 400, ""),
    "not UTF-8": ("patch", b'{"row_version": "\xff"}', 400, ""),
    "an array": ("patch", "[1]", 400, ""),
    "too deep": ("patch", '{"values":' * 20000 + "1" + "}" * 20000, 400, ""),
    "no version": ("patch", {"values": {"gauge": "14"}}, 422, "row_version"),
    "version as text": ("patch", {"row_version": "1", "values": {"gauge": "14"}}, 422, "row_version"),
    "no values": ("patch", {"row_version": 1}, 422, "values"),
    "values as text": ("patch", {"row_version": 1, "values": "gauge"}, 422, "values"),
    "unknown field": ("patch", {"row_version": 1, "values": {"taste": 1}}, 422, "taste"),
    "gauge as number": ("patch", {"row_version": 1, "values": {"gauge": 14}}, 422, "gauge"),
    "length as text": ("patch", {"row_version": 1, "values": {"length_m": "4"}}, 422, "length_m"),
    "huge number": ("patch", '{"row_version": 1, "values": {"length_m": 1e400}}', 422, "length_m"),
    "unknown panel": ("patch", {"row_version": 1, "values": {"panel": "P9"}}, 422, "panel"),
}


@pytest.mark.parametrize(("method", "body", "status", "field"), BAD_BODIES.values(), ids=BAD_BODIES.keys())
def test_bad_body_is_refused_with_words_and_changes_nothing(
    api: Client, designer: Person, method: str, body: Any, status: int, field: str
) -> None:
    build = make_designed_build(designer)

    answer = send(api, method, f"/api/builds/{build.number}/rows/circuit/101/", body)

    assert answer.status_code == status
    said = answer.json()
    assert said["message"] and said["code"]
    assert not field or field in said["fields"]
    build.refresh_from_db()
    assert (build.design_version, build.edit_batches.count()) == (1, 0)


def test_bad_document_names_each_fault_by_pointer(api: Client) -> None:
    answer = send(api, "post", "/api/builds/", {"format": "baywright-build", "schema": 1, "build": {"title": ""}})

    assert answer.status_code == 422
    assert answer.json()["code"] == "document-refused"
    assert "/build/title" in answer.json()["fields"]
    assert not Build.objects.exists()


@pytest.mark.parametrize("field", ["event_id", "at", "result", "reading", "device_sequence"])
def test_bad_tick_is_refused_at_its_field(api: Client, designer: Person, field: str) -> None:
    build = make_designed_build(designer)
    step = build.steps.create(line=1, key="s", phase="wire", place="bench", title="Crimp it")
    good = {"event_id": str(uuid4()), "at": "2026-12-09T10:40:00Z", "result": "pass"}

    answer = send(api, "post", f"/api/steps/{step.pk}/ticks/", good | {field: "nonsense"})

    assert answer.status_code == 422
    assert field in answer.json()["fields"]
    assert not Tick.objects.exists()


def test_someone_signed_out_is_told_to_sign_in(client: Client) -> None:
    answer = client.get("/api/builds/")

    assert answer.status_code in (401, 403)
    assert answer.json()["code"] == "sign-in"
