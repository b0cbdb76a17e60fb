"""The checklist pages: one plain form does everything, what is wrong comes back at its field, nothing is half kept."""

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.models import Build, HoldSignature, Person, Photo, Role, StepResult, Tick, TimeEntry
from builds.services import time_entries
from tests.factories.builds import make_designed_build, make_person, make_shop
from tests.factories.floor import make_photo_file, make_step, make_working_build, tick

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


def page(client: Client, build: Build, step: Any = None) -> str:
    path = f"/builds/{build.number}/checklist/" + (f"{step.pk}/" if step else "")
    response = client.get(path)
    assert response.status_code == 200
    return response.content.decode()


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


def sign(client: Client, hold: Any, **fields: Any) -> Any:
    data = {"event_id": str(uuid4()), "passed": "yes"} | fields
    return client.post(f"/builds/{hold.build.number}/checklist/{hold.pk}/sign/", data)


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


# --- photos, clock, files -----------------------------------------------------------------------------


def send_photo(client: Client, step: Any, content: bytes, **fields: Any) -> Any:
    data = {"event_id": str(uuid4()), "photo": SimpleUploadedFile("IMG_1.jpg", content, "image/jpeg")} | fields
    return client.post(f"/builds/{step.build.number}/checklist/{step.pk}/photo/", data)


def test_photo_is_kept_and_served_to_whoever_may_see_the_build(
    client: Client, technician: Person, build: Build
) -> None:
    step = make_step(build, photo_required=True)
    assert "This step asks for one" in page(client, build, step)

    assert send_photo(client, step, make_photo_file()).status_code == 302
    file = Photo.objects.get().file
    assert f"/files/{file.sha256}/" in page(client, build, step)

    response = client.get(f"/files/{file.sha256}/")
    assert b"".join(response.streaming_content)[:2] == b"\xff\xd8"  # type: ignore[attr-defined]
    assert response["Content-Type"] == "image/jpeg"
    assert response["Content-Disposition"] == f'inline; filename="{build.number}-photo-{Photo.objects.get().pk}.jpg"'
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Cache-Control"].startswith("private")
    assert client.get(f"/files/{file.sha256}/", headers={"if-none-match": response["ETag"]}).status_code == 304


def test_file_is_served_to_nobody_signed_out_and_none_that_nothing_refers_to(
    client: Client, technician: Person, build: Build
) -> None:
    send_photo(client, make_step(build), make_photo_file())
    sha256 = Photo.objects.get().file.sha256

    assert client.get(f"/files/{'0' * 64}/").status_code == 404
    assert client.get("/files/..%2F..%2Fetc%2Fpasswd/").status_code == 404
    client.logout()
    assert client.get(f"/files/{sha256}/")["Location"].startswith("/sign-in/")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"%PDF-1.4", "This is not a photo"),
        (b"<script>alert(1)</script>", "This is not a photo"),
        (make_photo_file()[:200], "The photo is damaged"),
        (b"", "The file is empty"),
        (b"\xff\xd8\xff" + b"\0" * (15 * 1024 * 1024), "over 15 MB"),
    ],
    ids=["pdf", "script", "cut off", "empty", "too large"],
)
def test_upload_that_is_no_photo_is_refused_in_words(
    client: Client, technician: Person, build: Build, content: bytes, words: str
) -> None:
    response = send_photo(client, make_step(build), content)

    assert response.status_code == 422
    assert words in response.content.decode()
    assert not Photo.objects.exists()


def test_photo_form_without_a_file_says_so(client: Client, technician: Person, build: Build) -> None:
    step = make_step(build)
    response = client.post(f"/builds/{build.number}/checklist/{step.pk}/photo/", {"event_id": str(uuid4())})

    assert response.status_code == 422 and "Take a photo, or choose one" in response.content.decode()


def test_clock_on_and_off_from_the_step(client: Client, technician: Person, build: Build) -> None:
    step = make_step(build)
    path = f"/builds/{build.number}/checklist/{step.pk}/"
    assert "Not on the clock" in page(client, build, step)

    response = client.post(f"/builds/{build.number}/clock/", {"event_id": str(uuid4()), "step": step.pk, "back": path})
    assert response["Location"] == path
    assert "On the clock here since" in page(client, build, step)

    client.post(f"/clock/{TimeEntry.objects.get().pk}/off/", {"back": "https://elsewhere.example/"})
    assert TimeEntry.objects.get().ended_at is not None


def test_clock_elsewhere_is_named_and_left_in_one_go(client: Client, technician: Person, build: Build) -> None:
    other = make_step(make_working_build(), title="Mount the bar")
    step = make_step(build)
    time_entries.clock_on(build=other.build, step=other, event_id=uuid4(), by=technician, at=timezone.now())

    text = page(client, build, step)
    assert f"On the clock: {other.build.number}, Mount the bar" in text

    sent = {"event_id": str(uuid4()), "step": step.pk}
    refused = client.post(f"/builds/{build.number}/clock/", sent)
    assert refused.status_code == 409 and "Clock off there first" in refused.content.decode()
    client.post(f"/builds/{build.number}/clock/", sent | {"leave_other": "on"})
    assert list(TimeEntry.objects.filter(ended_at__isnull=True).values_list("step", flat=True)) == [step.pk]


def test_hours_are_shown_and_corrected_on_the_shops_clock(client: Client, technician: Person, build: Build) -> None:
    start = timezone.now() - timedelta(hours=3)
    entry = time_entries.clock_on(build=build, step=make_step(build), event_id=uuid4(), by=technician, at=start)
    time_entries.clock_off(entry=entry, by=technician, at=start + timedelta(hours=1))
    assert "1.0 h in 14 days" in client.get("/clock/").content.decode()

    shown = client.get(f"/clock/{entry.pk}/").context["form"]["started_at"].value()
    typed = (shown - timedelta(minutes=30)).strftime("%Y-%m-%dT%H:%M")
    end = client.get(f"/clock/{entry.pk}/").context["form"]["ended_at"].value().strftime("%Y-%m-%dT%H:%M")
    response = client.post(
        f"/clock/{entry.pk}/", {"started_at": typed, "ended_at": end, "reason": "forgot to clock on"}
    )

    assert response.status_code == 302
    entry.refresh_from_db()
    assert timedelta(minutes=29) < start - entry.started_at < timedelta(minutes=31)


def test_inspector_clocks_on_for_inspection_at_a_hold_point_and_still_signs(
    client: Client, technician: Person, build: Build
) -> None:
    step = make_step(build)
    hold = make_step(build, is_hold_point=True, covers=[step])
    tick(step, technician)
    client.force_login(make_person(Role.INSPECTOR))
    assert "Clock on: inspection" in page(client, build, hold)

    client.post(f"/builds/{build.number}/clock/", {"event_id": str(uuid4()), "operation_key": "inspection"})

    assert "On the clock here since" in page(client, build, hold)
    assert sign(client, hold).status_code == 302


def test_manager_sees_everyones_hours_and_a_technician_ones_own(
    client: Client, technician: Person, build: Build
) -> None:
    other = make_person(Role.TECHNICIAN, short_name="C. Okoro")
    step = make_step(build, title="Lay the loom")
    time_entries.clock_on(build=build, step=step, event_id=uuid4(), by=other, at=timezone.now() - timedelta(hours=2))

    assert "C. Okoro" not in client.get("/clock/", {"person": other.pk}).content.decode()
    client.force_login(make_person(Role.MANAGER))
    assert "on the clock: " in client.get("/clock/").content.decode()
    shown = client.get("/clock/", {"person": other.pk})
    assert shown.context["shown"] == other and "Lay the loom" in shown.content.decode()
    assert client.get("/clock/", {"person": "x"}).context["shown"] != other


def test_correction_without_a_reason_comes_back(client: Client, technician: Person, build: Build) -> None:
    entry = time_entries.clock_on(
        build=build, step=make_step(build), event_id=uuid4(), by=technician, at=timezone.now() - timedelta(hours=1)
    )
    response = client.post(f"/clock/{entry.pk}/", {"started_at": "soon", "reason": ""})

    assert response.status_code == 422
    text = response.content.decode()
    assert "Write day and time" in text and "Say in a few words why" in text


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


def test_registers_take_a_hole_with_its_photo_and_its_seal(client: Client, technician: Person, build: Build) -> None:
    path = f"/builds/{build.number}/floor-registers/"
    photo = SimpleUploadedFile("hole.jpg", make_photo_file(), "image/jpeg")
    sent = {"label": "H3", "place": "roof", "diameter_mm": "19", "photo_id": str(uuid4()), "photo": photo}

    assert client.post(f"{path}penetration/", sent).status_code == 302
    hole = build.penetrations.get()
    assert hole.photo is not None and "Not sealed" in client.get(path).content.decode()

    sealed = {"sealed_with": "grommet", "photo_id": str(uuid4()), "row_version": hole.row_version}
    assert client.post(f"{path}penetration/{hole.pk}/", sealed).status_code == 302
    stale = client.post(f"{path}penetration/{hole.pk}/", sealed | {"sealed_with": "sealer"})
    assert stale.status_code == 409
    hole.refresh_from_db()
    assert hole.sealed_with == "grommet"


def test_register_form_that_is_wrong_comes_back_open_with_words(
    client: Client, technician: Person, build: Build
) -> None:
    path = f"/builds/{build.number}/floor-registers/"

    response = client.post(
        f"{path}penetration/", {"label": "H3", "place": "", "diameter_mm": "-2", "photo_id": str(uuid4())}
    )

    text = response.content.decode()
    assert response.status_code == 422
    assert "Type at least 0.1 mm." in text and 'value="H3"' in text
    assert client.post(f"{path}nothing/", {}).status_code == 404
    assert (
        client.post(f"{path}gear/999999/", {"condition": "ok", "row_version": 1, "photo_id": str(uuid4())}).status_code
        == 404
    )
    assert not build.penetrations.exists()


def test_step_result_is_a_word_and_a_shape(client: Client, technician: Person, build: Build) -> None:
    step = make_step(build, reading="V")
    tick(step, technician, StepResult.DEFECTIVE, remark="loose")

    text = page(client, build, step)
    assert "Defective" in text and "loose" in text and "L. Tamm" in text
