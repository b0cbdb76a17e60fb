"""The checklist pages: one plain form does everything, what is wrong comes back at its field, nothing is half kept."""

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.models import Build, HoldSignature, Person, Role, StepResult, Tick
from builds.services import time_entries
from tests.builds.views.floor_pages import page, sign
from tests.factories.builds import make_designed_build, make_person, make_shop
from tests.factories.floor import make_step, make_working_build, tick

pytestmark = pytest.mark.django_db


@pytest.fixture
def technician(client: Client) -> Person:
    make_shop()
    person = make_person(Role.TECHNICIAN, short_name="L. Tamm")
    client.force_login(person)
    return person


@pytest.fixture
def build() -> Build:
    return make_working_build()


def post_tick(client: Client, step: Any, **fields: Any) -> Any:
    data = {"event_id": str(uuid4()), "result": "pass"} | fields
    return client.post(f"/builds/{step.build.number}/checklist/{step.pk}/tick/", data)


def test_list_shows_every_step_with_its_state_by_phase(client: Client, technician: Person, build: Build) -> None:
    done, reading = (
        make_step(build, phase="mount", title="Fit the shelf"),
        make_step(build, reading="V", title="Measure G2"),
    )
    make_step(build, phase="close", is_hold_point=True, title="Sign the end", covers=[reading])
    make_step(build, title="Gone", retired=True)
    tick(done, technician)

    text = page(client, build)

    assert "1</b> of 3 steps done" in text
    for words in ("Fit the shelf", "Pass", "Measure G2", "Not measured", "Sign the end", "Waits for 1 step"):
        assert words in text
    assert "Gone" not in text
    assert "Go to 2 Measure G2" in text


def test_list_asks_the_same_number_of_questions_however_long_it_is(
    client: Client, technician: Person, build: Build
) -> None:
    counts = []
    for more in (2, 40):
        for _ in range(more):
            tick(make_step(build, place="bench"), technician)
        client.get(f"/builds/{build.number}/checklist/")
        with CaptureQueriesContext(
            connection,
        ) as asked:
            client.get(f"/builds/{build.number}/checklist/")
        counts.append(len(asked))

    assert counts[0] == counts[1]


def test_step_page_shows_reading_limits_and_where_it_is(client: Client, technician: Person, build: Build) -> None:
    step = make_step(build, reading="V", key="stud/G2", subject="node:G2", reading_calculated="0.05", why="The return.")

    text = page(client, build, step)

    assert 'inputmode="decimal"' in text and 'data-most="0.1' in text and 'data-unit="V"' in text
    assert "At most 0.10 V" in text  # the limit, before anything is typed
    assert "Calculated 0.05 V" in text and "The return." in text
    assert "Voltmeter between the battery" in text  # the sketch has words for whoever cannot see it
    assert f"{build.customer.name}" in text and "revision A" in text
    assert "style=" not in text and "onclick" not in text


def test_reading_before_its_wiring_is_finished_is_cautioned(client: Client, technician: Person, build: Build) -> None:
    wiring = make_step(build, title="Lay the harness")
    reading = make_step(build, phase="test", reading="V")

    text = page(client, build, reading)
    assert "1 step of mounting and wiring still open" in text and f"checklist/{wiring.pk}/" in text
    assert "still open" not in page(client, build, wiring)
    tick(wiring, technician)

    assert "still open" not in page(client, build, reading)


def test_pass_goes_on_to_the_next_open_step(client: Client, technician: Person, build: Build) -> None:
    first, second = make_step(build), make_step(build)
    event_id = str(uuid4())

    response = post_tick(client, first, event_id=event_id)

    assert response.status_code == 302
    assert response["Location"] == f"/builds/{build.number}/checklist/{second.pk}/?kept={event_id}"
    assert Tick.objects.get().by == technician


def test_last_pass_goes_back_to_the_list(client: Client, technician: Person, build: Build) -> None:
    response = post_tick(client, make_step(build))

    assert response["Location"].startswith(f"/builds/{build.number}/checklist/?kept=")


def test_tick_sent_twice_answers_the_same_and_is_kept_once(client: Client, technician: Person, build: Build) -> None:
    step, event_id = make_step(build, reading="V"), str(uuid4())
    sent = {"event_id": event_id, "reading": "0.06", "device": "phone", "device_sequence": "4"}

    answers = [post_tick(client, step, **sent)["Location"] for _ in range(2)]

    assert answers[0] == answers[1]
    assert Tick.objects.count() == 1


def test_time_of_the_device_is_kept_beside_the_time_of_arrival(
    client: Client, technician: Person, build: Build
) -> None:
    made_at = timezone.now() - timedelta(hours=2)

    post_tick(client, make_step(build), made_at=made_at.isoformat())

    kept = Tick.objects.get()
    assert kept.at == made_at and kept.received_at - kept.at > timedelta(hours=1)


@pytest.mark.parametrize(
    "made_at", ["", "yesterday", "2026-13-40T99:99", "2026-12-09T10:00:00", "0001-01-01T00:00:00Z"]
)
def test_device_time_that_cannot_be_counts_as_arrival(
    client: Client, technician: Person, build: Build, made_at: str
) -> None:
    post_tick(client, make_step(build), made_at=made_at)

    kept = Tick.objects.get()
    assert kept.at == kept.received_at


BAD_TICKS = [
    ({"reading": "0.134"}, "0.034 V over 0.10 V: it cannot pass. Mark it defective, or measure again."),
    ({"reading": ""}, "Not measured: a pass needs its reading."),
    ({"reading": "abc"}, "Type a number, such as 12.5."),
    ({"reading": "0,06"}, "Write the number with a point and no commas"),
    ({"reading": "1e400"}, "Type a number, such as 12.5."),
    ({"reading": "0.00001"}, "Use at most 4 decimals."),
    ({"reading": "9" * 30}, "Type a shorter number."),
    ({"reading": "0.06", "reading_at_v": "1000"}, "Type at most 999 V."),
    ({"reading": "0.06", "instrument": "x" * 41}, "Keep the instrument&#x27;s tag to 40 letters."),
    ({"result": "defective", "reading": "0.06"}, "Say what is wrong, so that it can be put right."),
    ({"result": "not_applicable"}, "Say why this step does not apply to this vehicle."),
    ({"result": "fine", "reading": "0.06"}, "Choose pass, defective or not applicable."),
    ({"result": "", "reading": "0.06"}, "Choose pass, defective or not applicable."),
    ({"event_id": "7", "reading": "0.06"}, "This entry came without its id."),
]


@pytest.mark.parametrize(("fields", "words"), BAD_TICKS)
def test_tick_that_cannot_stand_comes_back_with_words_and_what_was_typed(
    client: Client, technician: Person, build: Build, fields: dict[str, str], words: str
) -> None:
    step = make_step(build, reading="V")

    response = post_tick(client, step, **fields)

    assert response.status_code == 422
    text = response.content.decode()
    assert words in text
    if fields.get("reading"):
        assert f'value="{fields["reading"]}"' in text
    assert (Tick.objects.count(), step.ticks.count()) == (0, 0)


def test_step_that_waits_says_for_what_and_offers_no_pass(client: Client, technician: Person) -> None:
    build = make_working_build(checked_in=False)
    step = make_step(build)

    text = page(client, build, step)
    assert "The vehicle is not checked in." in text and 'value="pass"' not in text

    response = post_tick(client, step)
    assert response.status_code == 409 and "The vehicle is not checked in." in response.content.decode()


def test_step_of_another_build_and_no_step_at_all_are_not_here(
    client: Client, technician: Person, build: Build
) -> None:
    other = make_step(make_working_build())

    for path in (
        f"/builds/{build.number}/checklist/{other.pk}/",
        f"/builds/{build.number}/checklist/99999999/",
        "/builds/none/checklist/",
    ):
        assert client.get(path).status_code == 404
    response = client.post(
        f"/builds/{build.number}/checklist/{other.pk}/tick/", {"event_id": str(uuid4()), "result": "pass"}
    )
    assert response.status_code == 404
    assert not Tick.objects.exists()


def test_inspector_sees_the_step_and_may_not_tick_it(client: Client, technician: Person, build: Build) -> None:
    client.force_login(make_person(Role.INSPECTOR))
    step = make_step(build)

    assert 'value="pass"' not in page(client, build, step)
    assert post_tick(client, step).status_code == 403


def test_someone_signed_out_is_asked_to_sign_in(client: Client, build: Build) -> None:
    assert client.get(f"/builds/{build.number}/checklist/")["Location"].startswith("/sign-in/")


def test_axle_is_typed_in_pounds_on_a_build_in_us_units(client: Client, technician: Person, build: Build) -> None:
    step = make_step(build, place="yard", reading="kg", reading_max=Decimal(2200), reading_decimals=1)

    text = page(client, build, step)
    assert 'data-unit="lb"' in text and 'data-most="4850.2"' in text

    assert post_tick(client, step, reading="4840").status_code == 302
    assert Tick.objects.get().reading == Decimal("2195.3871")  # 4840 * 0.45359237
    assert "4840.0 lb" in page(client, build, step)
    wrong = post_tick(client, step, reading="5000")
    assert "149.8 lb over 4850.2 lb" in wrong.content.decode() and 'value="5000"' in wrong.content.decode()


# --- hold points ------------------------------------------------------------------------------------


def test_hold_point_is_signed_by_an_inspector(client: Client, technician: Person, build: Build) -> None:
    step = make_step(build)
    hold = make_step(build, is_hold_point=True, covers=[step])
    tick(step, technician)
    inspector = make_person(Role.INSPECTOR)
    client.force_login(inspector)

    assert "signed by an inspector who had no hand in the work" in page(client, build, hold)
    assert sign(client, hold).status_code == 302
    assert HoldSignature.objects.get().by == inspector


def test_hold_point_tells_whoever_worked_on_it_why_they_do_not_sign(
    client: Client, technician: Person, build: Build
) -> None:
    step = make_step(build)
    hold = make_step(build, is_hold_point=True, covers=[step])
    inspector = make_person(Role.INSPECTOR)
    time_entries.clock_on(build=build, step=step, event_id=uuid4(), by=inspector, at=timezone.now())
    tick(step, technician)
    client.force_login(inspector)

    text = page(client, build, hold)
    assert "You have a tick or a clock entry on what this hold point covers" in text
    assert 'name="passed"' not in text

    response = sign(client, hold)
    assert response.status_code == 409 and "Someone else signs it" in response.content.decode()
    assert not HoldSignature.objects.exists()


def test_hold_point_offers_no_signature_while_a_step_is_open(client: Client, technician: Person, build: Build) -> None:
    hold = make_step(build, is_hold_point=True, covers=[make_step(build, title="Torque the stud")])
    client.force_login(make_person(Role.INSPECTOR))

    text = page(client, build, hold)
    assert "Waits for 1 step" in text and 'value="yes"' not in text and 'value="no"' in text

    response = sign(client, hold)
    assert response.status_code == 409 and "Not passed yet: Torque the stud" in response.content.decode()
    assert sign(client, hold, passed="no").status_code == 422
    assert sign(client, hold, passed="maybe").status_code == 422
    assert not HoldSignature.objects.exists()


def test_page_opened_without_https_says_that_offline_work_needs_it(
    client: Client, technician: Person, build: Build
) -> None:
    path = f"/builds/{build.number}/checklist/"

    assert "needs HTTPS" in client.get(path, headers={"host": "192.168.1.20:8000"}).content.decode()
    assert "needs HTTPS" not in client.get(path, headers={"host": "localhost:8000"}).content.decode()
    assert "needs HTTPS" not in client.get(path, headers={"host": "shop.example"}, secure=True).content.decode()


def test_make_the_checklist_from_the_page(client: Client) -> None:
    make_shop()
    designer = make_person(Role.DESIGNER)
    client.force_login(designer)
    build = make_designed_build(designer)

    text = page(client, build)
    assert "None is yet." in text
    response = client.post(f"/builds/{build.number}/checklist/make/")
    assert response.status_code == 409 and "authorisation" in response.content.decode()


# --- registers on a phone -----------------------------------------------------------------------------


def test_step_result_is_a_word_and_a_shape(client: Client, technician: Person, build: Build) -> None:
    step = make_step(build, reading="V")
    tick(step, technician, StepResult.DEFECTIVE, remark="loose")

    text = page(client, build, step)
    assert "Defective" in text and "loose" in text and "L. Tamm" in text
