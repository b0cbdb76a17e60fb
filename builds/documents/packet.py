"""
The delivery packet: a frozen input in, a PDF out.

Made as PDF/A-3u, tagged, with bookmarks; no validator is at hand, so its structure is checked in tests and no more is
claimed. Bytes are a function of the frozen input and of the renderer (see ``fingerprint``). One process renders one
packet at a time: the garbage collector is frozen and off meanwhile, which a layout tree of a million small objects that
all stay alive until the end gains a third from.
"""

import gc
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path

from django.template.loader import render_to_string

from builds.documents.circuit_csv import circuit_csv
from builds.documents.packet_context import PacketContext
from builds.documents.packet_input import PacketInput
from builds.documents.progress import PageProgress, counted_pages, no_fault_passed_over, told_progress
from builds.documents.sections.built import built_of
from builds.documents.sections.changes import changes_of
from builds.documents.sections.closing import closing_of
from builds.documents.sections.cover import cover_of, open_items
from builds.documents.sections.inspection import inspection_of
from builds.documents.sections.loads import loads_of
from builds.documents.sections.panels import one_line_of, panels_of, wire_codes
from builds.documents.sections.registers import registers_of
from builds.documents.sections.use import switching_of, use_of
from builds.drawings.fuses import BODIES
from builds.drawings.palette import PRINT
from builds.drawings.vehicle_plan import draw_vehicle_plan
from builds.drawings.wires import DRAWN
from builds.engineering.design import Design

__all__ = ["PDF_OPTIONS", "FrozenPacket", "packet_html", "render_packet_pdf"]

PDF_OPTIONS: dict[str, object] = {"pdf_variant": "pdf/a-3u", "pdf_tags": True}

# Beyond Latin-1, what the text faces have of themselves and what lies in the small cut of symbols.
_LATIN_1_END = 0xFF
_SMALL_CUT = frozenset("ıŒœʼˆ˚˜–—‘’‚“”„•…‹›€™−ΔΩ₀₁₂₃₄₅₆₇₈₉Ω←↑→↓√∞∠≈≠≡≤≥⌀△☐☑☒✓✗")
_HANDED_OVER = (
    "Every control and every light, by name, at the vehicle",
    "Main disconnect: where it is, what stays live",
    "Spare fuses: one of each figure",
    "Makers' manuals and warranty papers",
    "Keys, counted",
    "Parts taken off, as section 2 says",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    number: int
    name: str


_CONTENTS = tuple(
    _Entry(number=number, name=name)
    for number, name in enumerate(
        (
            "Acceptance and signature",
            "What was built, with serials",
            "Supplied by the buyer",
            "How to use it",
            "Main disconnect, jump start, storage",
            "One-line diagram",
            "Panel maps and circuits",
            "Splices and body holes",
            "Load and weight, calculated and measured",
            "Readings and inspection",
            "Changes and who authorised them",
            "Warranty, cautions, label index",
        ),
        start=1,
    )
)


_WORKINGS = _Entry(number=len(_CONTENTS) + 1, name="How figures came about")


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenPacket:
    """All that a packet is made from: the input with its hash, the design of its revision with the text it was frozen as."""

    input: PacketInput
    input_sha256: str
    design: Design
    design_text: str


def render_packet_pdf(
    packet: FrozenPacket,
    *,
    find_static: Callable[[str], Path | None],
    read_media: Mapping[str, Callable[[], bytes]],
    tell: Callable[[PageProgress], None] = lambda progress: None,
) -> bytes:
    """
    Return the packet as PDF.

    Parameters
    ----------
    packet : FrozenPacket
        What was frozen at issue.
    find_static : callable
        Gives the path of a static file of the project by its name, or None.
    read_media : mapping
        What reads the bytes of each photo, by SHA-256.
    tell : callable
        Is told every page, laid out and then written; raising RenderCancelled in it ends the render.

    Raises
    ------
    RefusedAddress
        If the packet asks for anything that is not its own, or a photo cannot be read.
    RenderCancelled
        If ``tell`` raised it.
    RenderFault
        If the renderer could not draw something and went on without it.
    """
    # not at the top: without pango on the machine this import fails, and pages must still come up
    from weasyprint import HTML  # noqa: PLC0415

    from builds.documents.fetcher import BASE_ADDRESS, PacketFetcher  # noqa: PLC0415
    from builds.documents.finisher import list_attachments_once  # noqa: PLC0415

    context = PacketContext(input=packet.input, design=packet.design)
    fetcher = PacketFetcher(find_static=find_static, read_media=read_media)
    with _quiet_collector(), no_fault_passed_over(), told_progress(tell):
        html = HTML(string=packet_html(packet, context), base_url=BASE_ADDRESS, url_fetcher=fetcher)
        document = html.render(**PDF_OPTIONS)
        document.pages = counted_pages(document.pages, tell)
        pdf: bytes = document.write_pdf(
            finisher=list_attachments_once, attachments=packet_attachments(packet, context), **PDF_OPTIONS
        )
        if fetcher.refused:
            raise fetcher.refused[0]
    return pdf


def packet_html(packet: FrozenPacket, context: PacketContext | None = None) -> str:
    """Return the packet as the HTML that is laid out."""
    context = context or PacketContext(input=packet.input, design=packet.design)
    values = _template_values(packet, context)
    html = render_to_string("builds/documents/packet.html", values)
    if _needs_extended_faces(html):
        html = render_to_string("builds/documents/packet.html", values | {"extended": True})
    return html


def _needs_extended_faces(html: str) -> bool:
    """Whether a character stands in it that neither the two faces nor the small cut of symbols has."""
    return any(ord(char) > _LATIN_1_END and char not in _SMALL_CUT for char in set(html))


def _template_values(packet: FrozenPacket, context: PacketContext) -> dict[str, object]:
    issued_at = packet.input.issue.issued_at
    return {
        "context": context,
        "as_built_sha256": packet.input_sha256,
        "contents": _CONTENTS + ((_WORKINGS,) if packet.input.workings else ()),
        "issued_utc": issued_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "issued_words": context.quantities.moment(issued_at),
        "paper": "A4" if context.quantities.metric else "Letter",
        "colour_rules": _colour_rules(context),
        "length_unit": context.quantities.length_unit,
        "cover": cover_of(context),
        "all_open": open_items(context),
        "handed_over": _HANDED_OVER,
        "built": built_of(context),
        "use": use_of(context),
        "switching": switching_of(context),
        "one_line": one_line_of(context),
        "vehicle_plan": draw_vehicle_plan(context.design, context.assessment, palette=PRINT),
        "panels": panels_of(context),
        "registers": registers_of(context),
        "loads": loads_of(context),
        "inspection": inspection_of(context),
        "changes": changes_of(context),
        "closing": closing_of(context),
    }


def packet_attachments(packet: FrozenPacket, context: PacketContext | None = None) -> list[object]:
    """Return the two files that ride inside, dated by the issue: the renderer would stamp its own clock on them."""
    from weasyprint import Attachment  # noqa: PLC0415  as above

    context = context or PacketContext(input=packet.input, design=packet.design)
    at = packet.input.issue.issued_at.astimezone(UTC)
    number = "".join(char if char.isalnum() or char in "-_." else "-" for char in packet.design.number)
    return [
        Attachment(
            string=packet.design_text.encode(), name=f"build-{number}.json", description="The build document of this revision",
            created=at, modified=at, relationship="Source",
        ),
        Attachment(
            string=circuit_csv(context).encode(), name=f"circuits-{number}.csv", description="The circuit schedule",
            created=at, modified=at, relationship="Data",
        ),
    ]  # fmt: skip


def _colour_rules(context: PacketContext) -> str:
    """Style rules for the fuse bodies and for each wire colour that is used."""
    rules = [f".chip-{name} {{ background: {value}; }}" for name, value in sorted(BODIES.items())]
    rules.append(".chip-black { color: #ffffff; }")
    for code in wire_codes(context):
        letters = code.split("/")
        base = DRAWN[letters[0]]
        if len(letters) == 1:
            rules.append(f".swatch-{code} {{ background: {base}; }}")
        else:
            stripe = DRAWN[letters[1]]
            stops = f"{base} 34%, {stripe} 34%, {stripe} 67%, {base} 67%"
            rules.append(f".swatch-{''.join(letters)} {{ background: linear-gradient({stops}); }}")
    return "\n".join(rules)


@contextmanager
def _quiet_collector() -> Iterator[None]:
    """Freeze the collector while a packet is rendered, and leave it as it was found."""
    was_on = gc.isenabled()
    gc.collect()
    gc.freeze()
    gc.disable()
    try:
        yield
    finally:
        gc.unfreeze()
        if was_on:
            gc.enable()
