"""Which stored file an address means, and what it belongs to: nothing else is ever served."""

from dataclasses import dataclass

from builds.models import PacketIssue, Photo, StoredFile

__all__ = ["ServedFile", "find_file"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ServedFile:
    """A stored file with what people call it; ``is_packet`` says which right it takes to read it."""

    file: StoredFile
    name: str
    is_packet: bool


def find_file(sha256: str) -> ServedFile | None:
    """Return the file of this hash with the name it is saved under; nothing if no photo and no packet has it."""
    packet = PacketIssue.objects.filter(file__sha256=sha256).select_related("file", "build").first()
    if packet is not None and packet.file is not None:
        return ServedFile(file=packet.file, name=f"{packet.build.number}-packet-{packet.number}.pdf", is_packet=True)
    photo = Photo.objects.filter(file__sha256=sha256).select_related("file", "build").first()
    if photo is not None:
        return ServedFile(file=photo.file, name=f"{photo.build.number}-photo-{photo.pk}.jpg", is_packet=False)
    return None
