"""
Hold points beside other work at the same moment, and with the reasons of a signature taken away by bare SQL.

The concurrent tests use two real connections: what one has not committed yet must still stop the other.
"""

import threading
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, connections, transaction

from builds.errors import HandsOn
from builds.models import HoldSignature, Role, Tick
from builds.services import time_entries
from builds.services.refusals import constraint_of
from tests.factories.builds import AT, make_person
from tests.factories.floor import make_step, tick
from tests.factories.holds import (
    FOUR_EYES,
    SELF,
    build_of,
    covered_hold,
    insert_signature,
    insert_tick,
    insert_time,
    sign,
)

pytestmark = pytest.mark.django_db


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
