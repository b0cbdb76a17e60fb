"""What is loaded into programmable devices, set against the schedule it was written from."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.design import PartsBillLine
from builds.engineering.errors import OutOfRange
from builds.engineering.findings import Finding, Number
from builds.engineering.functions.catalogue import found
from builds.engineering.functions.form import schedule_digest
from builds.engineering.functions.schedule import FunctionSchedule

__all__ = ["LoadedFile", "check_files", "check_unloaded"]

_DIGEST_LENGTH = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedFile:
    """
    One loading of one serial: the file with its hash and version, the firmware, who loaded it and who read it back.

    ``schedule_sha256`` is the digest of the schedule the file was written from, ``part_line`` the key of the device's line
    in the parts bill.
    """

    serial: str
    device: str
    file_name: str
    file_sha256: str
    file_version: str
    firmware: str
    loaded_by: str
    loaded_at: str
    schedule_sha256: str
    part_line: str = ""
    read_back_by: str = ""
    read_back_at: str = ""

    def __post_init__(self) -> None:
        if not self.serial.strip():
            raise OutOfRange("serial", self.serial, "what stands on the device")
        for name in ("file_sha256", "schedule_sha256"):
            if len(getattr(self, name)) != _DIGEST_LENGTH:
                raise OutOfRange(name, getattr(self, name), "a SHA-256 of 64 hexadecimal digits")


def check_files(schedule: FunctionSchedule, files: Iterable[LoadedFile]) -> Iterator[Finding]:
    """
    Yield devices whose file is of another schedule, or was not read back.

    Parameters
    ----------
    schedule : FunctionSchedule
        As it stands now.
    files : iterable of LoadedFile
        The latest loading of each serial.
    """
    loaded = tuple(files)
    digest = schedule_digest(schedule) if loaded else ""
    for one in loaded:
        device, file = f"{one.device} {one.serial}", f"{one.file_name} {one.file_version}".strip()
        if one.schedule_sha256 != digest:
            yield found("file-older-than-schedule", f"file:{one.serial}", device=device, file=file)
        if not one.read_back_by:
            yield found("file-not-read-back", f"file:{one.serial}", device=device, file=file)


def check_unloaded(parts: Iterable[PartsBillLine], files: Iterable[LoadedFile]) -> Iterator[Finding]:
    """
    Yield programmable devices of a parts bill into which nothing was loaded.

    Parameters
    ----------
    parts : iterable of PartsBillLine
        The parts bill; what is taken off the vehicle is left out.
    files : iterable of LoadedFile
        The latest loading of each serial.
    """
    programmable = [line for line in parts if line.programmable and not line.removed]
    serials: dict[str, set[str]] = {}
    for one in files if programmable else ():
        serials.setdefault(one.part_line, set()).add(one.serial)
    for line in programmable:
        device, asked = line.description or line.part_number, math.ceil(line.quantity)
        missing = asked - len(serials.get(line.key, ()))
        if missing > 0:
            numbers = (Number(name="missing", value=missing, unit=""), Number(name="asked", value=asked, unit=""))
            which = device if asked == 1 else f"{missing} of {asked} {device}"
            yield found(
                "file-not-loaded",
                f"part:{line.key}",
                numbers=numbers,
                device=which,
                has="has" if missing == 1 else "have",
            )
