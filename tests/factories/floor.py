"""Made-up rows of the floor and the yard: a build whose work may start, steps, bays."""

import io
from decimal import Decimal
from itertools import count
from typing import Any
from uuid import uuid4

from django.db.models import F
from PIL import Image

from builds.models import (
    Authorisation,
    Bay,
    BayPlace,
    Build,
    ChecklistStep,
    FrozenDocument,
    Person,
    Revision,
    Role,
    Stage,
    StepResult,
    Tick,
)
from builds.services import check_ins, ticks
from tests.factories.builds import AT, make_build, make_person

__all__ = ["check_in", "make_bay", "make_photo_file", "make_step", "make_working_build", "tick"]

_numbers = count(1)


def make_working_build(by: Person | None = None, *, checked_in: bool = True, **more: Any) -> Build:
    """Return a build in work: its (empty) design authorised and without findings, its vehicle checked in."""
    by = by or make_person(Role.MANAGER)
    build = make_build(by, **more)
    document, _ = FrozenDocument.objects.get_or_create(sha256="0" * 64, defaults={"compressed": b""})
    revision = Revision.objects.create(
        build=build, letter="A", sequence=1, document=document, design_version=1, summary="as ordered", price_total=0,
        crew_h=0, released_by=by, released_at=AT,
    )  # fmt: skip
    Authorisation.objects.create(
        revision=revision, kind="purchase_order", document_sha256=document.sha256, authorised_by="P. Lund",
        reference="PO-1", authorised_at=AT, recorded_by=by,
    )  # fmt: skip
    Build.objects.filter(pk=build.pk).update(stage=Stage.IN_WORK, assessed_version=F("design_version"))
    build.refresh_from_db()
    if checked_in:
        check_in(build, by)
    return build


def check_in(build: Build, by: Person | None = None, *, direction: str = "in", **more: Any) -> None:
    """Check the build's vehicle in, or out."""
    condition = check_ins.Condition(odometer_km=Decimal(more.pop("odometer_km", 1200)), fuel_ratio=Decimal("0.5"))
    check_ins.record(
        build=build, direction=direction, condition=condition, event_id=uuid4(), by=by or make_person(Role.MANAGER),
        at=more.pop("at", AT), **more,
    )  # fmt: skip


def make_step(build: Build, **more: Any) -> ChecklistStep:
    """Return a step on the vehicle in the wiring phase; ``reading="V"`` makes it ask for a reading of at most 0.1."""
    number = next(_numbers)
    unit = more.pop("reading", "")
    if unit:
        more = {"reading_unit": unit, "reading_name": "Voltage", "reading_max": Decimal("0.1")} | more
    columns: dict[str, Any] = {
        "line": number, "key": f"step/{number}", "phase": "wire", "place": "vehicle", "title": f"Look at thing {number}"
    }  # fmt: skip
    covers = more.pop("covers", ())
    step = ChecklistStep.objects.create(build=build, **columns | more)
    step.covers.set(covers)
    return step


def tick(step: ChecklistStep, by: Person, result: StepResult = StepResult.PASS, **more: Any) -> Tick:
    """Tick a step as the page would."""
    at = more.pop("at", AT)
    event_id = more.pop("event_id", None) or uuid4()
    received_at = more.pop("received_at", at)
    device = {name: more.pop(name) for name in ("device", "device_sequence") if name in more}
    if result == StepResult.NOT_APPLICABLE:
        more.setdefault("remark", "this vehicle has none")
    found = ticks.Outcome(result=result, **more)
    return ticks.record(step=step, found=found, event_id=event_id, by=by, at=at, received_at=received_at, **device)


def make_bay(places: int = 1, **more: Any) -> BayPlace:
    """Return the first place of a new bay."""
    number = next(_numbers)
    bay = Bay.objects.create(name=more.pop("name", f"Bay {number}"), line=number, **more)
    made = [BayPlace.objects.create(bay=bay, number=at) for at in range(1, places + 1)]
    return made[0]


def make_photo_file(form: str = "JPEG", size: tuple[int, int] = (64, 48), **options: Any) -> bytes:
    """Return the bytes of a small picture whose left half is red."""
    picture = Image.new("RGB", size, "white")
    picture.paste((200, 30, 30), (0, 0, size[0] // 2, size[1]))
    written = io.BytesIO()
    picture.save(written, form, **options)
    return written.getvalue()
