"""One row of a design as the plain values of the build document, checked before anything is written."""

import re
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import Value

from builds import models
from builds.engineering.document.assemble import part_of
from builds.engineering.document.canonical import part_values
from builds.engineering.document.parts import part_faults
from builds.engineering.document.references import reference_faults
from builds.engineering.errors import OutOfRange
from builds.errors import BadInput
from builds.selectors.engineering_inputs import PART_OF_ROW
from builds.services.design_rows import FAMILIES, Family

__all__ = ["check_part", "check_parts", "merge_values", "values_of_row"]

_NAMES_BY_FAMILY = {
    "node": "nodes", "run": "runs", "circuit": "circuits", "load": "loads", "condition": "conditions",
    "shed": "shed_steps", "duty": "duty_profiles", "segment": "duty_segments", "operation": "operations", "part": "parts",
}  # fmt: skip
_VOLTAGES = {
    "source_low_v": "the lowest voltage",
    "off_below_v": "the voltage at which it goes off",
    "low_v": "the lowest it is set to",
    "min_v": "the voltage below which it is off",
}
_OWN_FIGURES = {  # fields by family that name nothing and that nothing else is held against
    "circuit": frozenset(
        {"legend", "device_rating_a", "gauge", "colour", "length_m", "return_length_m", "insulation_c", "bundle"}
    ),
    "load": frozenset({"name", "current_a", "quantity", "duty_ratio", "key_off_a", "inrush_a"}),
}
_OF_PLATFORM = {"zone": "zones", "access_point": "access_points"}


def values_of_row(family: Family, row: Any) -> dict[str, Any]:
    """Return a row as the document says it; numbers are ``int`` or ``float``, names stand for what they point at."""
    return part_values(PART_OF_ROW[family.name](row))


def merge_values(before: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """
    Return ``before`` with the changes laid over it.

    "battery.capacity_ah" reaches into a nested part; ``None`` takes a field away.
    """
    merged: dict[str, Any] = {name: dict(value) if isinstance(value, dict) else value for name, value in before.items()}
    for name, value in changes.items():
        outer, _, inner = name.partition(".")
        target = merged.setdefault(outer, {}) if inner else merged
        if value is None:
            target.pop(inner or outer, None)
        else:
            target[inner or outer] = value
    return merged


def check_part(
    build: models.Build,
    family: Family,
    values: Mapping[str, Any],
    *,
    own_key: str | None,
    changed: Collection[str] | None = None,
) -> Any:
    """
    Return the frozen part that ``values`` describe, or raise :class:`BadInput` with words at each field.

    ``own_key`` is the address the row has now, ``None`` for a new one. ``changed`` names the fields that are new, where the
    rest stands already: a row of which only figures of its own change is not held against all the others.
    """
    exact = _exact_values(values)
    words = _own_words(family, exact)
    alone = changed is not None and _OWN_FIGURES.get(family.name, frozenset()).issuperset(changed)
    fields = words if alone else _reference_words(build, family, exact, own_key) | words
    if fields:
        raise BadInput({name: _sentence(message) for name, message in fields.items()})
    return _part(family, exact)


def check_parts(
    build: models.Build,
    family: Family,
    rows: Mapping[str, Mapping[str, Any]],
    added: Mapping[str, Mapping[str, Any]] | None = None,
) -> tuple[dict[str, Any], dict[str, dict[str, str]]]:
    """
    Return the frozen parts of rows that keep their keys, and the words at each field that cannot be taken, both by key.

    ``added`` are new rows by any keys that no row has. The addresses of the build are asked for once, however many rows
    there are.
    """
    rows = {**rows, **(added or {})}
    exact = {key: _exact_values(values) for key, values in rows.items()}
    faults = {key: _own_words(family, values) for key, values in exact.items()}
    for key, words in _reference_words_of_rows(build, family, exact, list(added or ())).items():
        faults[key] = words | faults[key]
    parts = {}
    for key in [key for key, words in faults.items() if not words]:
        try:
            parts[key] = _part(family, exact[key])
        except BadInput as error:
            faults[key] = error.fields
    said = {key: {name: _sentence(text) for name, text in words.items()} for key, words in faults.items() if words}
    return parts, said


def _exact_values(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _exact(value) for name, value in values.items()}


def _own_words(family: Family, exact: dict[str, Any]) -> dict[str, str]:
    """Check one row by itself."""
    return {_field(fault.pointer): fault.message for fault in reversed(part_faults(family.part, exact))}


def _part(family: Family, exact: dict[str, Any]) -> Any:
    try:
        return part_of(family.part, exact)
    except OutOfRange as error:
        raise BadInput({error.name: _sentence(f"must be {error.allowed}")}) from error


def _exact(value: Any) -> Any:
    if isinstance(value, float):
        return Decimal(repr(value))
    if isinstance(value, Mapping):
        return {name: _exact(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_exact(item) for item in value]
    return value


def _reference_words(
    build: models.Build, family: Family, values: dict[str, Any], own_key: str | None
) -> dict[str, str]:
    """Check the one row against the addresses of all the others, in the document's words."""
    raw = _addresses(build)
    if own_key is not None:
        own_name = _NAMES_BY_FAMILY[family.name]
        raw[own_name] = [item for item in raw[own_name] if item[family.key_field] != own_key]
    own = raw[_NAMES_BY_FAMILY[family.name]]
    own.append(values)
    start = f"/build/{_NAMES_BY_FAMILY[family.name]}/{len(own) - 1}"
    return {
        _field(fault.pointer.removeprefix(start)): _words_in_build(fault.message)
        for fault in reference_faults(raw)
        if fault.pointer.startswith(f"{start}/") or fault.pointer == start
    }


def _reference_words_of_rows(
    build: models.Build, family: Family, rows: Mapping[str, dict[str, Any]], added: Sequence[str]
) -> dict[str, dict[str, str]]:
    """Check several rows, new ones among them, against the addresses of all the others."""
    raw = _addresses(build)
    name = _NAMES_BY_FAMILY[family.name]
    raw[name] = [rows.get(item[family.key_field], item) for item in raw[name]]
    keys = [*(item[family.key_field] for item in raw[name]), *added]
    raw[name] += [rows[key] for key in added]
    found: dict[str, dict[str, str]] = {}
    for fault in reference_faults(raw):
        start, _, rest = fault.pointer.removeprefix(f"/build/{name}/").partition("/")
        if fault.pointer.startswith(f"/build/{name}/") and keys[int(start)] in rows:
            found.setdefault(keys[int(start)], {})[_field(rest)] = _words_in_build(fault.message)
    return found


def _words_in_build(message: str) -> str:
    """A build has no pointers, it is not a document, and its people do not know the names of the document's fields."""
    words = re.sub(r"is used twice; .*", "is used already", message).replace("in this document", "in this build")
    return re.sub(r"\b(" + "|".join(_VOLTAGES) + r"), ", lambda found: f"{_VOLTAGES[found.group(1)]}, ", words)


def _addresses(build: models.Build) -> dict[str, Any]:
    """Return the addresses of every row of a build and of its platform's zones and access points, in one question."""
    asked = [
        build.platform.zones.order_by().values_list(Value("zone"), "key"),
        build.platform.access_points.order_by().values_list(Value("access_point"), "key"),
        *(
            item.rows(build).select_related(None).order_by().values_list(Value(item.name), item.key_field)
            for item in FAMILIES.values()
        ),
    ]
    raw: dict[str, Any] = {"platform": {"zones": [], "access_points": []}} | {
        name: [] for name in _NAMES_BY_FAMILY.values()
    }
    for kind, key in asked[0].union(*asked[1:], all=True):
        if kind in _OF_PLATFORM:
            raw["platform"][_OF_PLATFORM[kind]].append({"key": key})
        else:
            raw[_NAMES_BY_FAMILY[kind]].append({FAMILIES[kind].key_field: key})
    return raw


def _field(pointer: str) -> str:
    """Return "battery.capacity_ah" for "/battery/capacity_ah" and "zones" for "/zones/2"."""
    steps = [step for step in pointer.split("/") if step and not step.isdigit()]
    return ".".join(steps)


def _sentence(message: str) -> str:
    return message[:1].upper() + message[1:] + ("" if message.endswith(".") else ".")
