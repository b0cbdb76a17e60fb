"""One packet rendered for all tests of this folder, read back with libraries that did not write it."""

import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest
from django.contrib.staticfiles import finders
from PIL import Image

from builds.documents.packet import FrozenPacket, render_packet_pdf
from builds.documents.packet_input import PhotoPart, packet_input_text
from builds.documents.plain_values import plain_of
from builds.engineering.design import Design
from builds.engineering.document import canonical_text, content_sha256
from tests.factories.builds import AT
from tests.factories.designs import small_design
from tests.factories.packets import sample_packet_input


def find_static(name: str) -> Path | None:
    """The project's static files."""
    found = finders.find(name)
    return Path(found) if isinstance(found, str) else None


@cache
def photo() -> bytes:
    """A small picture."""
    out = io.BytesIO()
    Image.new("RGB", (64, 48), "#3f7fd0").save(out, "JPEG")
    return out.getvalue()


def frozen_packet(design: Design, *, with_photo: bool = True, issue: int = 1) -> FrozenPacket:
    """A packet of a design with a photo or without."""
    sha256 = hashlib.sha256(photo()).hexdigest()
    photos = (
        PhotoPart(sha256=sha256, kind="penetration", caption="Grommet", step="", width_px=64, height_px=48, at=AT),
    ) if with_photo else ()  # fmt: skip
    packet_input = sample_packet_input(design, photos=photos, issue=issue)
    return FrozenPacket(
        input=packet_input, input_sha256=content_sha256(packet_input_text(plain_of(packet_input))), design=design,
        design_text=canonical_text(design),
    )  # fmt: skip


def rendered(packet: FrozenPacket) -> bytes:
    """The packet as PDF."""
    return render_packet_pdf(
        packet, find_static=find_static, read_media={item.sha256: photo for item in packet.input.photos}
    )


@dataclass(frozen=True)
class ReadPacket:
    """A packet and what other libraries read in it."""

    frozen: FrozenPacket
    content: bytes
    pdf: pikepdf.Pdf
    pages: tuple[str, ...]

    @property
    def text(self) -> str:
        """The text of all pages."""
        return "\n".join(self.pages)

    def section(self, number: int) -> str:
        """The text of the pages whose head is a section's number."""
        return "\n".join(page for page in self.pages if page.lstrip().startswith(f"{number} "))


@pytest.fixture(scope="session")
def packet() -> Iterator[ReadPacket]:
    """The small truck's packet."""
    frozen = frozen_packet(small_design())
    content = rendered(frozen)
    document = pypdfium2.PdfDocument(content)
    pages = tuple(page_text(document, index) for index in range(len(document)))
    document.close()
    with pikepdf.open(io.BytesIO(content)) as pdf:
        yield ReadPacket(frozen=frozen, content=content, pdf=pdf, pages=pages)


def page_text(document: pypdfium2.PdfDocument, index: int) -> str:
    """The text of one page as it would be copied."""
    page = document[index]
    text_page = page.get_textpage()
    text = str(text_page.get_text_bounded()).replace("\r\n", "\n")
    text_page.close()
    page.close()
    return text
