"""
What a packet issue freezes beside the revision: everything the vehicle's build recorded of itself, in one canonical text.

The bytes of a packet follow from this text, from the text of the revision it names, from the photos it names by their
hashes, and from the renderer. Nothing else may be asked while rendering.

The address in the QR code stands here in the clear, because a printed code can be read by anyone who holds the vehicle;
the database itself keeps only the hash of its token. Revoking the vehicle link closes a printed code for good.
"""

import json
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from builds.documents.plain_values import PlainValueFault, plain_of, value_of
from builds.engineering.assessment import Assessment
from builds.engineering.explaining.printed import PrintedWorking

__all__ = [
    "AuthorisationPart",
    "CheckInPart",
    "GearPart",
    "IssuePart",
    "LoadedFilePart",
    "OverridePart",
    "PacketInput",
    "PenetrationPart",
    "PhotoPart",
    "RemovedPart",
    "RevisionPart",
    "SerialPart",
    "ShopPart",
    "SignaturePart",
    "SplicePart",
    "StepPart",
    "TickPart",
    "packet_input_text",
    "read_packet_input",
]

FORMAT = "baywright packet input"
SCHEMA_NUMBER = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopPart:
    """The shop as it was at issue."""

    name: str
    address: str
    telephone: str
    time_zone: str
    currency: str
    invented: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class IssuePart:
    """Which issue this is, who made it and when, and the address behind the QR code."""

    number: int
    issued_at: datetime
    issued_by: str
    vehicle_address: str
    corrects: int | None
    promised_on: date | None
    contact: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AuthorisationPart:
    """Who allowed a revision, how and when."""

    kind: str
    authorised_by: str
    reference: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionPart:
    """One revision of the build up to the one that was built."""

    letter: str
    document_sha256: str
    summary: str
    released_at: datetime
    released_by: str
    price_total: Decimal
    authorisations: tuple[AuthorisationPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckInPart:
    """The vehicle came in or went out."""

    direction: str
    odometer_km: Decimal
    fuel_ratio: Decimal
    warning_lamps: str
    damage: str
    plate: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialPart:
    """The serial of one device, and the one that took its place."""

    part: str
    serial: str
    note: str
    replaced_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedFilePart:
    """What a programmable device holds: the file with its hash, who loaded it, who read it back and when, if anybody did."""

    serial: str
    device: str
    file_name: str
    file_sha256: str
    file_version: str
    firmware: str
    loaded_by: str
    loaded_at: datetime
    schedule_sha256: str
    read_back_by: str
    read_back_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GearPart:
    """Gear that the customer brought."""

    description: str
    due_on: date | None
    received_at: datetime | None
    condition: str
    photo_sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovedPart:
    """A factory part taken off."""

    description: str
    kept_at: str
    disposition: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SplicePart:
    """A joint in a wire."""

    circuit: str
    place: str
    method: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PenetrationPart:
    """A hole in the body and what seals it."""

    label: str
    place: str
    diameter_mm: Decimal
    sealed_with: str
    photo_sha256: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TickPart:
    """A result someone gave a step."""

    result: str
    reading: Decimal | None
    reading_at_v: Decimal | None
    instrument: str
    remark: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SignaturePart:
    """A hold point signed or sent back, and on what basis that person could sign."""

    passed: bool
    basis: str
    remark: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPart:
    """A step of the checklist with everything recorded on it, oldest first."""

    key: str
    phase: str
    place: str
    title: str
    subject: str
    is_hold_point: bool
    covers: tuple[str, ...]
    result: str
    reading_name: str
    reading_unit: str
    reading_min: Decimal | None
    reading_max: Decimal | None
    reading_calculated: Decimal | None
    reading_decimals: int
    ticks: tuple[TickPart, ...]
    signatures: tuple[SignaturePart, ...]
    reading_lost_max_v: Decimal | None = None
    left_open: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverridePart:
    """A blocking finding someone went on in spite of, with the reason they gave."""

    finding_id: str
    subject: str
    message: str
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPart:
    """A photo of the build by the hash of its content."""

    sha256: str
    kind: str
    caption: str
    step: str
    width_px: int
    height_px: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PacketInput:
    """
    Everything an issue froze; the last of ``revisions`` is the one that was built.

    ``changed`` names what differs from the revision before it, as "circuit:203".
    """

    shop: ShopPart
    issue: IssuePart
    revisions: tuple[RevisionPart, ...]
    check_ins: tuple[CheckInPart, ...]
    serials: tuple[SerialPart, ...]
    gear: tuple[GearPart, ...]
    removed: tuple[RemovedPart, ...]
    splices: tuple[SplicePart, ...]
    penetrations: tuple[PenetrationPart, ...]
    steps: tuple[StepPart, ...]
    overrides: tuple[OverridePart, ...]
    photos: tuple[PhotoPart, ...]
    changed: tuple[str, ...]
    assessment: Assessment
    workings: tuple[PrintedWorking, ...] = ()  # how figures came about, where the issue asked for it
    loaded_files: tuple[LoadedFilePart, ...] = ()  # the latest loading of each programmable device

    @property
    def revision(self) -> RevisionPart:
        """The revision that was built."""
        return self.revisions[-1]


def packet_input_text(values: dict[str, Any]) -> str:
    """
    Return the canonical text of plain values shaped like :class:`PacketInput`.

    Raises
    ------
    PlainValueFault
        If the values are not such an input: nothing is frozen that could not be read back.
    """
    frozen = value_of(PacketInput, plain_of_mapping(values))
    plain = plain_of(frozen)
    for name in ("workings", "loaded_files"):
        if not plain[name]:
            del plain[name]  # an issue without them freezes the text it always did
    document = {"format": FORMAT, "schema": SCHEMA_NUMBER, "input": plain}
    return json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def plain_of_mapping(values: dict[str, Any]) -> dict[str, Any]:
    """Return nested dictionaries and lists with every leaf made plain."""
    return {key: _plain(value) for key, value in values.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return plain_of_mapping(value)
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return plain_of(value)


def read_packet_input(text: str) -> PacketInput:
    """Return a frozen input. Raises PlainValueFault if the text is none of this form."""
    document = json.loads(text)
    if document.get("format") != FORMAT or document.get("schema") != SCHEMA_NUMBER:
        raise PlainValueFault("/format", f"{FORMAT}, schema {SCHEMA_NUMBER}", document.get("format"))
    return value_of(PacketInput, document["input"])
