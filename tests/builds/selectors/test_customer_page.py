"""What a customer is told: every stage in their words, a promise that has passed, steps that were left out."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from builds.models import Authorisation, Build, HoldReason, Person, Role, Stage, StageChange
from builds.selectors.customer_page import customer_page, noun_of
from builds.services import revisions
from tests.factories.builds import AT, make_build, make_designed_build, make_person, make_platform

pytestmark = pytest.mark.django_db

ZONE = ZoneInfo("America/New_York")
SHOP_WORDS = ("intake", "blocking", "finding", "override", "stage", "in_work", "final_check", "match")


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


def at_stage(build: Build, *stages: Stage, by: Person) -> Build:
    before = Stage.INTAKE
    for day, stage in enumerate(stages):
        StageChange.objects.create(build=build, from_stage=before, to_stage=stage, by=by, at=AT + timedelta(days=day))
        before = stage
    Build.objects.filter(pk=build.pk).update(stage=before)
    build.refresh_from_db()
    return build


@pytest.mark.parametrize("stage", list(Stage))
def test_every_stage_has_a_sentence_without_the_shop_s_own_words(manager: Person, stage: Stage) -> None:
    build = make_build(manager)
    Build.objects.filter(pk=build.pk).update(stage=stage)
    build.refresh_from_db()

    page = customer_page(build, at=AT, zone=ZONE)

    assert page.sentence.endswith(".")
    assert not any(word in page.sentence.lower() for word in SHOP_WORDS)


@pytest.mark.parametrize("reason", list(HoldReason))
def test_every_hold_says_why_work_stands_still(manager: Person, reason: HoldReason) -> None:
    build = make_build(manager)
    Build.objects.filter(pk=build.pk).update(hold_reason=reason, hold_who_acts="Buyer", hold_note="for our eyes only")
    build.refresh_from_db()

    page = customer_page(build, at=AT, zone=ZONE)

    assert page.sentence
    assert "our eyes" not in page.sentence


def test_a_promise_that_has_passed_is_said_plainly(manager: Person) -> None:
    build = make_build(manager, promised_on=AT.date() - timedelta(days=1))

    page = customer_page(build, at=AT, zone=ZONE)

    assert page.late
    assert page.promise == "It was promised for Tuesday 8 December and is late. Call us."


def test_the_promise_is_judged_by_the_shop_s_own_day(manager: Person) -> None:
    build = make_build(manager, promised_on=AT.date())
    late_evening = AT.replace(hour=3) + timedelta(days=1)  # 22:00 of the promised day in New York

    assert not customer_page(build, at=late_evening, zone=ZONE).late


def test_way_is_done_up_to_where_the_build_stands(manager: Person) -> None:
    build = at_stage(make_build(manager), Stage.QUOTED, by=manager)

    states = [(step.word, step.state) for step in customer_page(build, at=AT, zone=ZONE).way]

    assert states[:3] == [("Quote made", "done"), ("Quote signed", "present"), ("Your vehicle arrived", "to_come")]
    assert {state for _, state in states[3:]} == {"to_come"}


def test_way_says_what_was_passed_without_being_written_down(manager: Person) -> None:
    build = at_stage(make_build(manager), Stage.QUOTED, Stage.APPROVED, Stage.IN_WORK, by=manager)

    way = {step.word: step for step in customer_page(build, at=AT, zone=ZONE).way}

    assert (way["Your vehicle arrived"].state, way["Your vehicle arrived"].date) == ("to_come", "not written down")
    assert way["Work started"].state == "done"
    assert way["Final check"].state == "present"


def test_way_forgets_a_stage_the_build_went_back_from(manager: Person) -> None:
    build = at_stage(
        make_build(manager), Stage.QUOTED, Stage.APPROVED, Stage.IN_WORK, Stage.FINAL_CHECK, Stage.IN_WORK, by=manager
    )

    way = {step.word: step.state for step in customer_page(build, at=AT, zone=ZONE).way}

    assert way["Final check"] == "present"


@pytest.mark.parametrize(
    ("name", "noun"),
    [
        ("Crew-cab truck, 2026", "truck"),
        ("Invented crew cab truck", "truck"),
        ("High-roof van (invented)", "van"),
        ("Tender", "vehicle"),
    ],
)
def test_noun_is_what_the_customer_would_call_it(manager: Person, name: str, noun: str) -> None:
    build = make_build(manager, platform=make_platform(name=name))

    assert noun_of(build) == noun


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("purchase_order", "Ordered by purchase order SW-4471"),
        ("written_quote", "Quote signed"),
        ("link", "Quote signed"),
    ],
)
def test_only_a_signed_quote_is_called_signed(manager: Person, kind: str, said: str) -> None:
    build = make_designed_build(manager)
    revision = revisions.release(build=build, summary="First quote", by=manager, at=AT)
    Authorisation.objects.create(
        revision=revision, kind=kind, document_sha256=revision.document_id, authorised_by="P. Lund",
        reference="SW-4471", authorised_at=AT,
    )  # fmt: skip

    assert customer_page(build, at=AT, zone=ZONE).way[1].word == said
