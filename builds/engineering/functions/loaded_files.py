"""What is loaded into programmable devices, set against the schedule it was written from."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.errors import OutOfRange
from builds.engineering.findings import Finding
from builds.engineering.functions.catalogue import found
from builds.engineering.functions.form import schedule_digest
from builds.engineering.functions.schedule import FunctionSchedule

__all__ = ["LoadedFile", "check_files"]

_DIGEST_LENGTH = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedFile:
    """
    One loading of one serial: the file with its hash and version, the firmware, who loaded it and who read it back.

    ``schedule_sha256`` is the digest of the schedule the file was written from.
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
