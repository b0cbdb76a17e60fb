"""What is known of a build beside its design rows: title, order, promise, who answers for it, its vehicle."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from builds.errors import BadInput, FieldConflict, GuardRefused, StaleRow
from builds.models import Build, Person, Stage
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.assessments import assess_build
from builds.services.vehicles import change_vehicle

__all__ = ["change_facts"]

_FIELDS = ("title", "purchase_order", "promised_on", "units", "responsible")
# These are part of the design: a screen, a revision and an assessment show them.
_OF_DESIGN = ("title", "purchase_order", "units")
_VEHICLE_FIELDS = ("vin", "vin_exception", "unit_number", "model_year", "sold_before")


def change_facts(
    *, build: Build, values: Mapping[str, Any], row_version: int, vehicle_version: int, by: Person, at: datetime
) -> Build:
    """
    Change facts of a build and of its vehicle, all or none.

    Raises
    ------
    BadInput
        If a value cannot be taken.
    StaleRow
        If someone changed the build or the vehicle meanwhile.
    GuardRefused
        If the build is delivered, closed or cancelled.
    """
    check_may(by, Action.EDIT_DESIGN)
    if not str(values.get("title", "")).strip():
        raise BadInput({"title": "Say in a few words what is built."})
    with transaction.atomic():
        act_as(by)
        locked = Build.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=build.pk)
        if locked.stage in (Stage.DELIVERED, Stage.CLOSED, Stage.CANCELLED):
            raise GuardRefused("This build is done; its facts stand as they are.", missing=("open",))
        _check_version(locked, values, row_version)
        vehicle_changed = _change_vehicle(locked, values, vehicle_version, by)
        design_changed = any(getattr(locked, name) != values[name] for name in _OF_DESIGN)
        for name in _FIELDS:
            setattr(locked, name, values[name])
        locked.row_version += 1
        locked.design_version += 1 if design_changed or vehicle_changed else 0
        locked.save(update_fields=[*_FIELDS, "row_version", "design_version"])
        if design_changed or vehicle_changed:
            assess_build(Build.objects.get(pk=build.pk))
    return locked


def _change_vehicle(build: Build, values: Mapping[str, Any], row_version: int, by: Person) -> bool:
    wanted = {name: values.get(name) for name in _VEHICLE_FIELDS}
    if all(getattr(build.vehicle, name) == value for name, value in wanted.items()):
        return False
    change_vehicle(vehicle=build.vehicle, values=wanted, row_version=row_version, by=by)
    return True


def _check_version(locked: Build, values: Mapping[str, Any], row_version: int) -> None:
    if locked.row_version == row_version:
        return
    conflicts = tuple(
        FieldConflict(field=name, yours=str(values[name] or ""), theirs=str(getattr(locked, name) or ""))
        for name in _FIELDS
        if getattr(locked, name) != values[name]
    )
    if conflicts:
        message = "Someone changed these facts while you had them open."
        raise StaleRow(message, conflicts=conflicts, row_version=locked.row_version)
