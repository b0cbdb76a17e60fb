"""
Hold points: who may sign, who may work afterwards, in both directions, by the service and by bare SQL.

The concurrent tests use two real connections: what one has not committed yet must still stop the other.
"""

import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, connections, transaction

from builds.engineering.vocabulary import HoldSigner
from builds.errors import BadInput, GuardRefused, HandsOn, NotAllowed, Taken
from builds.models import Build, ChecklistStep, HoldSignature, Person, Role, StepResult, Tick, TimeEntry
from builds.services import hold_points, time_entries
from builds.services.refusals import constraint_of
from tests.factories.builds import AT, make_customer, make_person, make_profile, make_shop
from tests.factories.floor import make_step, make_working_build, tick

pytestmark = pytest.mark.django_db

INSPECTOR, OTHER, SELF = HoldSigner.INSPECTOR, HoldSigner.OTHER_TECHNICIAN, HoldSigner.SELF_AFTER_NIGHT
FOUR_EYES = "builds_holdsignature_four_eyes"


def build_of(signer: HoldSigner | None = None) -> Build:
    """A build in work whose buyer lets ``signer`` sign."""
    profile = make_profile(**({"hold_signer": signer.value} if signer else {}))
    return make_working_build(customer=make_customer(profile=profile))


def covered_hold(build: Build, **more: Any) -> tuple[ChecklistStep, ChecklistStep]:
    """A wiring step and the hold point that covers it."""
    step = make_step(build, operation_key="O2", **more)
    return step, make_step(build, is_hold_point=True, title="Sign before trim closes", covers=[step])


def sign(hold: ChecklistStep, by: Person, basis: HoldSigner = INSPECTOR, **more: Any) -> HoldSignature:
    more = {"passed": True, "event_id": uuid4(), "at": AT} | more
    return hold_points.sign(step=hold, basis=basis, by=by, **more)


def test_inspector_with_no_hand_in_it_signs() -> None:
    build, technician, inspector = build_of(), make_person(Role.TECHNICIAN), make_person(Role.INSPECTOR)
    step, hold = covered_hold(build)
    tick(step, technician)

    signature = sign(hold, inspector)

    hold.refresh_from_db()
    build.refresh_from_db()
    assert (signature.passed, signature.basis, hold.result, hold.result_by) == (
        True,
        INSPECTOR,
        StepResult.PASS,
        inspector,
    )
    assert (build.step_done_count, build.step_count) == (2, 2)


def test_same_signature_sent_again_is_kept_once() -> None:
    build, inspector, event_id = build_of(), make_person(Role.INSPECTOR), uuid4()
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))

    assert sign(hold, inspector, event_id=event_id).pk == sign(hold, inspector, event_id=event_id).pk
    with pytest.raises(Taken):
        sign(hold, inspector, event_id=event_id, passed=False, remark="loose")
    assert HoldSignature.objects.count() == 1


def test_covered_step_that_is_open_or_defective_holds_it_back() -> None:
    build, technician, inspector = build_of(), make_person(Role.TECHNICIAN), make_person(Role.INSPECTOR)
    step, hold = covered_hold(build, title="Torque the stud")
    with pytest.raises(GuardRefused, match="Not passed yet: Torque the stud"):
        sign(hold, inspector)
    tick(step, technician, StepResult.DEFECTIVE, remark="loose")
    with pytest.raises(GuardRefused):
        sign(hold, inspector)
    assert not HoldSignature.objects.exists()


def test_sending_back_needs_words_and_leaves_the_hold_defective() -> None:
    build, inspector = build_of(), make_person(Role.INSPECTOR)
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))

    with pytest.raises(BadInput) as refused:
        sign(hold, inspector, passed=False)
    assert list(refused.value.fields) == ["remark"]

    sign(hold, inspector, passed=False, remark="Grommet missing at H3")
    hold.refresh_from_db()
    assert hold.result == StepResult.DEFECTIVE


def test_sent_back_then_mended_opens_the_hold_and_the_same_inspector_signs() -> None:
    build, technician, inspector = build_of(), make_person(Role.TECHNICIAN), make_person(Role.INSPECTOR)
    step, hold = covered_hold(build)
    tick(step, technician)
    sign(hold, inspector, passed=False, remark="Grommet missing at H3")

    tick(step, technician, at=AT + timedelta(hours=1))
    hold.refresh_from_db()
    assert hold.result == ""

    sign(hold, inspector, at=AT + timedelta(hours=2))
    hold.refresh_from_db()
    assert hold.result == StepResult.PASS


def test_tick_after_signing_opens_the_hold_again() -> None:
    build, technician = build_of(), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build)
    tick(step, technician)
    sign(hold, make_person(Role.INSPECTOR))

    tick(step, technician, at=AT + timedelta(hours=1))

    hold.refresh_from_db()
    build.refresh_from_db()
    assert (hold.result, build.step_done_count) == ("", 1)


def test_step_that_is_no_hold_point_is_not_signed() -> None:
    with pytest.raises(BadInput, match="Only a hold point is signed"):
        sign(make_step(build_of()), make_person(Role.INSPECTOR))


# --- the buyer's own way --------------------------------------------------------------------------


@pytest.mark.parametrize("asked", list(HoldSigner))
@pytest.mark.parametrize("given", list(HoldSigner))
def test_basis_must_be_the_buyers_own(asked: HoldSigner, given: HoldSigner) -> None:
    build = build_of(asked)
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))

    if asked == given:
        assert sign(hold, make_person(Role.INSPECTOR), given).basis == asked
        return
    with pytest.raises(NotAllowed, match="This buyer asks for another way"):
        sign(hold, make_person(Role.INSPECTOR), given)
    # and the database says the same to whoever goes around the service
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        insert_signature(hold, make_person(Role.INSPECTOR), given)
    assert constraint_of(refused.value) == "builds_holdsignature_basis_is_buyers"


def test_other_technician_signs_where_the_buyer_says_so_but_not_whoever_did_it() -> None:
    build, doer, other = build_of(OTHER), make_person(Role.TECHNICIAN), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build)
    tick(step, doer)

    with pytest.raises(HandsOn, match="Someone else signs it"):
        sign(hold, doer, OTHER)
    assert sign(hold, other, OTHER).by == other


def test_technician_does_not_sign_where_an_inspector_is_asked() -> None:
    step, hold = covered_hold(build_of())
    tick(step, make_person(Role.TECHNICIAN))

    with pytest.raises(NotAllowed, match="an inspector who had no hand in the work"):
        sign(hold, make_person(Role.TECHNICIAN))


NEW_YORK_MIDNIGHT = datetime.fromisoformat("2026-12-10T00:00:00-05:00")


@pytest.mark.parametrize(
    ("signed_at", "may"),
    [
        pytest.param(AT + timedelta(hours=2), False, id="same day"),
        pytest.param(NEW_YORK_MIDNIGHT - timedelta(minutes=1), False, id="same day in the shop, next day in UTC"),
        pytest.param(NEW_YORK_MIDNIGHT + timedelta(minutes=1), True, id="next day in the shop"),
    ],
)
def test_self_check_waits_for_a_night_on_the_shops_clock(signed_at: datetime, may: bool) -> None:
    make_shop()  # America/New_York
    build, doer = build_of(SELF), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build)
    tick(step, doer)

    if may:
        assert sign(hold, doer, SELF, at=signed_at).basis == SELF
        return
    with pytest.raises(HandsOn, match="after a night"):
        sign(hold, doer, SELF, at=signed_at)


def test_self_check_with_an_open_clock_entry_is_refused_even_after_a_night() -> None:
    build, doer = build_of(SELF), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))
    time_entries.clock_on(build=build, step=step, event_id=uuid4(), by=doer, at=AT)

    with pytest.raises(HandsOn):
        sign(hold, doer, SELF, at=AT + timedelta(days=2))


# --- both directions, with and without the service ---------------------------------------------------


def insert_signature(hold: ChecklistStep, by: Person, basis: HoldSigner = INSPECTOR) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "insert into builds_holdsignature (event_id, step_id, passed, basis, remark, by_id, at)"
            " values (gen_random_uuid(), %s, true, %s, '', %s, %s)",
            [hold.pk, basis.value, by.pk, AT],
        )


def insert_tick(step: ChecklistStep, by: Person) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "insert into builds_tick (event_id, device, step_id, result, instrument, remark, by_id, at, received_at)"
            " values (gen_random_uuid(), '', %s, 'pass', '', '', %s, %s, %s)",
            [step.pk, by.pk, AT, AT],
        )


def insert_time(step: ChecklistStep, by: Person, *, operation: str = "", name_step: bool = True) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "insert into builds_timeentry (event_id, person_id, build_id, step_id, operation_key, started_at, ended_at,"
            " correction_reason) values (gen_random_uuid(), %s, %s, %s, %s, %s, %s, '')",
            [by.pk, step.build_id, step.pk if name_step else None, operation, AT, AT + timedelta(hours=1)],
        )


HANDS: dict[str, Callable[[ChecklistStep, Person], object]] = {
    "tick": insert_tick,
    "time on the step": insert_time,
    "time on its operation": lambda step, by: insert_time(step, by, operation="O2", name_step=False),
}


@pytest.mark.parametrize("hand", HANDS.values(), ids=HANDS)
def test_whoever_had_a_hand_in_it_cannot_sign(hand: Callable[[ChecklistStep, Person], object]) -> None:
    inspector = make_person(Role.INSPECTOR)
    step, hold = covered_hold(build_of())
    tick(step, make_person(Role.TECHNICIAN))
    hand(step, inspector)

    with pytest.raises(HandsOn, match="tick or a clock entry"):
        sign(hold, inspector)
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        insert_signature(hold, inspector)
    assert constraint_of(refused.value) == FOUR_EYES
    hold.refresh_from_db()
    assert (hold.result, HoldSignature.objects.count()) == ("", 0)


@pytest.mark.parametrize("hand", HANDS.values(), ids=HANDS)
def test_whoever_signed_cannot_work_on_it_by_bare_sql(hand: Callable[[ChecklistStep, Person], object]) -> None:
    inspector = make_person(Role.INSPECTOR)
    step, hold = covered_hold(build_of())
    tick(step, make_person(Role.TECHNICIAN))
    sign(hold, inspector)

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        hand(step, inspector)
    assert constraint_of(refused.value) == FOUR_EYES


def test_whoever_signed_cannot_tick_or_clock_through_the_services() -> None:
    build, signer = build_of(OTHER), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))
    sign(hold, signer, OTHER)

    with pytest.raises(HandsOn, match="Someone else works on it"):
        tick(step, signer, at=AT + timedelta(hours=1))
    with pytest.raises(HandsOn, match="Someone else works on it"):
        time_entries.clock_on(build=build, step=step, event_id=uuid4(), by=signer, at=AT)
    with pytest.raises(HandsOn):
        time_entries.clock_on(build=build, operation_key="O2", event_id=uuid4(), by=signer, at=AT)
    assert (Tick.objects.count(), TimeEntry.objects.count()) == (1, 0)


def test_work_that_no_hold_point_covers_is_no_hand_in_it() -> None:
    build, inspector = build_of(), make_person(Role.INSPECTOR)
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))
    time_entries.clock_on(
        build=build, step=make_step(build, phase="mount"), event_id=uuid4(), by=inspector, at=AT - timedelta(days=1)
    )

    assert sign(hold, inspector).passed


def test_inspection_time_is_no_hand_in_it() -> None:
    build, inspector = build_of(), make_person(Role.INSPECTOR)
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))
    time_entries.clock_on(build=build, operation_key=time_entries.INSPECTION, event_id=uuid4(), by=inspector, at=AT)

    assert sign(hold, inspector).passed


@pytest.mark.owner
def test_signature_and_its_tick_are_append_only() -> None:
    step, hold = covered_hold(build_of())
    tick(step, make_person(Role.TECHNICIAN))
    sign(hold, make_person(Role.INSPECTOR))

    for table in ("builds_holdsignature", "builds_tick"):
        for change in (f"update {table} set remark = 'x'", f"delete from {table}"):
            with (
                pytest.raises(IntegrityError, match="append-only"),
                transaction.atomic(),
                connection.cursor() as cursor,
            ):
                cursor.execute(change)


def test_signature_that_fails_half_way_writes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    step, hold = covered_hold(build_of())
    tick(step, make_person(Role.TECHNICIAN))

    def power_cut(*_: object, **__: object) -> None:
        raise RuntimeError("power cut")

    monkeypatch.setattr(hold_points, "count_steps", power_cut)
    with pytest.raises(RuntimeError):
        sign(hold, make_person(Role.INSPECTOR))
    hold.refresh_from_db()
    assert (hold.result, HoldSignature.objects.count()) == ("", 0)


# --- at the same time ---------------------------------------------------------------------------------


class _Elsewhere(threading.Thread):
    """Runs one thing on a connection of its own and keeps what it raised."""

    def __init__(self, work: Callable[[], object]) -> None:
        super().__init__(daemon=True)
        self.work = work
        self.raised: BaseException | None = None
        self.start()

    def run(self) -> None:
        try:
            self.work()
        except BaseException as error:  # noqa: BLE001  handed to the test
            self.raised = error
        finally:
            connections.close_all()


def wait_until_blocked() -> None:
    """Wait until a connection stands before a lock that this one holds."""
    for _ in range(200):
        with connection.cursor() as cursor:
            cursor.execute(
                "select exists (select from pg_locks where not granted and pg_backend_pid() = any (pg_blocking_pids(pid)))"
            )
            if cursor.fetchone()[0]:
                return
        threading.Event().wait(0.05)
    raise AssertionError("nothing waits for a lock")


@pytest.mark.django_db(transaction=True)
def test_tick_waits_for_a_signature_not_committed_yet_and_is_then_refused() -> None:
    inspector = make_person(Role.INSPECTOR)
    step, hold = covered_hold(build_of())
    tick(step, make_person(Role.TECHNICIAN))

    with transaction.atomic():
        sign(hold, inspector)
        other = _Elsewhere(lambda: insert_tick(step, inspector))
        wait_until_blocked()
    other.join(20)

    assert constraint_of(other.raised) == FOUR_EYES  # type: ignore[arg-type]
    assert Tick.objects.filter(by=inspector).count() == 0


# --- taking the reasons away for a moment, by bare SQL ------------------------------------------------


def run(sql: str, **values: Any) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)


REASONS_TAKEN_AWAY = {
    "what it covers, removed": "delete from builds_checkliststep_covers where from_checkliststep_id = %(hold)s",
    "what it covers, changed": (
        "update builds_checkliststep_covers set to_checkliststep_id = %(hold)s where from_checkliststep_id = %(hold)s"
    ),
    "clock entry, removed": "delete from builds_timeentry where person_id = %(person)s",
    "clock entry, of something else": (
        "update builds_timeentry set step_id = null, operation_key = 'inspection' where person_id = %(person)s"
    ),
    "clock entry, of someone else": "update builds_timeentry set person_id = %(other)s where person_id = %(person)s",
    "operation of the step": "update builds_checkliststep set operation_key = 'other' where id = %(step)s",
    "step, of another kind": "update builds_checkliststep set is_hold_point = true where id = %(step)s",
    "step, retired and out": (
        "update builds_checkliststep set retired = true where id = %(step)s;"
        " delete from builds_checkliststep_covers where from_checkliststep_id = %(hold)s"
    ),
}


@pytest.mark.parametrize("sql", REASONS_TAKEN_AWAY.values(), ids=REASONS_TAKEN_AWAY)
def test_what_a_signature_is_judged_by_cannot_be_taken_away(sql: str) -> None:
    inspector, other = make_person(Role.INSPECTOR), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build_of())
    insert_time(step, inspector, operation="O2", name_step=False)

    with pytest.raises(IntegrityError):
        run(sql, hold=hold.pk, step=step.pk, person=inspector.pk, other=other.pk)
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        insert_signature(hold, inspector)

    assert constraint_of(refused.value) == FOUR_EYES


def test_hold_point_has_no_result_without_a_signature() -> None:
    inspector = make_person(Role.INSPECTOR)
    step, hold = covered_hold(build_of())
    tick(step, make_person(Role.TECHNICIAN))

    for result in ("pass", "defective", "not_applicable"):
        with pytest.raises(IntegrityError) as refused:
            run(_RESULT, result=result, by=inspector.pk, at=AT, hold=hold.pk)
        assert constraint_of(refused.value) == "builds_checkliststep_hold_is_signed"


def test_signature_gives_its_hold_point_a_result_once() -> None:
    inspector, technician = make_person(Role.INSPECTOR), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build_of())
    tick(step, technician)
    sign(hold, inspector)
    tick(step, technician)  # opens the hold point again
    hold.refresh_from_db()
    assert hold.result == ""

    with pytest.raises(IntegrityError) as refused:
        run(_RESULT, result="pass", by=inspector.pk, at=AT, hold=hold.pk)
    assert constraint_of(refused.value) == "builds_checkliststep_hold_is_signed"

    sign(hold, inspector)
    hold.refresh_from_db()
    assert hold.result == "pass"


_RESULT = (
    "update builds_checkliststep set result = %(result)s, result_by_id = %(by)s, result_at = %(at)s where id = %(hold)s"
)


def test_signed_hold_point_comes_to_cover_more_only_when_it_is_open_again() -> None:
    build, technician = build_of(), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build)
    tick(step, technician)
    sign(hold, make_person(Role.INSPECTOR))

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        hold.covers.add(make_step(build))

    assert constraint_of(refused.value) == "builds_checkliststep_covers_open"


def test_corrected_end_of_a_clock_entry_counts_by_the_latest_it_said() -> None:
    build, doer = build_of(SELF), make_person(Role.TECHNICIAN)
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))
    entry = time_entries.clock_on(build=build, step=step, event_id=uuid4(), by=doer, at=AT)
    time_entries.clock_off(entry=entry, by=doer, at=AT + timedelta(hours=2))
    yesterday = AT - timedelta(days=1)
    time_entries.correct(
        entry=entry, started_at=yesterday, ended_at=yesterday + timedelta(hours=2), reason="wrong day", by=doer,
        at=AT + timedelta(hours=3),
    )  # fmt: skip

    with pytest.raises(HandsOn, match="after a night"):
        sign(hold, doer, SELF, at=AT + timedelta(hours=4))
    assert sign(hold, doer, SELF, at=AT + timedelta(days=1)).passed


@pytest.mark.django_db(transaction=True)
def test_signature_waits_for_a_clock_entry_not_committed_yet_and_is_then_refused() -> None:
    inspector = make_person(Role.INSPECTOR)
    build = build_of()
    step, hold = covered_hold(build)
    tick(step, make_person(Role.TECHNICIAN))

    with transaction.atomic():
        time_entries.clock_on(build=build, step=step, event_id=uuid4(), by=inspector, at=AT)
        other = _Elsewhere(lambda: sign(hold, inspector))
        wait_until_blocked()
    other.join(20)

    assert isinstance(other.raised, HandsOn)
    assert not HoldSignature.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_one_tick_sent_by_two_requests_at_once_is_kept_once() -> None:
    technician, event_id = make_person(Role.TECHNICIAN), uuid4()
    step = make_step(build_of())

    with transaction.atomic():
        first = tick(step, technician, event_id=event_id)
        other = _Elsewhere(lambda: tick(step, technician, event_id=event_id))
        wait_until_blocked()
    other.join(20)

    assert other.raised is None
    assert list(Tick.objects.all()) == [first]
