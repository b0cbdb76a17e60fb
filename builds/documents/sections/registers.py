"""Splices, body holes and the photos that show them."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.documents.packet_context import PacketContext

__all__ = ["HoleLine", "PhotoFigure", "Registers", "SpliceLine", "registers_of"]

_KINDS = {
    "step": "At the step",
    "damage": "Damage",
    "penetration": "Body hole",
    "gear": "Customer's gear",
    "check_in": "At check-in",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpliceLine:
    """A splice."""

    circuit: str
    place: str
    method: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleLine:
    """A body hole."""

    label: str
    place: str
    diameter: str
    sealed_with: str
    who: str
    has_photo: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFigure:
    """A photo by its address for the renderer."""

    address: str
    caption: str
    day: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Registers:
    """Section 8; ``photos`` are those of holes, ``other_photos`` stand with the inspection record in section 10."""

    splices: tuple[SpliceLine, ...]
    holes: tuple[HoleLine, ...]
    photos: tuple[PhotoFigure, ...]
    other_photos: tuple[PhotoFigure, ...] = ()


def registers_of(context: PacketContext) -> Registers:
    """Return what was spliced and drilled."""
    units = context.quantities
    return Registers(
        splices=tuple(
            SpliceLine(
                circuit=item.circuit, place=item.place, method=item.method, who=f"{item.by}, {units.day(item.at)}"
            )
            for item in context.input.splices
        ),
        holes=tuple(
            HoleLine(
                label=item.label,
                place=item.place,
                diameter=units.diameter(item.diameter_mm),
                sealed_with=item.sealed_with,
                who=f"{item.by}, {units.day(item.at)}",
                has_photo=bool(item.photo_sha256),
            )
            for item in context.input.penetrations
        ),
        photos=tuple(_photos(context, of_holes=True)),
        other_photos=tuple(_photos(context, of_holes=False)),
    )


def _photos(context: PacketContext, *, of_holes: bool) -> Iterator[PhotoFigure]:
    holes = {item.photo_sha256 for item in context.input.penetrations if item.photo_sha256}
    for photo in context.input.photos:
        if (photo.kind == "penetration" or photo.sha256 in holes) is of_holes:
            yield PhotoFigure(
                address=f"/media/{photo.sha256}",
                caption=_caption(context, photo.sha256, photo.caption or photo.step, photo.kind),
                day=context.quantities.day(photo.at),
            )


def _caption(context: PacketContext, sha256: str, caption: str, kind: str) -> str:
    holes = [item.label for item in context.input.penetrations if item.photo_sha256 == sha256]
    subject = f"Hole {holes[0]}" if holes else _KINDS.get(kind, kind)
    return f"{subject}: {caption}" if caption else subject
