"""
Platform versions: a new one beside those on file, never a change of one that builds stand on.

What a person types is checked as the document's reader checks a platform, so that whatever is on file can be handed on.
"""

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from django.db import IntegrityError, transaction
from django.db.models import Model

from builds import models
from builds.engineering.design import Platform
from builds.engineering.document.assemble import part_of
from builds.engineering.document.canonical import part_values
from builds.engineering.document.faults import Fault
from builds.engineering.document.parts import part_faults
from builds.engineering.document.references import reference_faults
from builds.engineering.errors import OutOfRange
from builds.errors import BadInput, Taken
from builds.models import Person, PlatformVersion
from builds.permissions import Action, check_may
from builds.selectors.platform_inputs import platform_of
from builds.services.actors import act_as
from builds.services.design_rows import column_value

__all__ = ["PLATFORM_LISTS", "make_platform", "part_columns", "part_rows", "write_version"]

_Row = TypeVar("_Row", bound=Model)
PLATFORM_LISTS: dict[str, type[Model]] = {
    "zones": models.Zone,
    "routes": models.Route,
    "no_mount_zones": models.NoMountZone,
    "access_points": models.AccessPoint,
    "seat_places": models.SeatPlace,
}


def write_version(*, source: PlatformVersion, values: Mapping[str, Any], by: Person) -> PlatformVersion:
    """
    Write a new platform version: everything of ``source``, with ``values`` laid over it.

    Parameters
    ----------
    source : PlatformVersion
        The version it starts from; it stays as it is.
    values : mapping of str to value
        By the document's field names: figures as ``Decimal``, lists ("zones", "routes" …) as lists of mappings; ``None``
        takes an optional figure away.
    by : Person
        Who writes it.

    Raises
    ------
    BadInput
        At each field that cannot be taken; a line of a list is named by its number.
    Taken
        If there is a version of this name already.
    """
    check_may(by, Action.EDIT_PLATFORM)
    raw = _exact(part_values(platform_of(source))) | dict(values)
    raw = {name: value for name, value in raw.items() if value is not None}
    faults = [*part_faults(Platform, raw), *_references(raw)]
    if faults:
        raise BadInput(dict(_at_field(fault) for fault in reversed(faults)))
    try:
        platform = part_of(Platform, raw)
    except OutOfRange as error:
        raise BadInput({error.name: f"Must be {error.allowed}."}) from error
    try:
        with transaction.atomic():
            act_as(by)
            return make_platform(platform)
    except IntegrityError as error:
        words = f"“{platform.name}, {platform.version}” is on file already. Give it a version of its own."
        raise Taken(words, fields={"version": words}) from error


def _references(raw: dict[str, Any]) -> Iterator[Fault]:
    for fault in reference_faults({"platform": raw}):
        yield Fault(pointer=fault.pointer.removeprefix("/build/platform"), message=fault.message)


def _at_field(fault: Fault) -> tuple[str, str]:
    """A fault's field of the form, and its words: lines of a list are counted from 1 as a person sees them."""
    _, field, *rest = fault.pointer.split("/")
    message = fault.message.replace("in this document", "on this platform")
    if not rest:
        return field, message[:1].upper() + message[1:] + ("" if message.endswith(".") else ".")
    where = ", ".join([f"Line {int(rest[0]) + 1}", *(name.rsplit("_", 1)[0].replace("_", " ") for name in rest[1:])])
    return field, f"{where}: {message}."


def _exact(value: Any) -> Any:
    if isinstance(value, float):
        return Decimal(repr(value))
    if isinstance(value, Mapping):
        return {name: _exact(item) for name, item in value.items()}
    return [_exact(item) for item in value] if isinstance(value, list | tuple) else value


def make_platform(platform: Platform) -> PlatformVersion:
    """Write the rows of a platform that is not on file."""
    made = PlatformVersion.objects.create(**part_columns(platform, *PLATFORM_LISTS))
    for name, table in PLATFORM_LISTS.items():
        table._default_manager.bulk_create(part_rows(table, getattr(platform, name), platform=made))
    return made


def part_rows(model: type[_Row], parts: Iterable[Any], **owner: Model) -> list[_Row]:
    """Return unsaved rows of parts that stand in a list, in its order."""
    return [model(line=line, **owner, **part_columns(part)) for line, part in enumerate(parts, start=1)]


def part_columns(part: Any, *left_out: str) -> dict[str, Any]:
    """Return the columns of a frozen part, by name."""
    names = (field.name for field in dataclasses.fields(part) if field.name not in left_out)
    return {name: column_value(getattr(part, name)) for name in names}
