"""Hold points: who may sign, who may work afterwards, in both directions, by the service and by bare SQL."""

from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction

from builds.engineering.vocabulary import HoldSigner
from builds.errors import BadInput, GuardRefused, HandsOn, NotAllowed, Taken
from builds.models import ChecklistStep, HoldSignature, Person, Role, Stage, StageChange, StepResult, Tick, TimeEntry
from builds.services import hold_points, time_entries
from builds.services.refusals import constraint_of
from tests.factories.builds import AT, make_person, make_shop
from tests.factories.floor import make_step, tick
from tests.factories.holds import (
    FOUR_EYES,
    INSPECTOR,
    OTHER,
    SELF,
    build_of,
    covered_hold,
    insert_signature,
    insert_tick,
    insert_time,
    sign,
)

pytestmark = pytest.mark.django_db


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


@pytest.mark.parametrize("named", [True, False])
def test_covered_step_that_is_named_as_an_open_item_does_not_hold_it_back(named: bool) -> None:
    build, inspector = build_of(), make_person(Role.INSPECTOR)
    step, hold = covered_hold(build, title="Fit the scene lamp")
    item = {"step": step.key, "part": "Lamp", "reason": "late", "who_returns": "the shop", "by_when": "2031-01-09"}
    StageChange.objects.create(
        build=build, from_stage=Stage.IN_WORK, to_stage=Stage.FINAL_CHECK, by=inspector, at=AT,
        open_items=[item] if named else [],
    )  # fmt: skip

    if named:
        assert sign(hold, inspector).passed
    else:
        with pytest.raises(GuardRefused, match="Not passed yet: Fit the scene lamp"):
            sign(hold, inspector)


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
