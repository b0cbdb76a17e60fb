"""
Photos: looked at by content, turned upright, stripped of what the camera wrote into them, and kept small.

A photo tells where and with what it was taken, often to the metre; none of that leaves the phone's file. What is stored
is always a JPEG that this module wrote itself.
"""

import io
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from builds.errors import BadInput, Taken
from builds.models import Build, ChecklistStep, Person, Photo
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.stored_files import store_bytes

__all__ = [
    "LARGEST_BYTES",
    "LARGEST_PIXELS",
    "LONGEST_SIDE_PX",
    "NewPhoto",
    "PreparedPhoto",
    "add_photo",
    "prepare_photo",
]

LARGEST_BYTES = 15 * 1024 * 1024
LARGEST_PIXELS = 40_000_000  # more than any phone takes; a small file can still claim a huge picture
LONGEST_SIDE_PX = 2048
_QUALITY = 85
# MPO is a JPEG with a second picture behind it, which many phones write; the first picture is the photo.
_READ_AS = ("JPEG", "PNG", "WEBP")
_FORMATS = frozenset({*_READ_AS, "MPO"})


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedPhoto:
    """A photo as it is stored: JPEG bytes and its size."""

    content: bytes
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPhoto:
    """A photo that comes with something else: the bytes that were sent, and the id its device gave it."""

    content: bytes
    event_id: UUID


def prepare_photo(content: bytes) -> PreparedPhoto:
    """
    Return the photo as it may be stored.

    Parameters
    ----------
    content : bytes
        A JPEG, PNG or WebP file of at most 15 MB and 40 million pixels, whatever its name says.

    Raises
    ------
    BadInput
        At ``photo``: no file, too large, of another kind, or damaged.
    """
    if not content:
        raise BadInput({"photo": "The file is empty. Take the photo again."})
    if len(content) > LARGEST_BYTES:
        raise BadInput({"photo": f"The photo is over {LARGEST_BYTES // (1024 * 1024)} MB. Take it at a smaller size."})
    try:
        return _prepared(content)
    except UnidentifiedImageError as error:
        raise BadInput({"photo": "This is not a photo. Send a JPEG, PNG or WebP file."}) from error
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many_pixels() from error
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        raise BadInput({"photo": "The photo is damaged and cannot be read. Take it again."}) from error


def _prepared(content: bytes) -> PreparedPhoto:
    with Image.open(io.BytesIO(content), formats=_READ_AS) as looked_at:
        if looked_at.format not in _FORMATS:
            raise UnidentifiedImageError
        if looked_at.width * looked_at.height > LARGEST_PIXELS:
            raise _too_many_pixels()
        looked_at.verify()  # closes the file: it is opened again to be decoded
    with Image.open(io.BytesIO(content), formats=_READ_AS) as opened:
        # A JPEG decoder can halve while it decodes, which saves most of the memory of a large photo.
        opened.draft("RGB", (2 * LONGEST_SIDE_PX, 2 * LONGEST_SIDE_PX))
        upright = ImageOps.exif_transpose(opened)
        picture = _on_white(upright)
    picture.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), Image.Resampling.LANCZOS)
    written = io.BytesIO()
    picture.save(written, "JPEG", quality=_QUALITY, optimize=True)
    return PreparedPhoto(content=written.getvalue(), width_px=picture.width, height_px=picture.height)


def _on_white(picture: Image.Image) -> Image.Image:
    """Return the bare pixels in RGB: a new image carries no metadata, and what was clear becomes white."""
    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        layered = picture.convert("RGBA")
        bare = Image.new("RGB", layered.size, "white")
        bare.paste(layered, mask=layered.getchannel("A"))
        return bare
    plain = picture.convert("RGB")
    bare = Image.new("RGB", plain.size)
    bare.paste(plain)
    return bare


def _too_many_pixels() -> BadInput:
    return BadInput({"photo": f"The photo has over {LARGEST_PIXELS // 1_000_000} million pixels. Take it smaller."})


def add_photo(
    *,
    build: Build,
    kind: str,
    content: bytes,
    event_id: UUID,
    by: Person,
    at: datetime,
    caption: str = "",
    step: ChecklistStep | None = None,
) -> Photo:
    """
    Keep a photo of a build; the same ``event_id`` sent again gives the photo it gave first.

    Raises
    ------
    BadInput
        If it is not a photo that can be kept, or its step belongs to another build.
    Taken
        If ``event_id`` already stands for another photo.
    """
    check_may(by, Action.ADD_PHOTO)
    fields = _faults(build, kind, caption, step)
    if fields:
        raise BadInput(fields)
    prepared = prepare_photo(content)
    with transaction.atomic():
        act_as(by)
        file = store_bytes(prepared.content, "image/jpeg", at)
        told: dict[str, Any] = {"build": build, "kind": kind, "step": step, "file": file, "by": by}
        try:
            with transaction.atomic():
                return Photo.objects.create(
                    event_id=event_id, caption=caption.strip(), at=at, width_px=prepared.width_px,
                    height_px=prepared.height_px, **told,
                )  # fmt: skip
        except IntegrityError as error:
            return _sent_before(event_id, told, error)


def _faults(build: Build, kind: str, caption: str, step: ChecklistStep | None) -> dict[str, str]:
    faults = {}
    if kind not in Photo.Kind.values:
        faults["kind"] = f"A photo is of one of: {', '.join(Photo.Kind.values)}."
    if len(caption.strip()) > 160:
        faults["caption"] = "Keep the words under the photo to 160 letters."
    if step is not None and step.build_id != build.pk:
        faults["step"] = "This step belongs to another build."
    return faults


def _sent_before(event_id: UUID, told: dict[str, Any], error: IntegrityError) -> Photo:
    before = Photo.objects.select_related("file").filter(event_id=event_id).first()
    if before is None:
        raise error
    if any(getattr(before, name) != value for name, value in told.items()):
        raise Taken("This photo's id already stands for another photo. Nothing was stored twice; take it again.")
    return before
