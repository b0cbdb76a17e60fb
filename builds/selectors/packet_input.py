"""
What a build recorded of itself, as plain values for a packet issue: rows read once, in a fixed number of queries.

The shape is that of the packet's frozen input; the service that issues a packet checks it against that form.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from builds.models import Build, ChecklistStep, LoadedFile, Person, Revision, SerialNumber, Shop
from builds.selectors.loaded_files import newest_loadings
from builds.selectors.open_steps import named_open, open_item_words

__all__ = ["RecordedValues", "recorded_values", "shop_values"]

RecordedValues = dict[str, Any]


def recorded_values(build: Build, *, up_to: Revision) -> RecordedValues:
    """Return everything recorded of a build that its packet prints; revisions up to ``up_to``."""
    named = named_open(build)
    return {
        "revisions": [_revision(row) for row in _revisions(build, up_to)],
        "check_ins": [_check_in(row) for row in build.check_ins.select_related("by")],
        "serials": [_serial(row) for row in build.serials.select_related("part_line", "replaced_by")],
        "loaded_files": [_loading(row) for row in newest_loadings(build)],
        "gear": [_gear(row) for row in build.gear.select_related("photo__file")],
        "removed": [
            {"description": row.description, "kept_at": row.kept_at, "disposition": row.disposition}
            for row in build.removed_parts.all()
        ],
        "splices": [
            {"circuit": row.circuit_number, "place": row.place, "method": row.method, "by": str(row.by), "at": row.at}
            for row in build.splices.select_related("by")
        ],
        "penetrations": [_penetration(row) for row in build.penetrations.select_related("photo__file", "by")],
        "steps": [_step(row, named) for row in _steps(build)],
        "overrides": [
            _of(row, ("finding_id", "subject", "message", "reason", "at"), by=row.by)
            for row in build.overrides.select_related("by")
        ],
        "photos": [_photo(row) for row in build.photos.select_related("file", "step")],
    }


def shop_values(shop: Shop) -> RecordedValues:
    """Return the shop as it stands on a packet."""
    return _of(shop, ("name", "address", "telephone", "time_zone", "currency", "invented"))


def _of(row: Any, names: Iterable[str], *, by: Person | None = None) -> RecordedValues:
    values: RecordedValues = {name: getattr(row, name) for name in names}
    return values | {"by": str(by)} if by is not None else values


def _revisions(build: Build, up_to: Revision) -> Iterable[Revision]:
    rows = build.revisions.filter(sequence__lte=up_to.sequence).order_by("sequence")
    return rows.select_related("released_by").prefetch_related("authorisations")


def _revision(row: Revision) -> RecordedValues:
    return {
        "letter": row.letter,
        "document_sha256": row.document_id,
        "summary": row.summary,
        "released_at": row.released_at,
        "released_by": str(row.released_by),
        "price_total": row.price_total,
        "authorisations": [
            {
                "kind": item.get_kind_display(),
                "authorised_by": item.authorised_by,
                "reference": item.reference,
                "at": item.authorised_at,
            }
            for item in row.authorisations.all()
        ],
    }


def _check_in(row: Any) -> RecordedValues:
    names = ("direction", "odometer_km", "fuel_ratio", "warning_lamps", "damage", "plate", "at")
    return _of(row, names, by=row.by)


def _loading(row: LoadedFile) -> RecordedValues:
    fields = ("file_name", "file_sha256", "file_version", "firmware", "loaded_at", "schedule_sha256", "read_back_at")
    return {
        **{name: getattr(row, name) for name in fields},
        "serial": row.serial.serial,
        "device": row.serial.part_line.description,
        "loaded_by": str(row.loaded_by),
        "read_back_by": str(row.read_back_by) if row.read_back_by else "",
    }


def _serial(row: SerialNumber) -> RecordedValues:
    return {
        "part": row.part_line.key,
        "serial": row.serial,
        "note": row.note,
        "replaced_by": row.replaced_by.serial if row.replaced_by else "",
    }


def _photo_hash(row: Any) -> str:
    return row.photo.file.sha256 if row.photo else ""


def _gear(row: Any) -> RecordedValues:
    return _of(row, ("description", "due_on", "received_at", "condition")) | {"photo_sha256": _photo_hash(row)}


def _penetration(row: Any) -> RecordedValues:
    return _of(row, ("label", "place", "diameter_mm", "sealed_with", "at"), by=row.by) | {
        "photo_sha256": _photo_hash(row)
    }


def _steps(build: Build) -> Iterable[ChecklistStep]:
    return build.steps.filter(retired=False).prefetch_related("ticks__by", "signatures__by", "covers")


def _step(row: ChecklistStep, named: Mapping[str, Any]) -> RecordedValues:
    names = ("key", "phase", "place", "title", "subject", "is_hold_point", "result", "reading_name", "reading_unit",
             "reading_min", "reading_max", "reading_lost_max_v", "reading_calculated", "reading_decimals")  # fmt: skip
    return _of(row, names) | {
        "covers": sorted(step.key for step in row.covers.all()),
        "left_open": open_item_words(named[row.key]) if row.key in named else "",
        "ticks": [_tick(tick) for tick in row.ticks.all()],
        "signatures": [_of(item, ("passed", "basis", "remark", "at"), by=item.by) for item in row.signatures.all()],
    }


def _tick(row: Any) -> RecordedValues:
    return _of(row, ("result", "reading", "reading_at_v", "instrument", "remark", "at"), by=row.by)


def _photo(row: Any) -> RecordedValues:
    return _of(row, ("kind", "caption", "width_px", "height_px", "at")) | {
        "sha256": row.file.sha256,
        "step": row.step.title if row.step else "",
    }
