"""The yard and the bay board: forms without script, words for what cannot be, nothing half kept."""

from datetime import timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.models import BayPlace, Booking, Build, CheckIn, KeyEvent, LocationEvent, Occupancy, Person, Photo, Role
from builds.selectors.half_days import moved_end, moved_start
from builds.services import bays, locations
from tests.factories.builds import make_person, make_shop
from tests.factories.floor import check_in, make_bay, make_photo_file, make_working_build

pytestmark = pytest.mark.django_db

ZONE = ZoneInfo("America/New_York")


@pytest.fixture
def manager(client: Client) -> Person:
    make_shop()
    person = make_person(Role.MANAGER, short_name="S. Brandt")
    client.force_login(person)
    return person


@pytest.fixture
def build() -> Build:
    return make_working_build(checked_in=False)


def text_of(response: Any) -> str:
    return str(response.content.decode())


# --- the yard -------------------------------------------------------------------------------------


def check_form(**fields: Any) -> dict[str, Any]:
    return {
        "event_id": str(uuid4()), "odometer": "12.5", "fuel": "75", "key_count": "2", "spot": "Lot row C 4", "hook": "K 14",
        "damage": "scratch, left rear door", "photos": SimpleUploadedFile("side.jpg", make_photo_file(), "image/jpeg"),
    } | fields  # fmt: skip


def test_check_in_puts_vehicle_and_keys_somewhere(client: Client, manager: Person, build: Build) -> None:
    assert f"Check in {build.number}" in text_of(client.get("/yard/"))

    response = client.post(f"/yard/{build.number}/check-in/", check_form())

    assert response["Location"] == f"/yard/{build.number}/"
    entry = CheckIn.objects.get()
    assert (float(entry.odometer_km), float(entry.fuel_ratio), Photo.objects.count()) == (20.1, 0.75, 1)  # 12.5 mi
    text = text_of(client.get("/yard/"))
    assert "1 vehicle on site" in text and "Lot row C 4" in text and "2 keys on hook K 14" in text


def test_check_in_sent_twice_is_one(client: Client, manager: Person, build: Build) -> None:
    event_id = str(uuid4())
    for _ in range(2):
        client.post(f"/yard/{build.number}/check-in/", check_form(event_id=event_id))

    assert (CheckIn.objects.count(), KeyEvent.objects.count(), LocationEvent.objects.count()) == (1, 1, 1)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"odometer": ""}, "Type a number."),
        ({"odometer": "far"}, "Type a number, such as 12.5."),
        ({"odometer": "-1"}, "Type at least 0 mi."),
        ({"fuel": "101"}, "Type at most 100 %."),
        ({"key_count": "many"}, "Write a whole number."),
        ({"key_count": "99"}, "Write 20 or fewer."),
        ({"spot": ""}, "This may not stay empty."),
        ({"hook": ""}, "This may not stay empty."),
        ({"warning_lamps": "x" * 201}, "Keep this to 200 letters."),
        ({"plate": "x" * 21}, "Keep this to 20 letters."),
        ({"photos": SimpleUploadedFile("a.jpg", b"no photo", "image/jpeg")}, "This is not a photo"),
    ],
)
def test_check_in_that_cannot_be_keeps_nothing(
    client: Client, manager: Person, build: Build, fields: dict[str, Any], words: str
) -> None:
    response = client.post(f"/yard/{build.number}/check-in/", check_form(**fields))

    assert response.status_code == 422
    assert words in text_of(response) and "scratch, left rear door" in text_of(response)
    kept = [kind.objects.count() for kind in (CheckIn, KeyEvent, LocationEvent, Photo)]
    assert kept == [0, 0, 0, 0]


def test_check_out_shows_the_same_list_beside_what_was_found(client: Client, manager: Person, build: Build) -> None:
    client.post(f"/yard/{build.number}/check-in/", check_form())
    place = make_bay()
    bays.enter_bay(build=build, place=place, event_id=uuid4(), by=manager, at=timezone.now())

    page = text_of(client.get(f"/yard/{build.number}/check-in/"))
    assert "Who takes it" in page and "scratch, left rear door" in page and "12.5 mi" in page

    wrong = client.post(f"/yard/{build.number}/check-in/", check_form(odometer="12.0", taken_by="P. Lund"))
    assert wrong.status_code == 422 and "It stood at 12.5 mi last time" in text_of(wrong)

    client.post(f"/yard/{build.number}/check-in/", check_form(odometer="13", taken_by="P. Lund", damage=""))
    assert Occupancy.objects.get().during.upper is not None  # it is out of its bay too
    both = text_of(client.get(f"/yard/{build.number}/"))
    assert "12.5 mi" in both and "13.0 mi" in both and "none seen" in both and "With P. Lund" in both
    assert f"/yard/{build.number}/check-in/" in text_of(client.get("/yard/"))  # it waits for its vehicle again


def test_move_into_a_bay_and_out_again(client: Client, manager: Person, build: Build) -> None:
    place = make_bay(name="Bay 2")
    move = f"/yard/{build.number}/move/"

    client.post(move, {"event_id": str(uuid4()), "kind": "bay", "bay_place": place.pk})
    assert Occupancy.objects.get().place == place
    client.post(move, {"event_id": str(uuid4()), "kind": "lot", "spot": "C 4"})

    assert Occupancy.objects.get().during.upper is not None
    page = text_of(client.get(f"/yard/{build.number}/"))
    assert "<td>Bay 2</td>" in page and "Lot: C 4" in page


def test_taken_bay_is_offered_and_asks_whether_the_other_has_left(
    client: Client, manager: Person, build: Build
) -> None:
    place, other = make_bay(name="Bay 2"), make_working_build()
    bays.enter_bay(build=other, place=place, event_id=uuid4(), by=manager, at=timezone.now())
    move, fields = f"/yard/{build.number}/move/", {"event_id": str(uuid4()), "kind": "bay", "bay_place": place.pk}
    assert f"Bay 2 ({other.number} is recorded there)" in text_of(client.get(f"/yard/{build.number}/"))

    asked = client.post(move, fields)
    said = client.post(move, fields | {"has_left": other.number}, follow=True)

    assert asked.status_code == 409
    assert f"{other.number} was recorded there; it has left</label>" in text_of(asked)
    assert f"{other.number} was recorded there; it has left." in text_of(said)
    assert [stay.build for stay in Occupancy.objects.filter(during__upper_inf=True)] == [build]


@pytest.mark.parametrize(
    ("fields", "status", "words"),
    [
        ({"kind": "bay"}, 422, "Say which bay."),
        ({"kind": "lot"}, 422, "Say where it stands"),
        ({"kind": "moon", "spot": "x"}, 422, "Say what sort of place it is."),
        ({"kind": "lot", "spot": "x" * 81}, 422, "Keep this to 80 letters."),
        ({"kind": "bay", "bay_place": "999999"}, 422, "This bay is not there any more."),
        ({"kind": "bay", "bay_place": "taken"}, 409, "If it has left, say so with this one."),
    ],
)
def test_move_that_cannot_be_is_refused_at_its_field(
    client: Client, manager: Person, build: Build, fields: dict[str, str], status: int, words: str
) -> None:
    place = make_bay()
    bays.enter_bay(build=make_working_build(), place=place, event_id=uuid4(), by=manager, at=timezone.now())
    before = LocationEvent.objects.count()
    if fields.get("bay_place") == "taken":
        fields = fields | {"bay_place": str(place.pk)}

    response = client.post(f"/yard/{build.number}/move/", {"event_id": str(uuid4())} | fields)

    assert response.status_code == status and words in text_of(response)
    assert LocationEvent.objects.count() == before


def test_keys_are_handed_with_words(client: Client, manager: Person, build: Build) -> None:
    check_in(build)
    path = f"/yard/{build.number}/keys/"

    assert client.post(path, {"event_id": str(uuid4()), "count": "1", "holder": "A. Dace"}).status_code == 302
    assert "1 key with A. Dace" in text_of(client.get(f"/yard/{build.number}/"))
    refused = client.post(path, {"event_id": str(uuid4()), "count": "1"})
    assert refused.status_code == 422 and "Say where the keys are" in text_of(refused)


def test_yard_finds_by_build_unit_and_place(client: Client, manager: Person) -> None:
    first, second = make_working_build(), make_working_build()
    for item, spot in ((first, "C 4"), (second, "D 1")):
        locations.move_vehicle(build=item, kind="lot", spot=spot, event_id=uuid4(), by=manager, at=timezone.now())

    def found(query: str) -> list[str]:
        return [row.build.number for row in client.get("/yard/", {"q": query}).context["rows"]]

    assert found("") == [first.number, second.number]
    assert found("d 1") == [second.number]
    assert found(first.vehicle.unit_number.lower()) == [first.number]
    assert found("nowhere") == []


def test_yard_asks_the_same_number_of_questions_however_full_it_is(client: Client, manager: Person) -> None:
    counts = []
    for more in (1, 8):
        for _ in range(more):
            locations.move_vehicle(
                build=make_working_build(), kind="lot", spot="C 4", event_id=uuid4(), by=manager, at=timezone.now()
            )
        with CaptureQueriesContext(connection) as asked:
            client.get("/yard/")
        counts.append(len(asked))

    assert counts[0] == counts[1]


def test_vehicle_put_on_the_lot_and_not_checked_in_says_so(client: Client, manager: Person, build: Build) -> None:
    locations.move_vehicle(build=build, kind="lot", spot="C 4", event_id=uuid4(), by=manager, at=timezone.now())

    text = text_of(client.get("/yard/"))
    assert "Not checked in" in text and "Nobody wrote down where the keys are" in text


# --- the board --------------------------------------------------------------------------------------


def planned(build: Build, place: BayPlace, by: Person, half_days: int = 2, length: int = 3) -> Booking:
    now = timezone.now()
    return bays.book(
        build=build, place=place, start=moved_start(now, half_days, ZONE), end=moved_end(now, half_days + length, ZONE),
        by=by, at=now,
    )  # fmt: skip


def shift(client: Client, booking: Booking, **fields: Any) -> Any:
    data = {"half_days": "0", "stretch": "0", "place": booking.place_id, "row_version": booking.row_version} | fields
    return client.post(f"/bays/bookings/{booking.pk}/shift/", data)


def test_board_shows_bays_stays_and_what_waits(client: Client, manager: Person, build: Build) -> None:
    place = make_bay(name="Bay 2", features="hoist")
    booking = planned(build, place, manager)
    week = booking.during.lower.astimezone(ZONE).strftime("%G-W%V")

    text = text_of(client.get("/bays/", {"week": week}))

    for words in ("Bay 2", "hoist", build.number, "Planned", "Waiting for a bay: 1", "Book a stay"):
        assert words in text
    assert f'data-booking="{booking.pk}"' in text
    assert "style=" not in text
    wall = text_of(client.get(f"/bays/?week={week}&wall"))
    assert "data-booking" not in wall and build.number in wall and 'class="wall"' in wall


def test_technician_sees_the_board_and_moves_nothing(client: Client, manager: Person, build: Build) -> None:
    booking = planned(build, make_bay(), manager)
    client.force_login(make_person(Role.TECHNICIAN))

    assert "data-booking" not in text_of(client.get("/bays/"))
    assert client.get(f"/bays/bookings/{booking.pk}/").status_code == 200
    for path in (f"/bays/bookings/{booking.pk}/", f"/bays/bookings/{booking.pk}/shift/", "/bays/book/"):
        assert client.post(path, {}).status_code == 403
    booking.refresh_from_db()
    assert booking.row_version == 1


def test_shift_moves_by_half_days_and_to_another_bay(client: Client, manager: Person, build: Build) -> None:
    booking, other = planned(build, make_bay(), manager), make_bay()
    start, end = booking.during.lower, booking.during.upper

    assert shift(client, booking, half_days="1", stretch="-1", place=other.pk).status_code == 302

    booking.refresh_from_db()
    assert booking.place == other
    assert booking.during.lower == moved_start(start, 1, ZONE)
    assert booking.during.upper == moved_end(end, 0, ZONE)


def test_shift_of_the_bay_alone_keeps_odd_times(client: Client, manager: Person, build: Build) -> None:
    now = timezone.now()
    booking = bays.book(
        build=build,
        place=make_bay(),
        start=now + timedelta(minutes=7),
        end=now + timedelta(hours=3),
        by=manager,
        at=now,
    )

    shift(client, booking, place=make_bay().pk)

    fresh = Booking.objects.get()
    assert (fresh.during, fresh.row_version) == (booking.during, 2)


def test_shift_into_a_booked_bay_shows_the_board_with_the_reason(client: Client, manager: Person, build: Build) -> None:
    taken = make_bay(name="Bay 2")
    other = planned(make_working_build(), taken, manager)
    booking = planned(build, make_bay(), manager)

    response = shift(client, booking, place=taken.pk)

    assert response.status_code == 409
    assert f"Bay 2 is booked for {other.build.number} until" in text_of(response)
    assert "data-board" in text_of(response)
    booking.refresh_from_db()
    assert booking.row_version == 1


def test_shift_of_what_someone_else_moved_is_refused(client: Client, manager: Person, build: Build) -> None:
    booking = planned(build, make_bay(), manager)
    shift(client, booking, half_days="1")

    response = shift(client, booking, half_days="1")

    assert response.status_code == 409 and "Someone moved this booking" in text_of(response)


@pytest.mark.parametrize(
    "fields",
    [
        {"half_days": "x"},
        {"half_days": "99999"},
        {"stretch": "1.5"},
        {"place": ""},
        {"place": "999999"},
        {"row_version": "-1"},
    ],
)
def test_shift_that_cannot_be_read_changes_nothing(
    client: Client, manager: Person, build: Build, fields: dict[str, str]
) -> None:
    booking = planned(build, make_bay(), manager)

    assert shift(client, booking, **fields).status_code == 404
    booking.refresh_from_db()
    assert booking.row_version == 1


def test_shift_that_leaves_no_time_is_refused(client: Client, manager: Person, build: Build) -> None:
    booking = planned(build, make_bay(), manager, length=1)

    response = shift(client, booking, stretch="-6")

    assert response.status_code == 422 and "A stay ends after it starts" in text_of(response)


def test_book_and_move_by_the_plain_form(client: Client, manager: Person, build: Build) -> None:
    place = make_bay(name="Bay 2")
    form = {
        "build": build.number,
        "place": place.pk,
        "start": "2026-12-09T08:00",
        "end": "2026-12-10T16:00",
        "purpose": "install",
    }

    assert client.post("/bays/book/", form)["Location"] == "/bays/?week=2026-W50"
    booking = Booking.objects.get()
    assert booking.during.lower.astimezone(ZONE).isoformat() == "2026-12-09T08:00:00-05:00"

    page = client.get(f"/bays/bookings/{booking.pk}/")
    assert 'value="2026-12-09T08:00"' in text_of(page)
    moved = {"place": place.pk, "start": "2026-12-16T08:00", "end": "2026-12-17T16:00", "row_version": 1}
    assert client.post(f"/bays/bookings/{booking.pk}/", moved)["Location"] == "/bays/?week=2026-W51"
    stale = client.post(f"/bays/bookings/{booking.pk}/", moved)
    assert stale.status_code == 409 and "Someone moved this booking" in text_of(stale)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"build": "none"}, "Choose a build that is still open."),
        ({"build": ""}, "Choose the build."),
        ({"place": ""}, "Choose the bay."),
        ({"place": "999999"}, "Choose a bay of this shop."),
        ({"start": "soon"}, "Write day and time"),
        ({"end": ""}, "Say when."),
        ({"end": "2026-12-09T07:00"}, "A stay ends after it starts."),
        ({"end": "2026-12-09T08:14"}, "A stay lasts 15 minutes or more."),
        ({"start": "2020-12-01T08:00", "end": "2020-12-02T16:00"}, "This stay was over at Wed 2 Dec 16:00."),
    ],
)
def test_booking_that_cannot_be_is_refused_at_its_field(
    client: Client, manager: Person, build: Build, fields: dict[str, str], words: str
) -> None:
    form = {"build": build.number, "place": make_bay().pk, "start": "2026-12-09T08:00", "end": "2026-12-10T16:00"}

    response = client.post("/bays/book/", form | fields)

    assert response.status_code == 422 and words in text_of(response)
    assert not Booking.objects.exists()


def test_two_stays_change_bays(client: Client, manager: Person, build: Build) -> None:
    first, second = planned(build, make_bay(), manager), planned(make_working_build(), make_bay(), manager)

    response = client.post(f"/bays/bookings/{first.pk}/swap/", {"other": second.pk, "row_version": 1})

    assert response.status_code == 302
    assert dict(Booking.objects.values_list("pk", "place")) == {first.pk: second.place_id, second.pk: first.place_id}
    wrong = client.post(f"/bays/bookings/{first.pk}/swap/", {"other": first.pk, "row_version": 2})
    assert wrong.status_code == 422 and "Choose a stay that is in the plan." in text_of(wrong)


def test_stay_is_taken_out_of_the_plan(client: Client, manager: Person, build: Build) -> None:
    booking = planned(build, make_bay(), manager)

    assert client.post(f"/bays/bookings/{booking.pk}/cancel/", {"row_version": 7}).status_code == 409
    assert client.post(f"/bays/bookings/{booking.pk}/cancel/", {"row_version": 1}).status_code == 302
    assert not Booking.objects.exists()
    assert client.get(f"/bays/bookings/{booking.pk}/").status_code == 404


@pytest.mark.parametrize("path", ["/bays/", "/bays/?wall", "/yard/", "/bays/book/"])
def test_someone_signed_out_is_asked_to_sign_in(client: Client, path: str) -> None:
    assert client.get(path)["Location"].startswith("/sign-in/")


def test_odd_week_is_this_week(client: Client, manager: Person) -> None:
    this = client.get("/bays/").context["board"].monday
    for week in ("2026-W99", "x", "9999-W52", "2026-W50' or 1=1"):
        assert client.get("/bays/", {"week": week}).context["board"].monday == this
