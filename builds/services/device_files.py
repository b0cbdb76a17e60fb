"""
What is loaded into programmable devices: the file with its hash and version, the firmware, who loaded it, who read it back.

Each loading names the digest of the function schedule that its file was written from; a later change of the schedule makes
it older than the schedule, which is a finding. A loading raises the build's ``design_version``, since it moves findings.
"""

import re
from datetime import datetime

from django.db import transaction
from django.db.models import F

from builds.engineering.functions.form import schedule_digest
from builds.engineering.functions.reports import report_of
from builds.errors import BadInput, GuardRefused, Taken
from builds.models import Build, FunctionSchedule, LoadedFile, Person, SerialNumber
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.assessments import assess_build

__all__ = ["record_loading", "record_read_back"]

_HASH = re.compile(r"[0-9a-f]{64}")
_MOST_LETTERS = {"file_name": 120, "file_version": 40, "firmware": 40}
_ASK = {
    "file_name": "Write the name of the file.",
    "file_version": "Write the version that the file itself states.",
    "firmware": "Write the firmware that the device states.",
}


def record_loading(
    *,
    serial: SerialNumber,
    file_name: str,
    file_sha256: str,
    file_version: str,
    firmware: str,
    by: Person,
    at: datetime,
) -> LoadedFile:
    """
    Write down that a file was loaded into a device, written from the schedule as it stands.

    A file of the same hash that this build has already is the same file, so it stays written from the schedule of its first
    loading.

    Raises
    ------
    BadInput
        If something is missing, too long, or the hash is none.
    GuardRefused
        If the build has no function schedule, or the device was swapped.
    """
    check_may(by, Action.WRITE_REGISTER)
    texts = {"file_name": file_name.strip(), "file_version": file_version.strip(), "firmware": firmware.strip()}
    sha256 = re.sub(r"[\s:]", "", file_sha256).lower()
    faults = {name: _ASK[name] for name, text in texts.items() if not text}
    faults |= {
        name: f"Keep this to {_MOST_LETTERS[name]} letters."
        for name, text in texts.items()
        if len(text) > _MOST_LETTERS[name]
    }
    if not _HASH.fullmatch(sha256):
        faults["file_sha256"] = "Write the SHA-256 of the file: 64 digits of 0 to 9 and a to f."
    if faults:
        raise BadInput(faults)
    with transaction.atomic():
        act_as(by)
        build = Build.objects.select_for_update(of=("self",)).get(pk=serial.build_id)
        if serial.replaced_by_id is not None:
            raise GuardRefused(f"Device {serial.serial} was swapped.", missing=("in-vehicle",))
        loaded = LoadedFile.objects.create(
            serial=serial,
            file_sha256=sha256,
            schedule_sha256=_written_from(build, sha256),
            loaded_by=by,
            loaded_at=at,
            **texts,
        )
        _count(build)
    return loaded


def record_read_back(*, loading: LoadedFile, file_sha256: str, by: Person, at: datetime) -> LoadedFile:
    """Write down that a device was read back and holds the file. Raises BadInput where the hash differs, Taken if done."""
    check_may(by, Action.WRITE_REGISTER)
    sha256 = re.sub(r"[\s:]", "", file_sha256).lower()
    if sha256 != loading.file_sha256:
        raise BadInput(
            {"file_sha256": "The device holds another file than was loaded. Load it again, then read it back."}
        )
    with transaction.atomic():
        act_as(by)
        build = Build.objects.select_for_update(of=("self",)).get(pk=loading.serial.build_id)
        changed = LoadedFile.objects.filter(pk=loading.pk, read_back_by__isnull=True).update(
            read_back_by=by, read_back_at=at, row_version=F("row_version") + 1
        )
        if not changed:
            raise Taken("This loading was read back already.")
        _count(build)
    loading.refresh_from_db()
    return loading


def _written_from(build: Build, file_sha256: str) -> str:
    """Return the digest of the schedule that a file was written from."""
    now = _digest(build)
    earlier = LoadedFile.objects.filter(serial__build=build, file_sha256=file_sha256).order_by("loaded_at", "pk")
    return earlier.values_list("schedule_sha256", flat=True).first() or now


def _digest(build: Build) -> str:
    text = FunctionSchedule.objects.filter(build=build).values_list("text", flat=True).first() or ""
    compiled = report_of(text).compiled
    if not text or compiled is None:
        raise GuardRefused(
            "This build has no function schedule that a file could be written from.", missing=("schedule",)
        )
    return schedule_digest(compiled.schedule)


def _count(build: Build) -> None:
    Build.objects.filter(pk=build.pk).update(design_version=F("design_version") + 1)
    assess_build(Build.objects.get(pk=build.pk))
