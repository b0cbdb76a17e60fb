"""The packet as PDF, read back: what it says, how it is built, and that its bytes repeat."""

import csv
import io
import re
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest

from builds.documents.cautions import CAUTIONS
from builds.documents.circuit_csv import circuit_csv
from builds.documents.fingerprint import renderer_fingerprint
from builds.documents.packet import FrozenPacket, packet_html
from builds.documents.packet_context import PacketContext
from builds.documents.sections.inspection import inspection_of
from builds.documents.sections.loads import loads_of
from builds.documents.sections.panels import panels_of
from builds.documents.sections.use import switching_of, use_of
from builds.engineering.design import Conventions, Design, DutyProfile, DutySegment
from builds.engineering.document import canonical_text, read_document
from builds.engineering.explaining import workings_of
from builds.engineering.explaining.printed import printed_working
from builds.engineering.load_readings import calculated_at_a
from builds.engineering.vocabulary import SourceState, UnitSystem
from tests.documents.conftest import ReadPacket, frozen_packet, page_text, rendered
from tests.factories.designs import small_design

CHECKOUT = Path(__file__).resolve().parents[2]
SECTIONS = (
    "Acceptance and signature", "What was built, with serials", "Supplied by the buyer", "How to use it",
    "Main disconnect, jump start, storage", "One-line diagram", "and its circuits", "Splices and body holes",
    "Load and weight", "Readings and inspection", "Changes and who authorised them", "Warranty, cautions, label index",
)  # fmt: skip


# --- what it says ---


def test_cover_names_the_vehicle_and_what_is_open(packet: ReadPacket) -> None:
    cover = packet.pages[0]

    for words in (
        "2614",
        "Saltmarsh Water Rescue",
        "SWR-7",
        "SW-4471",
        "212 mi",
        "33 mA measured, limit 35",
        "Open SW1 main disconnect",
    ):
        assert words in cover, words
    assert "by scale: not measured" in cover
    assert "Open at this issue" in cover
    assert "Delivery packet, issue 1" in cover
    assert "(invented, for demonstration)" in cover


def test_cover_fits_one_page_and_every_section_begins_where_the_contents_say(packet: ReadPacket) -> None:
    said = re.findall(r"^(\d+) (.+?) (\d+)$", packet.pages[0], flags=re.MULTILINE)
    contents = {int(number): int(page) for number, name, page in said if name != "of"}

    assert list(contents) == list(range(1, 13))
    for number, page in contents.items():
        assert SECTIONS[number - 1] in packet.pages[page - 1]
    assert contents[1] == 2


def test_every_page_carries_its_number_and_the_vehicle(packet: ReadPacket) -> None:
    for number, page in enumerate(packet.pages, start=1):
        assert f"{number} of {len(packet.pages)}" in page
        assert "1M8GDM9AXKP042788" in page


def test_a_reading_nobody_took_is_never_a_zero(packet: ReadPacket) -> None:
    weights = packet.section(10)

    assert "Weigh the front axle lb 4,387 at most 5,203 not measured" in weights.replace("\n", " ")
    assert "33 " in weights
    assert "not measured" in packet.section(9)


def test_measured_drop_stands_beside_the_calculated_one(packet: ReadPacket) -> None:
    # 13.12 V at the post less 12.71 V at the load is 0.41 V: 3.4 % of 12 V
    row = next(line for line in packet.section(7).splitlines() if line.startswith("101 FRONT WARNING"))

    assert row.endswith("2.4 3.4")


def test_load_read_without_its_battery_says_so_and_gives_no_drop() -> None:
    frozen = frozen_packet(small_design())
    alone = tuple(
        replace(step, ticks=tuple(replace(tick, reading_at_v=None) for tick in step.ticks))
        if step.key == "volts/101" else step for step in frozen.input.steps
    )  # fmt: skip

    pages = panels_of(PacketContext(input=replace(frozen.input, steps=alone), design=frozen.design), drawn=False)

    line = next(line for page in pages for line in page.circuits if line.number == "101")
    assert (line.measured, line.battery_missing) == ("", True)
    assert any(page.has_battery_missing for page in pages)


def test_a_current_read_is_set_beside_one_calculated_at_its_own_volts() -> None:
    frozen = frozen_packet(small_design())
    read = next(tick for step in frozen.input.steps for tick in step.ticks if tick.reading_at_v is not None)
    condition = max(frozen.input.assessment.conditions, key=lambda item: item.mean_a).key
    tick = replace(read, reading=Decimal("21.5"), reading_at_v=Decimal("13.40"))
    key_off = next(step for step in frozen.input.steps if step.key == "key-off")
    asked = replace(
        key_off,
        key=f"load/{condition}",
        title="Measure the current",
        reading_unit="A",
        reading_decimals=1,
        ticks=(tick,),
    )
    steps = (*frozen.input.steps, asked)
    context = PacketContext(input=replace(frozen.input, steps=steps), design=frozen.design)
    there_a = calculated_at_a(frozen.design, condition, 13.4)
    assert there_a is not None

    line = next(item for item in loads_of(context).conditions if item.there)
    assert line.there == f"{there_a:.1f} calculated at 13.40 V"
    reading = next(item for item in inspection_of(context).readings if item.title == asked.title)
    assert reading.calculated.endswith(f"; {there_a:.1f} at 13.40 V")


def test_standing_with_the_key_off_is_one_figure_in_days_from_one_place() -> None:
    frozen = frozen_packet(small_design())
    context = PacketContext(input=frozen.input, design=frozen.design)
    parked = next(item for item in frozen.design.conditions if item.source_state is SourceState.KEY_OFF)
    energy = frozen.input.assessment.energy
    assert energy.key_off_days is not None

    told = f"{energy.key_off_days:.0f} days"

    assert switching_of(context).days == told
    assert next(item for item in loads_of(context).conditions if item.name == parked.name).lasts == told
    use = next(item for item in use_of(context).conditions if item.name == parked.name)
    assert (use.lasts, use.standby) == ("", f"{energy.key_off_ma:.0f} mA")


def test_customer_s_own_gear_stands_apart(packet: ReadPacket) -> None:
    shop, buyer = (page for page in packet.pages if page.lstrip().startswith("2 ")), "SWR-RADIO"
    own = next(iter(shop)).split("Supplied by the buyer")

    assert buyer not in own[0]
    assert buyer in packet.text.split("Supplied by the buyer", 2)[-1]
    assert "boxed, unused" in packet.text


def test_serials_and_what_replaced_them_are_printed(packet: ReadPacket) -> None:
    assert "RB-88121 (replaced by RB-88140)" in packet.text
    assert "not recorded" in packet.text  # the radio asks for a serial and has none


def test_inspection_record_keeps_the_defect_and_who_corrected_it(packet: ReadPacket) -> None:
    record = packet.section(10).replace("\n", " ")

    assert "Hole H2 not sealed all round; Sealed again" in record
    assert record.count("T. Rook, 8 Dec 2026") >= 4
    assert "passed by I. Crane, 9 Dec 2026, 11:00" in record  # 16:00 UTC on the shop's clock
    assert "an inspector with no tick and no clock entry on what it covers" in record
    assert "not signed" in record


def test_what_stays_live_is_listed(packet: ReadPacket) -> None:
    section = packet.section(5)

    assert "What stays live with it open" in section
    for key in ("ALT", "BAT1", "ISO", "BAT2"):
        assert key in section


def test_every_caution_is_printed_with_whom_it_defers_to(packet: ReadPacket) -> None:
    flat = " ".join(packet.text.split())

    for caution in CAUTIONS:
        assert caution.head in flat
        assert f"Who decides: {caution.decides}." in flat


def test_words_the_tool_may_not_say_are_not_in_it(packet: ReadPacket) -> None:
    found = re.findall(
        r"\b(compliant|certified|legal|optimal|submit|oops|OK|PDF/UA)\b", packet.text, flags=re.IGNORECASE
    )

    assert found == []


def test_label_index_lists_every_legend(packet: ReadPacket) -> None:
    closing = packet.text[packet.text.rindex("Label index") :]

    for circuit in packet.frozen.design.circuits:
        assert circuit.number in closing


def test_changes_and_the_reason_of_an_override_are_printed(packet: ReadPacket) -> None:
    section = " ".join(packet.section(11).split())

    assert "the buyer agreed by letter" in section
    assert "signed by link" in section
    assert "circuit 103 · circuit 205" in section


# --- how it is built ---


def test_it_is_tagged_and_says_its_language_and_title(packet: ReadPacket) -> None:
    root = packet.pdf.Root

    assert "/StructTreeRoot" in root
    assert root.MarkInfo.Marked
    assert str(root.Lang) == "en"
    assert root.ViewerPreferences.DisplayDocTitle
    assert str(packet.pdf.docinfo["/Title"]).startswith("Delivery packet 1, build 2614")


def test_it_is_made_as_pdf_a_3u_and_claims_no_more(packet: ReadPacket) -> None:
    metadata = packet.pdf.Root.Metadata.read_bytes().decode()

    assert re.search(r"pdfaid:part[=>\"']+3", metadata)
    assert re.search(r"pdfaid:conformance[=>\"']+U", metadata)
    assert "pdfuaid" not in metadata


def test_bookmarks_are_the_sections(packet: ReadPacket) -> None:
    with packet.pdf.open_outline() as outline:
        titles = [str(item.title) for item in outline.root]

    assert [title.split()[0] for title in titles] == [
        "1",
        "2",
        "3",
        "4",
        "5",
        "6",
        "7",
        "7",
        "7",
        "8",
        "9",
        "10",
        "11",
        "12",
    ]


def test_every_font_is_embedded_and_maps_to_text(packet: ReadPacket) -> None:
    fonts = [
        item for item in packet.pdf.objects if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/Font"
    ]
    composite = [font for font in fonts if font.get("/Subtype") == "/Type0"]

    assert composite
    for font in composite:
        assert "/ToUnicode" in font
        descriptor = font.DescendantFonts[0].FontDescriptor
        assert "/FontFile2" in descriptor or "/FontFile3" in descriptor


def test_drawings_have_names_for_readers(packet: ReadPacket) -> None:
    alternatives = {
        str(item.Alt) for item in packet.pdf.objects if isinstance(item, pikepdf.Dictionary) and "/Alt" in item
    }

    assert "One-line diagram of 2614" in alternatives
    assert "Panel P1, Cab panel" in alternatives
    assert any("from above" in words for words in alternatives)
    assert any(words.startswith("Hole H1") for words in alternatives)


# --- what rides inside ---


def test_attachments_are_each_listed_once_with_their_relationship(packet: ReadPacket) -> None:
    associated = [(str(item.UF), str(item.AFRelationship)) for item in packet.pdf.Root.AF]

    assert sorted(associated) == [("build-2614.json", "/Source"), ("circuits-2614.csv", "/Data")]


def test_attached_build_document_is_the_revision_itself(packet: ReadPacket) -> None:
    text = packet.pdf.attachments["build-2614.json"].get_file().read_bytes()

    assert text.decode() == canonical_text(packet.frozen.design)
    assert read_document(text) == packet.frozen.design


def test_attached_schedule_has_a_row_a_circuit_and_leaves_gaps_empty(packet: ReadPacket) -> None:
    text = packet.pdf.attachments["circuits-2614.csv"].get_file().read_bytes().decode()
    rows = list(csv.DictReader(io.StringIO(text)))

    assert [row["number"] for row in rows] == [circuit.number for circuit in packet.frozen.design.circuits]
    assert (rows[0]["load_v_measured"], rows[0]["battery_v_at_reading"]) == ("12.71", "13.12")
    assert {row["load_v_measured"] for row in rows[1:]} == {""}


@pytest.mark.parametrize("legend", ["=1+1", "+SUM(A1)", "-2", "@x"])
def test_schedule_lets_no_spreadsheet_take_a_legend_for_a_formula(legend: str) -> None:
    design = small_design()
    frozen = frozen_packet(replace(design, circuits=(replace(design.circuits[0], legend=legend), *design.circuits[1:])))

    text = circuit_csv(PacketContext(input=frozen.input, design=frozen.design))

    assert next(iter(csv.DictReader(io.StringIO(text))))["legend"] == f"'{legend}"


def test_dates_inside_are_those_of_the_issue(packet: ReadPacket) -> None:
    stamps = set(re.findall(rb"D:(\d{14})", packet.content))
    issued = packet.frozen.input.issue.issued_at.strftime("%Y%m%d%H%M%S").encode()

    assert stamps == {issued}


# --- bytes ---


RENDER = """
import hashlib, django
django.setup()
from tests.documents.conftest import frozen_packet, rendered
from tests.factories.designs import small_design
print(hashlib.sha256(rendered(frozen_packet(small_design()))).hexdigest())
"""


@pytest.mark.slow
def test_bytes_repeat_in_another_process_with_another_hash_seed_and_time_zone(packet: ReadPacket) -> None:
    import hashlib
    import os

    done = subprocess.run(
        [sys.executable, "-c", RENDER], cwd=CHECKOUT, capture_output=True, text=True, check=True,
        env=os.environ | {"PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "DJANGO_SETTINGS_MODULE": "config.settings"},
    )  # fmt: skip

    assert done.stdout.split()[-1] == hashlib.sha256(packet.content).hexdigest()


def test_two_issues_of_the_same_state_differ_only_by_what_an_issue_freezes(packet: ReadPacket) -> None:
    same = frozen_packet(small_design())
    later = replace(
        same.input, issue=replace(same.input.issue, issued_at=same.input.issue.issued_at + timedelta(hours=1))
    )

    assert rendered(same) == packet.content
    assert rendered(replace(same, input=later)) != packet.content


def test_renderer_fingerprint_names_what_bytes_depend_on() -> None:
    fingerprint = renderer_fingerprint()

    assert {"weasyprint", "pydyf", "pango", "harfbuzz", "zlib", "fonttools", "fonts", "style", "code", "python"} <= set(
        fingerprint
    )
    assert re.fullmatch(r"\d+\.\d+\.\d+", fingerprint["pango"])
    assert re.fullmatch(r"\d+\.\d+\.\d+", fingerprint["harfbuzz"])
    assert list(fingerprint) == sorted(fingerprint)


# --- other builds ---


@pytest.mark.slow
def test_metric_build_is_printed_metric_on_a4() -> None:
    design = replace(small_design(), conventions=Conventions(units=UnitSystem.METRIC))
    content = rendered(frozen_packet(design))

    with pikepdf.open(io.BytesIO(content)) as pdf:
        width, height = (float(figure) for figure in pdf.pages[0].MediaBox[2:])
    assert (round(width), round(height)) == (595, 842)


@pytest.mark.slow
def test_a_build_with_nothing_in_it_still_makes_a_packet_that_says_so() -> None:
    import pypdfium2  # type: ignore[import-untyped]

    from tests.documents.conftest import page_text

    empty = replace(small_design(), nodes=(), runs=(), circuits=(), loads=(), conditions=(), operations=(), parts=())
    frozen = frozen_packet(empty, with_photo=False)
    bare = replace(
        frozen.input,
        steps=(),
        serials=(),
        gear=(),
        removed=(),
        splices=(),
        penetrations=(),
        overrides=(),
        check_ins=(),
        changed=(),
    )
    document = pypdfium2.PdfDocument(rendered(replace(frozen, input=bare)))
    text = " ".join(" ".join(page_text(document, index) for index in range(len(document))).split())
    document.close()

    for words in ("No splice was written down.", "No body hole was written down.", "No checklist was made for this build.",
                  "This build has no main disconnect.", "No power tree yet.", "not recorded"):  # fmt: skip
        assert words in text, words


@pytest.mark.slow
def test_letters_beyond_latin_1_are_printed_and_can_be_copied() -> None:
    import pypdfium2

    from tests.documents.conftest import page_text

    design = replace(small_design(), title="Wóz ratowniczy Łódź № 7 ☑")
    document = pypdfium2.PdfDocument(rendered(frozen_packet(design)))
    cover = page_text(document, 0)
    document.close()

    assert "Łódź" in cover
    assert "☑" in cover


# --- over time ---


def with_profile() -> Design:
    """The small build with a day of its own: its first condition, then its last."""
    design = small_design()
    first, last = design.conditions[0].key, design.conditions[-1].key
    segments = tuple(
        DutySegment(key=key, profile="DAY", condition=condition, duration_min=minutes)
        for key, condition, minutes in (("T1", first, 90.0), ("T2", last, 240.0))
    )
    return replace(design, duty_profiles=(DutyProfile(key="DAY", name="A day at the shore"),), duty_segments=segments)


def test_a_duty_profile_is_drawn_over_time_with_its_batteries_and_segments() -> None:
    design = with_profile()

    asked, without = (
        packet_html(frozen_packet(design, with_photo=False)),
        packet_html(frozen_packet(small_design(), with_photo=False)),
    )

    frozen = frozen_packet(design, with_photo=False)
    (plot,) = loads_of(PacketContext(input=frozen.input, design=frozen.design)).profiles
    assert "Over time: A day at the shore" in asked and "Over time" not in without
    assert "Charge, voltage and currents over “A day at the shore”" in plot.drawing
    assert [number for number, _, _ in plot.segments] == ["1", "2"]
    assert len(plot.batteries) == sum(node.battery is not None for node in design.nodes)
    assert "nobody measured it" in asked


@pytest.mark.slow
def test_the_plots_of_a_profile_stand_on_one_page_and_say_their_names() -> None:
    document = pypdfium2.PdfDocument(rendered(frozen_packet(with_profile(), with_photo=False)))
    pages = [page_text(document, index) for index in range(len(document))]
    document.close()

    (page,) = [text for text in pages if "Over time: A day at the shore" in text]
    assert "Charge, %" in page and "Sources, A" in page and "nobody measured it" in page


# --- how figures came about ---


def with_workings(design: Design) -> FrozenPacket:
    packet = frozen_packet(design, with_photo=False)
    kinds = frozenset(("payload", "run-short"))
    workings = tuple(printed_working(working) for working in workings_of(design, kinds=kinds))
    return replace(packet, input=replace(packet.input, workings=workings))


def test_workings_are_printed_only_where_the_issue_asked_for_them() -> None:
    design = small_design()

    without, asked = packet_html(frozen_packet(design, with_photo=False)), packet_html(with_workings(design))

    assert "How figures came about" not in without
    assert asked.count("How figures came about") == 3  # contents, foot and head of the section
    assert "1000 × E / (R<sub>s</sub> + R<sub>c</sub>) + I<sub>lim</sub> = 1000 × 12.7 / " in asked


@pytest.mark.slow
def test_workings_have_a_section_of_their_own_at_the_end() -> None:
    document = pypdfium2.PdfDocument(rendered(with_workings(small_design())))
    text = "\n".join(page_text(document, index) for index in range(len(document)))
    document.close()

    assert "13 How figures came about" in text
    assert "Payload left" in text and "49 CFR 567.4(g)(3)" in text
