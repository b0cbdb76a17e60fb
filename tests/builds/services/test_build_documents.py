"""A document into rows and back without loss, or nothing written at all."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.extra.django import TestCase as HypothesisTestCase

from builds.engineering.design import Design
from builds.engineering.document import canonical_text, read_document
from builds.errors import BadInput, DocumentRefused, NotAllowed, Taken
from builds.models import Build, BuyerProfile, Customer, PlatformVersion, Role, Vehicle
from builds.selectors.engineering_inputs import design_of
from builds.services import build_documents
from builds.services.build_documents import import_build
from inventory.models import Part
from tests.engineering.document.designs import designs
from tests.engineering.document.samples import small_document
from tests.factories.builds import make_person

AT = datetime(2026, 12, 9, 10, 40, tzinfo=UTC)
DEMO = sorted((Path(__file__).parents[3] / "demo").glob("*.json"))


def text_with(**changes: Any) -> str:
    """Return the small document with fields of its build changed."""
    document = small_document()
    document["build"] |= changes
    return json.dumps(document)


def imported(text: str | bytes, **more: Any) -> Build:
    return import_build(text=text, by=make_person(Role.SERVICE_WRITER), at=AT, **more)


def counts() -> dict[str, int]:
    """Return how many rows each table of the shop holds."""
    models = [*apps.get_app_config("builds").get_models(), *apps.get_app_config("inventory").get_models()]
    return {model._meta.label: model._default_manager.count() for model in models}


@pytest.mark.django_db
@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_a_demo_document_comes_back_as_it_was_sent(path: Path) -> None:
    build = imported(path.read_bytes())

    sent = read_document(path.read_bytes())
    kept = design_of(Build.objects.get(pk=build.pk))
    assert kept == sent
    assert canonical_text(kept) == canonical_text(sent)


class AnyDesignComesBack(HypothesisTestCase):
    """
    Every field of every part, whatever it holds: rows are as wide as the document says.

    The same designs in every run, and none made smaller where one fails: each try is a whole import.
    """

    @given(design=designs())
    @settings(
        max_examples=15,
        deadline=None,
        derandomize=True,
        phases=(Phase.explicit, Phase.generate),
        suppress_health_check=list(HealthCheck),
    )
    def test_import_and_export_lose_nothing(self, design: Design) -> None:
        build = imported(canonical_text(design))

        assert canonical_text(design_of(Build.objects.get(pk=build.pk))) == canonical_text(design)


@pytest.mark.django_db
def test_reading_a_design_asks_as_many_questions_for_few_circuits_as_for_many() -> None:
    asked = []
    for path in DEMO[1:]:  # both have every family of rows
        build = Build.objects.get(pk=imported(path.read_bytes()).pk)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            design_of(build)
        asked.append(len(queries))

    assert asked[0] == asked[1]
    assert asked[0] <= 23  # one a table of the design and of its platform, however many rows


@pytest.mark.django_db
def test_writing_a_design_takes_as_many_statements_for_few_circuits_as_for_many() -> None:
    taken = []
    for path in DEMO[1:]:  # both have every family of rows
        with CaptureQueriesContext(connection) as queries:
            imported(path.read_bytes())
        taken.append(len(queries))

    assert abs(taken[0] - taken[1]) <= 2  # a platform without routes needs no statement for them


@pytest.mark.django_db
def test_a_build_keeps_the_count_of_its_findings() -> None:
    build = imported(DEMO[-1].read_bytes())

    build.refresh_from_db()
    assert (build.blocking_count, build.caution_count, build.note_count) == (1, 3, 4)


@pytest.mark.django_db
def test_a_number_given_takes_the_place_of_the_documents() -> None:
    assert imported(text_with(), number="77-A").number == "77-A"


@pytest.mark.django_db
@pytest.mark.parametrize("number", ["", "26 14", "-1", "1234567890123"])
def test_a_number_that_no_build_can_have_is_refused(number: str) -> None:
    by = make_person(Role.DESIGNER)
    before = counts()

    with pytest.raises(BadInput) as caught:
        import_build(text=text_with(), by=by, at=AT, number=number)

    assert list(caught.value.fields) == ["number"]
    assert counts() == before


@pytest.mark.django_db
def test_a_second_build_shares_what_is_the_same() -> None:
    imported(text_with())
    imported(text_with(number="9002", vehicle={"unit_number": "B"}))

    assert Customer.objects.count() == 1
    assert BuyerProfile.objects.count() == 1
    assert PlatformVersion.objects.count() == 1
    assert Vehicle.objects.count() == 2


@pytest.mark.django_db
def test_a_vehicle_known_by_its_vin_is_not_made_twice() -> None:
    vehicle = {"vin": "11111111111111111", "unit_number": "B"}
    imported(text_with(vehicle=vehicle))
    imported(text_with(number="9002", vehicle=vehicle))

    assert Vehicle.objects.count() == 1


@pytest.mark.django_db
def test_a_part_new_to_the_catalogue_is_put_in_and_a_known_one_left_alone() -> None:
    line = {"key": "B1", "part_number": "X-1", "description": "Lamp", "quantity": 1, "unit_price": 9.1234}
    imported(text_with(parts=[line]))
    imported(text_with(number="9002", vehicle={}, parts=[{**line, "description": "Lamp, new name", "unit_price": 12}]))

    part = Part.objects.get(number="X-1")
    assert part.description == "Lamp"
    assert str(part.unit_price) == "9.1234"


def changed_profile() -> str:
    document = small_document()
    document["build"]["buyer"]["rules"] = [{"key": "key-off-limit", "value": 20, "source": "other"}]
    return json.dumps({**document, "build": {**document["build"], "number": "9002"}})


def changed_platform() -> str:
    document = small_document()
    document["build"]["platform"]["seats"] = 2
    return json.dumps({**document, "build": {**document["build"], "number": "9002"}})


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("text", "pointer", "said"),
    [
        pytest.param(changed_profile(), "/build/buyer/profile", "is on file with other rules", id="profile"),
        pytest.param(
            changed_platform(), "/build/platform", "differs from the one on file; give it a new version", id="platform"
        ),
        pytest.param(
            text_with(number="9002", vehicle={"vin": "11111111111111111", "unit_number": "C"}),
            "/build/vehicle",
            "differs from the one on file",
            id="vehicle",
        ),
        pytest.param(text_with(number="9002", circuits=[{}]), "/build/circuits/0/number", "is missing", id="fault"),
        pytest.param("", "", "the text is empty", id="empty"),
    ],
)
def test_a_document_that_cannot_be_taken_names_the_place_and_writes_nothing(text: str, pointer: str, said: str) -> None:
    imported(text_with(vehicle={"vin": "11111111111111111", "unit_number": "B"}))
    by = make_person(Role.DESIGNER)
    before = counts()

    with pytest.raises(DocumentRefused) as caught:
        import_build(text=text, by=by, at=AT)

    assert said in caught.value.fields[pointer]
    assert counts() == before


@pytest.mark.django_db
def test_a_number_in_use_writes_nothing() -> None:
    imported(text_with())
    by = make_person(Role.DESIGNER)
    before = counts()

    with pytest.raises(Taken):
        import_build(text=text_with(vehicle={"unit_number": "Z"}, platform=_other_platform()), by=by, at=AT)

    assert counts() == before


def _other_platform() -> dict[str, Any]:
    platform: dict[str, Any] = {**small_document()["build"]["platform"], "version": "2"}
    return platform


@pytest.mark.django_db
def test_an_import_that_fails_half_way_writes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    by = make_person(Role.DESIGNER)
    before = counts()

    def breaks(build: Build) -> None:
        raise RuntimeError("the core broke")

    monkeypatch.setattr(build_documents, "assess_build", breaks)
    with pytest.raises(RuntimeError):
        import_build(text=text_with(), by=by, at=AT)

    assert counts() == before


@pytest.mark.django_db
def test_a_person_without_the_right_imports_nothing() -> None:
    by = make_person(Role.TECHNICIAN)

    with pytest.raises(NotAllowed):
        import_build(text=text_with(), by=by, at=AT)
