"""A QR code as one SVG path."""

import segno

from builds.drawings.svg import drawing, element

__all__ = ["draw_qr_code"]


def draw_qr_code(words: str, *, title: str, size_px: float = 120) -> str:
    """
    Return the QR code of ``words`` (ISO/IEC 18004, error correction M) with the quiet zone the standard asks for.

    Parameters
    ----------
    words : str
        What a reader gets: an address.
    title : str
        What a screen reader says instead of the picture.
    size_px : float, default 120
        Side of the square, quiet zone included. [px]
    """
    rows = [bytes(row) for row in segno.make(words, error="m", micro=False).matrix]
    quiet = 4
    side = len(rows) + 2 * quiet
    strokes = "".join(
        f"M{quiet + start} {quiet + y}h{length}v1h-{length}z"
        for y, row in enumerate(rows)
        for start, length in _dark_spans(row)
    )
    ground = element("rect", x=0, y=0, width=side, height=side, fill="#ffffff")
    code = element("path", d=strokes, fill="#000000")
    return drawing(
        ground, code, width=size_px, height=size_px, view_width=side, view_height=side, title=title, class_="qr-code"
    )


def _dark_spans(row: bytes) -> list[tuple[int, int]]:
    spans: list[tuple[int, int]] = []
    for x, dark in enumerate(row):
        if not dark:
            continue
        if spans and sum(spans[-1]) == x:
            spans[-1] = (spans[-1][0], spans[-1][1] + 1)
        else:
            spans.append((x, 1))
    return spans
