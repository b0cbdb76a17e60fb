"""Bays: the plan and the fact, each without overlaps, neither in the way of the other."""

import threading
from contextlib import suppress
from datetime import datetime, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connections, transaction

from builds.errors import BadInput, GuardRefused, NotAllowed, NotHere, Occupied, StaleRow, Taken
from builds.models import BayPlace, Booking, Build, HistoryEntry, LocationEvent, Occupancy, Person, Role, Stage
from builds.services import bays
from builds.services.bays import BookingMove, book, cancel_booking, enter_bay, leave_bay, move_booking, swap_bookings
from builds.services.locations import hand_keys, move_vehicle
from builds.services.refusals import check_constraints_now, constraint_of
from tests.factories.builds import AT, make_build, make_person, make_shop
from tests.factories.floor import check_in, make_bay

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _shop() -> None:
    make_shop()  # America/New_York: AT is Wed 9 Dec 05:40 there


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


def plan(build: Build, place: BayPlace, by: Person, start: datetime = AT, days: float = 2) -> Booking:
    return book(build=build, place=place, start=start, end=start + days * DAY, by=by, at=AT)


def test_book_plans_the_builds_vehicle(manager: Person) -> None:
    build, place = make_build(), make_bay()

    booking = plan(build, place, manager)

    booking.refresh_from_db()
    assert (booking.vehicle, booking.during.lower, booking.during.upper) == (build.vehicle, AT, AT + 2 * DAY)


def test_stay_that_is_over_or_too_short_is_no_plan(manager: Person) -> None:
    place, quarter = make_bay(), timedelta(minutes=15)
    build, other = make_build(), make_build(number="2612")
    later = plan(build, place, manager, AT + 5 * DAY)

    for start, end in ((AT - DAY, AT), (AT, AT + quarter - timedelta(seconds=1))):
        with pytest.raises(BadInput) as refused:
            book(build=other, place=place, start=start, end=end, by=manager, at=AT)
        assert list(refused.value.fields) == ["end"]
        with pytest.raises(BadInput):
            move_booking(booking=later, place=place, start=start, end=end, row_version=1, by=manager, at=AT)
    assert [item.during.lower for item in Booking.objects.all()] == [AT + 5 * DAY]

    book(build=make_build(number="2615"), place=place, start=AT - DAY, end=AT + timedelta(minutes=1), by=manager, at=AT)
    book(build=make_build(number="2616"), place=place, start=AT + DAY, end=AT + DAY + quarter, by=manager, at=AT)


def test_fact_of_the_past_and_of_a_minute_is_recorded(manager: Person) -> None:
    build, place = make_build(), make_bay()

    enter_bay(build=build, place=place, event_id=uuid4(), by=manager, at=AT - DAY)
    leave_bay(
        build=build, to_kind="lot", spot="Lot row C 4", event_id=uuid4(), by=manager, at=AT - DAY + timedelta(minutes=1)
    )

    stay = Occupancy.objects.get()
    assert stay.during.upper - stay.during.lower == timedelta(minutes=1)


def test_bay_booked_for_another_is_refused_in_words(manager: Person) -> None:
    place = make_bay(name="Bay 2")
    first = plan(make_build(number="2612"), place, manager)

    with pytest.raises(Taken, match=r"^Bay 2 is booked for 2612 until Fri 11 Dec 05:40\.$"):
        plan(make_build(), place, manager, AT + DAY)
    assert list(Booking.objects.all()) == [first]


def test_vehicle_booked_elsewhere_is_refused_in_words(manager: Person) -> None:
    build = make_build(number="2612")
    plan(build, make_bay(name="Bay 1"), manager)

    with pytest.raises(Taken, match=r"^The vehicle of 2612 is booked in Bay 1 until Fri 11 Dec 05:40\.$"):
        plan(build, make_bay(), manager, AT + DAY)


def test_stay_that_begins_as_another_ends_is_taken(manager: Person) -> None:
    place = make_bay()
    plan(make_build(), place, manager)

    assert plan(make_build(), place, manager, AT + 2 * DAY).pk


def test_second_place_of_a_bay_takes_another_vehicle(manager: Person) -> None:
    first = make_bay(places=2)
    second = first.bay.places.get(number=2)

    plan(make_build(), first, manager)
    assert plan(make_build(), second, manager).pk


def test_build_may_have_any_number_of_stays(manager: Person) -> None:
    build = make_build()
    for number in range(4):
        plan(build, make_bay(), manager, AT + number * DAY, days=0.5)

    assert build.bookings.count() == 4


@pytest.mark.parametrize("days", [0, -1])
def test_stay_that_ends_before_it_starts_is_refused(manager: Person, days: int) -> None:
    with pytest.raises(BadInput) as refused:
        plan(make_build(), make_bay(), manager, days=days)
    assert list(refused.value.fields) == ["end"]


@pytest.mark.parametrize("stage", [Stage.DELIVERED, Stage.CLOSED, Stage.CANCELLED])
def test_build_that_is_over_is_not_booked(manager: Person, stage: Stage) -> None:
    build = make_build()
    build.stage = stage
    with pytest.raises(GuardRefused):
        plan(build, make_bay(), manager)


def test_technician_does_not_plan() -> None:
    with pytest.raises(NotAllowed):
        plan(make_build(), make_bay(), make_person(Role.TECHNICIAN))


def test_move_booking_raises_its_version(manager: Person) -> None:
    booking, place = plan(make_build(), make_bay(), manager), make_bay()

    moved = move_booking(
        booking=booking, place=place, start=AT + DAY, end=AT + 2 * DAY, row_version=1, by=manager, at=AT
    )

    moved.refresh_from_db()
    assert (moved.place, moved.during.lower, moved.row_version) == (place, AT + DAY, 2)


def test_stale_move_says_where_the_booking_is_now(manager: Person) -> None:
    booking, other = plan(make_build(), make_bay(), manager), make_bay(name="Bay 9")
    move_booking(booking=booking, place=other, start=AT, end=AT + DAY, row_version=1, by=manager, at=AT)

    with pytest.raises(StaleRow, match="it is in Bay 9, Wed 9 Dec 05:40 to Thu 10 Dec 05:40 now") as refused:
        move_booking(booking=booking, place=booking.place, start=AT, end=AT + DAY, row_version=1, by=manager, at=AT)
    assert [(item.field, item.theirs) for item in refused.value.conflicts] == [("place", "Bay 9")]
    assert refused.value.row_version == 2


def test_swap_gives_two_bookings_each_others_place(manager: Person) -> None:
    first = plan(make_build(), make_bay(), manager)
    second = plan(make_build(), make_bay(), manager)

    swap_bookings(
        first=BookingMove(booking=first, place=second.place, start=AT, end=AT + 2 * DAY, row_version=1),
        second=BookingMove(booking=second, place=first.place, start=AT, end=AT + 2 * DAY, row_version=1),
        by=manager, at=AT,
    )  # fmt: skip

    places = dict(Booking.objects.values_list("pk", "place"))
    assert places == {first.pk: second.place_id, second.pk: first.place_id}


def test_half_of_a_swap_that_does_not_fit_moves_nothing(manager: Person) -> None:
    first, second = plan(make_build(), make_bay(), manager), plan(make_build(), make_bay(), manager)
    third = plan(make_build(number="2690"), make_bay(name="Bay 3"), manager)

    with pytest.raises(Taken, match="Bay 3 is booked for 2690"):
        swap_bookings(
            first=BookingMove(booking=first, place=second.place, start=AT, end=AT + 2 * DAY, row_version=1),
            second=BookingMove(booking=second, place=third.place, start=AT, end=AT + 2 * DAY, row_version=1),
            by=manager, at=AT,
        )  # fmt: skip

    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.row_version, second.row_version) == (1, 1)
    assert first.place_id != second.place_id


def test_two_moves_to_one_place_are_refused(manager: Person) -> None:
    first, second, place = plan(make_build(), make_bay(), manager), plan(make_build(), make_bay(), manager), make_bay()

    with pytest.raises(Taken, match="would overlap"):
        swap_bookings(
            first=BookingMove(booking=first, place=place, start=AT, end=AT + DAY, row_version=1),
            second=BookingMove(booking=second, place=place, start=AT, end=AT + DAY, row_version=1),
            by=manager, at=AT,
        )  # fmt: skip


def test_cancelled_booking_frees_its_place_and_stays_in_history(manager: Person) -> None:
    place = make_bay()
    booking = plan(make_build(), place, manager)

    cancel_booking(booking=booking, row_version=1, by=manager, at=AT)

    assert plan(make_build(), place, manager).pk
    assert HistoryEntry.objects.filter(table_name="builds_booking", operation="delete", actor=manager.username).exists()
    with pytest.raises(NotHere):
        cancel_booking(booking=booking, row_version=1, by=manager, at=AT)


def test_stale_cancel_is_refused(manager: Person) -> None:
    booking = plan(make_build(), make_bay(), manager)
    with pytest.raises(StaleRow):
        cancel_booking(booking=booking, row_version=7, by=manager, at=AT)
    assert Booking.objects.exists()


def test_database_refuses_an_overlap_to_whoever_goes_around_the_service(manager: Person) -> None:
    place = make_bay()
    booking = plan(make_build(), place, manager)
    other = make_build()

    with pytest.raises(IntegrityError) as refused, transaction.atomic():  # noqa: PT012  refused where it is checked
        Booking.objects.create(build=other, vehicle=other.vehicle, place=place, during=booking.during, by=manager)
        check_constraints_now("builds_booking_one_per_place")
    assert constraint_of(refused.value) == "builds_booking_one_per_place"


@pytest.mark.django_db(transaction=True)
def test_two_people_who_book_one_bay_at_once_get_one_booking_and_one_refusal(
    manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    place, builds = make_bay(name="Bay 2"), [make_build(number="2612"), make_build()]
    both_written = threading.Barrier(2)
    raised: list[BaseException] = []
    check = bays.check_constraints_now

    def check_when_both_are_written(*names: str) -> None:
        """The worst moment: each then checks a row that the other has not committed."""
        with suppress(threading.BrokenBarrierError):
            both_written.wait(2)
        check(*names)

    monkeypatch.setattr(bays, "check_constraints_now", check_when_both_are_written)

    def attempt(build: Build) -> None:
        try:
            plan(build, place, manager)
        except Exception as error:  # noqa: BLE001  told apart below
            raised.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=attempt, args=[build], daemon=True) for build in builds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)

    assert [type(error) for error in raised] == [Taken]
    assert Booking.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_people_who_swap_the_same_stays_at_once_do_not_block_each_other(
    manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = plan(make_build(), make_bay(), manager), plan(make_build(), make_bay(), manager)
    both_hold_one = threading.Barrier(2)
    raised: list[BaseException] = []
    lock = bays._locked

    def lock_and_wait(booking: Booking) -> Booking:
        """The worst moment: each holds the stay that the other wants next."""
        locked = lock(booking)
        with suppress(threading.BrokenBarrierError):
            both_hold_one.wait(1)
        return locked

    monkeypatch.setattr(bays, "_locked", lock_and_wait)

    def attempt(one: Booking, other: Booking) -> None:
        moves = [
            BookingMove(booking=a, place=b.place, start=AT, end=AT + 2 * DAY, row_version=1)
            for a, b in ((one, other), (other, one))
        ]
        try:
            swap_bookings(first=moves[0], second=moves[1], by=manager, at=AT)
        except Exception as error:  # noqa: BLE001  told apart below
            raised.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=attempt, args=pair, daemon=True) for pair in ((first, second), (second, first))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)

    assert [type(error) for error in raised] == [StaleRow]
    assert dict(Booking.objects.values_list("pk", "place")) == {first.pk: second.place_id, second.pk: first.place_id}


# --- the fact -------------------------------------------------------------------------------------


def enter(build: Build, place: BayPlace, by: Person, at: datetime = AT) -> Occupancy:
    return enter_bay(build=build, place=place, event_id=uuid4(), by=by, at=at)


def test_fact_is_taken_whatever_the_plan_says(manager: Person) -> None:
    place = make_bay()
    plan(make_build(), place, manager, AT - DAY)
    late = make_build()
    plan(late, make_bay(), manager, AT - DAY)

    stay = enter(late, place, make_person(Role.TECHNICIAN))

    assert (stay.during.lower, stay.during.upper) == (AT, None)
    assert late.locations.get().bay_place == place


def test_vehicle_recorded_in_a_bay_has_left_once_another_stands_there(manager: Person) -> None:
    place, other, build = make_bay(name="Bay 2"), make_build(number="2612"), make_build()
    enter(other, place, manager)

    with pytest.raises(Occupied, match=r"2612 is recorded in Bay 2 since Wed 9 Dec 05:40\. If it has left, say so"):
        enter(build, place, manager, AT + DAY)
    with pytest.raises(Occupied):
        enter_bay(build=build, place=place, event_id=uuid4(), by=manager, at=AT + DAY, has_left="2699")
    event_id = uuid4()
    for _ in range(2):
        enter_bay(build=build, place=place, event_id=event_id, by=manager, at=AT + DAY, has_left="2612")

    ends = {stay.build: stay.during.upper for stay in Occupancy.objects.select_related("build")}
    assert ends == {other: AT + DAY, build: None}
    assert other.locations.latest("at").spot == "Left Bay 2; nobody said where to"


def test_moving_from_bay_to_bay_ends_the_first_stay(manager: Person) -> None:
    build, first, second = make_build(), make_bay(), make_bay()
    enter(build, first, manager)

    enter(build, second, manager, AT + DAY)

    stays = {stay.place: stay.during.upper for stay in build.occupancies.all()}
    assert stays == {first: AT + DAY, second: None}


def test_entering_where_it_stands_changes_nothing(manager: Person) -> None:
    build, place = make_build(), make_bay()

    assert enter(build, place, manager).pk == enter(build, place, manager, AT + DAY).pk


def test_entry_sent_again_is_kept_once(manager: Person) -> None:
    build, place, event_id = make_build(), make_bay(), uuid4()

    first = enter_bay(build=build, place=place, event_id=event_id, by=manager, at=AT)
    again = enter_bay(build=build, place=place, event_id=event_id, by=manager, at=AT)

    assert (first.pk, Occupancy.objects.count(), LocationEvent.objects.count()) == (again.pk, 1, 1)
    with pytest.raises(Taken, match="another move"):
        enter_bay(build=build, place=make_bay(), event_id=event_id, by=manager, at=AT)


def test_stay_that_would_end_before_it_began_is_refused(manager: Person) -> None:
    build = make_build()
    enter(build, make_bay(name="Bay 2"), manager)

    with pytest.raises(BadInput, match="It came into Bay 2 at Wed 9 Dec 05:40, after this"):
        enter(build, make_bay(), manager, AT - DAY)
    assert build.occupancies.count() == 1


def test_time_inside_a_stay_that_has_ended_is_refused(manager: Person) -> None:
    place, first = make_bay(name="Bay 2"), make_build(number="2612")
    enter(first, place, manager)
    leave_bay(build=first, to_kind="lot", spot="C 4", event_id=uuid4(), by=manager, at=AT + DAY)

    with pytest.raises(Taken, match="Bay 2 is taken for 2612 until Thu 10 Dec 05:40"):
        enter(make_build(), place, manager, AT + DAY / 2)


def test_leave_bay_ends_the_stay_and_says_where_it_went(manager: Person) -> None:
    build = make_build()
    stay = enter(build, make_bay(), manager)
    event_id = uuid4()

    for _ in range(2):  # sent twice, done once
        leave_bay(build=build, to_kind="lot", spot=" row C 4 ", event_id=event_id, by=manager, at=AT + DAY)

    stay.refresh_from_db()
    assert stay.during.upper == AT + DAY
    assert [event.spot for event in build.locations.all()][-1] == "row C 4"
    assert build.locations.count() == 2
    with pytest.raises(NotHere, match="stands in no bay"):
        leave_bay(build=build, to_kind="lot", spot="C 4", event_id=uuid4(), by=manager, at=AT + 2 * DAY)


def test_move_vehicle_out_of_a_bay_ends_its_stay(manager: Person) -> None:
    build, place = make_build(), make_bay()
    move_vehicle(build=build, kind="bay", bay_place=place, event_id=uuid4(), by=manager, at=AT)

    move_vehicle(build=build, kind="sublet", spot="Paint shop", event_id=uuid4(), by=manager, at=AT + DAY)
    move_vehicle(build=build, kind="lot", spot="C 4", event_id=uuid4(), by=manager, at=AT + 2 * DAY)

    assert bays.open_occupancy(build) is None
    assert [event.kind for event in build.locations.all()] == ["bay", "sublet", "lot"]


@pytest.mark.parametrize(
    ("kind", "spot", "field"),
    [("bay", "", "bay_place"), ("lot", "  ", "spot"), ("lot", "x" * 81, "spot"), ("moon", "crater", "kind")],
)
def test_move_that_does_not_say_where_is_refused(manager: Person, kind: str, spot: str, field: str) -> None:
    with pytest.raises(BadInput) as refused:
        move_vehicle(build=make_build(), kind=kind, spot=spot, event_id=uuid4(), by=manager, at=AT)
    assert list(refused.value.fields) == [field]
    assert not LocationEvent.objects.exists()


def test_move_that_fails_half_way_writes_nothing(manager: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    build = make_build()
    enter(build, make_bay(), manager)

    def power_cut(*_: object, **__: object) -> None:
        raise RuntimeError("power cut")

    monkeypatch.setattr(LocationEvent.objects, "create", power_cut)
    with pytest.raises(RuntimeError):
        enter(build, make_bay(), manager, AT + DAY)
    assert [stay.during.upper for stay in build.occupancies.all()] == [None]


def test_hand_keys_keeps_count_hook_and_holder(manager: Person) -> None:
    build, event_id = make_build(), uuid4()
    check_in(build)

    for _ in range(2):
        hand_keys(build=build, count=2, hook="K 14", event_id=event_id, by=manager, at=AT)

    assert [(event.count, event.hook) for event in build.keys.all()] == [(2, "K 14")]
    with pytest.raises(Taken):
        hand_keys(build=build, count=1, hook="K 14", event_id=event_id, by=manager, at=AT)


@pytest.mark.parametrize(
    ("values", "field"),
    [({"count": 2}, "hook"), ({"count": 99, "hook": "K 1"}, "count"), ({"count": -1, "hook": "K 1"}, "count"),
     ({"count": 0, "hook": "K 1"}, "count"), ({"count": 1, "hook": "K 1", "holder": "P. Lund"}, "holder"),
     ({"count": 1, "hook": "x" * 41}, "hook"), ({"count": 1, "holder": "x" * 81}, "holder")],
)  # fmt: skip
def test_keys_that_say_nothing_are_refused(manager: Person, values: dict[str, object], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        hand_keys(build=make_build(), event_id=uuid4(), by=manager, at=AT, **values)  # type: ignore[arg-type]
    assert field in refused.value.fields


def test_keys_of_a_vehicle_that_never_came_in_are_refused(manager: Person) -> None:
    with pytest.raises(BadInput, match="not come in yet"):
        hand_keys(build=make_build(), count=2, hook="K 1", event_id=uuid4(), by=manager, at=AT)


def test_hook_holds_the_keys_of_one_vehicle_at_a_time(manager: Person) -> None:
    one, other = make_build(), make_build()
    for build in (one, other):
        check_in(build)
    hand_keys(build=one, count=2, hook="Hook 14", event_id=uuid4(), by=manager, at=AT)

    with pytest.raises(BadInput, match=one.number) as refused:
        hand_keys(build=other, count=1, hook="hook 14", event_id=uuid4(), by=manager, at=AT)
    assert list(refused.value.fields) == ["hook"]

    hand_keys(build=one, count=2, holder="P. Lund", event_id=uuid4(), by=manager, at=AT + DAY)
    hand_keys(build=other, count=1, hook="hook 14", event_id=uuid4(), by=manager, at=AT + DAY)
    assert other.keys.get().hook == "hook 14"
