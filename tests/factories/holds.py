"""Hold points with what they cover, signed by the service or written by bare SQL."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.db import connection

from builds.engineering.vocabulary import HoldSigner
from builds.models import Build, ChecklistStep, HoldSignature, Person
from builds.services import hold_points
from tests.factories.builds import AT, make_customer, make_profile
from tests.factories.floor import make_step, make_working_build

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
