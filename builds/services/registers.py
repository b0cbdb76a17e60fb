"""
The registers of a build: serials, splices, body penetrations, the customer's gear, factory parts taken off.

What is written here is what the person finds who opens the vehicle in six years. Nothing is removed; an entry that was
wrong is amended, and history keeps what it said.
"""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, models, transaction

from builds.errors import BadInput, FieldConflict, StaleRow, Taken
from builds.models import (
    BodyPenetration,
    Build,
    CustomerGear,
    PartsBillLine,
    Person,
    Photo,
    RemovedPart,
    SerialNumber,
    Splice,
)
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.photos import NewPhoto, add_photo

__all__ = [
    "Entry",
    "amend",
    "expect_gear",
    "expect_gear_of",
    "receive_gear",
    "record_serial",
    "seal_penetration",
    "swap_serial",
    "write_penetration",
    "write_removed_part",
    "write_splice",
]

Entry = SerialNumber | Splice | BodyPenetration | CustomerGear | RemovedPart

# What may be amended afterwards, by register; a serial is swapped instead, so that both stay.
_AMENDABLE: dict[type[models.Model], tuple[str, ...]] = {
    SerialNumber: ("note",),
    Splice: ("circuit_number", "place", "method"),
    BodyPenetration: ("place", "diameter_mm", "sealed_with", "photo"),
    CustomerGear: ("description", "due_on", "received_at", "condition", "photo"),
    RemovedPart: ("description", "kept_at", "disposition"),
}
_ASK = {
    "serial": "Write the serial as it stands on the device.",
    "circuit_number": "Write the number of the circuit.",
    "place": "Say where the next person finds it.",
    "method": "Say how it is joined: crimp and sealed sleeve, solder …",
    "label": "Give it a short name, like H3.",
    "diameter_mm": "Write its diameter in millimetres, above 0.",
    "description": "Say what it is.",
    "kept_at": "Say where it lies: bag, bin, shelf.",
    "disposition": "Say what becomes of it: back to the customer, scrap …",
}


def record_serial(*, part_line: PartsBillLine, serial: str, by: Person, at: datetime, note: str = "") -> SerialNumber:
    """Write the serial of a device as fitted. Raises BadInput, or Taken if it stands there already."""
    in_use = part_line.serials.filter(replaced_by__isnull=True).count()
    if in_use >= part_line.quantity:
        raise BadInput(
            {"serial": f"All {part_line.quantity.normalize():f} of {part_line.key} have a serial. Swap one instead."}
        )
    entry = SerialNumber(
        build=part_line.build, part_line=part_line, serial=serial.strip(), note=note.strip(), by=by, at=at
    )
    _write(entry, by=by, asked=("serial",), taken={"serial": "This serial is written down for this line already."})
    return entry


def swap_serial(*, old: SerialNumber, serial: str, note: str, by: Person, at: datetime) -> SerialNumber:
    """Write the serial of the device that replaces ``old``; both stay in the register. Raises BadInput, Taken."""
    if old.replaced_by_id is not None:
        raise Taken(f"{old.serial} was replaced by {old.replaced_by} already.")
    if not note.strip():
        raise BadInput({"note": "Say why it was swapped."})
    entry = SerialNumber(
        build=old.build, part_line=old.part_line, serial=serial.strip(), note=note.strip(), by=by, at=at
    )
    with transaction.atomic():
        _write(entry, by=by, asked=("serial",), taken={"serial": "This serial is written down for this line already."})
        changed = SerialNumber.objects.filter(pk=old.pk, replaced_by__isnull=True).update(
            replaced_by=entry, row_version=models.F("row_version") + 1
        )
        if not changed:
            raise Taken(f"{old.serial} was replaced by someone else meanwhile.")
    old.replaced_by = entry
    return entry


def write_splice(*, build: Build, circuit_number: str, place: str, method: str, by: Person, at: datetime) -> Splice:
    """Write down a joint in a wire. Raises BadInput."""
    entry = Splice(
        build=build, circuit_number=circuit_number.strip(), place=place.strip(), method=method.strip(), by=by, at=at
    )
    _write(entry, by=by, asked=("circuit_number", "place", "method"))
    return entry


def write_penetration(
    *, build: Build, label: str, place: str, diameter_mm: Decimal, by: Person, at: datetime, sealed_with: str = "",
    photo: NewPhoto | None = None,
) -> BodyPenetration:  # fmt: skip
    """Write down a hole in the body; what seals it and its photo may follow. Raises BadInput, Taken."""
    entry = BodyPenetration(
        build=build, label=label.strip(), place=place.strip(), diameter_mm=diameter_mm,
        sealed_with=sealed_with.strip(), by=by, at=at,
    )  # fmt: skip
    with transaction.atomic():
        entry.photo = _kept(photo, build, Photo.Kind.PENETRATION, f"{entry.label}: {entry.place}", by, at)
        _write(
            entry, by=by, asked=("label", "place", "diameter_mm"), taken={"label": "This name is used in this build."}
        )
    return entry


def seal_penetration(
    *, penetration: BodyPenetration, sealed_with: str, row_version: int, by: Person, at: datetime,
    photo: NewPhoto | None = None,
) -> BodyPenetration:  # fmt: skip
    """Write down what seals a hole, with its photo. Raises BadInput, StaleRow."""
    if not sealed_with.strip():
        raise BadInput({"sealed_with": "Say what seals it: grommet, sealer, blanking plug …"})
    with transaction.atomic():
        values: dict[str, Any] = {"sealed_with": sealed_with}
        kept = _kept(photo, penetration.build, Photo.Kind.PENETRATION, str(penetration), by, at)
        amend(entry=penetration, values=values | ({"photo": kept} if kept else {}), row_version=row_version, by=by)
    return penetration


def _kept(photo: NewPhoto | None, build: Build, kind: str, caption: str, by: Person, at: datetime) -> Photo | None:
    if photo is None:
        return None
    return add_photo(
        build=build, kind=kind, content=photo.content, event_id=photo.event_id, caption=caption[:160], by=by, at=at
    )


def expect_gear(
    *, build: Build, description: str, by: Person, at: datetime, due_on: date | None = None
) -> CustomerGear:
    """Write down what the customer is to bring, and by when. Raises BadInput."""
    entry = CustomerGear(build=build, description=description.strip(), due_on=due_on, by=by, at=at)
    _write(entry, by=by, asked=("description",))
    return entry


def expect_gear_of(*, build: Build, descriptions: Iterable[str], by: Person, at: datetime) -> int:
    """Write down the gear of a parts bill that is not in the register yet; called as part of making the checklist."""
    known = set(build.gear.values_list("description", flat=True))
    missing = dict.fromkeys(text[:120] for text in descriptions if text[:120] not in known)
    CustomerGear.objects.bulk_create(CustomerGear(build=build, description=text, by=by, at=at) for text in missing)
    return len(missing)


def receive_gear(
    *, gear: CustomerGear, condition: str, row_version: int, by: Person, at: datetime, photo: NewPhoto | None = None
) -> CustomerGear:
    """Write down that gear came, and in what state. Raises BadInput, StaleRow."""
    if not condition.strip():
        raise BadInput({"condition": "Say in what state it came."})
    with transaction.atomic():
        values: dict[str, Any] = {"condition": condition, "received_at": gear.received_at or at}
        kept = _kept(photo, gear.build, Photo.Kind.GEAR, gear.description, by, at)
        amend(entry=gear, values=values | ({"photo": kept} if kept else {}), row_version=row_version, by=by)
    return gear


def write_removed_part(
    *, build: Build, description: str, kept_at: str, disposition: str, by: Person, at: datetime
) -> RemovedPart:
    """Write down a factory part taken off, where it lies and what becomes of it. Raises BadInput."""
    entry = RemovedPart(
        build=build,
        description=description.strip(),
        kept_at=kept_at.strip(),
        disposition=disposition.strip(),
        by=by,
        at=at,
    )
    _write(entry, by=by, asked=("description", "kept_at", "disposition"))
    return entry


def amend(*, entry: Entry, values: Mapping[str, Any], row_version: int, by: Person) -> None:
    """
    Change fields of an entry that was written before; ``row_version`` is the one the person saw.

    Raises
    ------
    StaleRow
        If someone changed it meanwhile; carries both values by field.
    BadInput
        If a value cannot be taken.
    """
    refused = [name for name in values if name not in _AMENDABLE[type(entry)]]
    if refused:
        raise BadInput(dict.fromkeys(refused, "This stays as it was written."))
    check_may(by, Action.WRITE_REGISTER)
    with transaction.atomic():
        act_as(by)
        fresh = type(entry)._default_manager.select_for_update(of=("self",)).get(pk=entry.pk)
        _check_version(fresh, values, row_version)
        for name, value in values.items():
            setattr(fresh, name, value.strip() if isinstance(value, str) else value)
        fresh.row_version += 1
        _check(fresh, tuple(name for name in values if name in _ASK))
        fresh.save()
    for name in (*values, "row_version"):
        setattr(entry, name, getattr(fresh, name))


def _check_version(fresh: Entry, values: Mapping[str, Any], row_version: int) -> None:
    if fresh.row_version == row_version:
        return
    conflicts = tuple(
        FieldConflict(field=name, yours=str(value), theirs=str(getattr(fresh, name)))
        for name, value in values.items()
        if getattr(fresh, name) != value
    )
    raise StaleRow(
        "Someone changed this entry while you had it open.", conflicts=conflicts, row_version=fresh.row_version
    )


def _write(entry: Entry, *, by: Person, asked: tuple[str, ...], taken: Mapping[str, str] | None = None) -> None:
    check_may(by, Action.WRITE_REGISTER)
    _check(entry, asked)
    try:
        with transaction.atomic():
            act_as(by)
            entry.save(force_insert=True)
    except IntegrityError as error:
        if not taken:
            raise
        raise Taken(next(iter(taken.values())), fields=taken) from error


def _check(entry: Entry, asked: tuple[str, ...]) -> None:
    faults = {name: _ASK[name] for name in asked if getattr(entry, name) in ("", None)}
    faults |= _length_faults(entry)
    if isinstance(entry, BodyPenetration) and "diameter_mm" not in faults:
        size = entry.diameter_mm
        if not size.is_finite() or not 0 < size < 10_000 or size != round(size, 1):
            faults["diameter_mm"] = "Write its diameter in millimetres, above 0, to a tenth at most."
    if (
        isinstance(entry, Splice)
        and entry.circuit_number
        and not entry.build.circuits.filter(number=entry.circuit_number).exists()
    ):
        faults["circuit_number"] = f"There is no circuit {entry.circuit_number[:40]} in this build."
    photo = getattr(entry, "photo", None)
    if photo is not None and photo.build_id != entry.build_id:
        faults["photo"] = "This photo belongs to another build."
    if faults:
        raise BadInput(faults)


def _length_faults(entry: Entry) -> dict[str, str]:
    texts = [field for field in entry._meta.concrete_fields if isinstance(field, models.CharField)]
    return {
        field.name: f"Keep this to {field.max_length} letters."
        for field in texts
        if field.max_length and len(getattr(entry, field.name)) > field.max_length
    }
