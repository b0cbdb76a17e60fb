"""The packet as a picture: nothing is printed over something else, and a table that goes on says what its columns are."""

import pypdfium2  # type: ignore[import-untyped]

from tests.documents.conftest import ReadPacket

_Box = tuple[float, float, float, float]

# Boxes of neighbouring lines share a little of their height; what is printed over something shares most of it. [pt]
_WIDE_PT, _HIGH_PT = 1.5, 2.5


def _shared(one: _Box, other: _Box) -> bool:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide > _WIDE_PT and high > _HIGH_PT


def test_no_words_are_printed_over_other_words(packet: ReadPacket) -> None:
    pdf = pypdfium2.PdfDocument(packet.content)
    over = []
    for number in range(len(pdf)):
        page = pdf[number].get_textpage()
        boxes = [page.get_rect(index) for index in range(page.count_rects())]
        for index, one in enumerate(boxes):
            over += [
                f"page {number + 1}: {page.get_text_bounded(*one)}"
                for other in boxes[index + 1 :]
                if _shared(one, other)
            ]

    assert over == []


def test_every_phase_of_the_inspection_record_says_what_its_columns_are(packet: ReadPacket) -> None:
    record = packet.section(10)
    phases = {step.phase for step in packet.frozen.input.steps}

    assert len(phases) > 1
    assert record.count("Corrected, date") >= len(phases)
