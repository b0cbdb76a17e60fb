"""Photos, hours and registers kept from a step's page, and the files served."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from builds.models import Build, Person, Photo, Role, TimeEntry
from builds.services import time_entries
from tests.builds.views.floor_pages import page, sign
from tests.factories.builds import make_person, make_shop
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
