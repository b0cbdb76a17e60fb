"""Where the texts and boxes of an SVG stand, measured with the advances of the project's own font files."""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

FONTS = Path(__file__).resolve().parents[2] / "config" / "static" / "fonts"
SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Box:
    """A rectangle with what is in it."""

    left: float
    top: float
    right: float
    bottom: float
    words: str = ""

    def meets(self, other: "Box", slack: float = 0.4) -> bool:
        """Whether the two share more than a hair."""
        return (
            min(self.right, other.right) - max(self.left, other.left) > slack
            and min(self.bottom, other.bottom) - max(self.top, other.top) > slack
        )

    def inside(self, other: "Box", slack: float = 0.4) -> bool:
        """Whether this lies within the other."""
        return (
            self.left >= other.left - slack
            and self.right <= other.right + slack
            and self.top >= other.top - slack
            and self.bottom <= other.bottom + slack
        )


@cache
def _font(name: str) -> tuple[dict[int, str], dict[str, tuple[int, int]], int]:
    font = TTFont(FONTS / f"{name}.woff2")
    return font.getBestCmap(), font["hmtx"].metrics, font["head"].unitsPerEm


def true_width(text: str, size: float, *, weight: int = 400, mono: bool = False) -> float:
    """Return the width as the font files give it."""
    name = "overpass-mono-latin-400-normal" if mono else f"sofia-sans-semi-condensed-latin-{weight}-normal"
    total = 0.0
    for char in text:
        cmap, metrics, per_em = _font(name)
        if ord(char) not in cmap:
            cmap, metrics, per_em = _font("dejavu-sans-latin-400-normal")
        total += metrics[cmap[ord(char)]][0] / per_em
    return total * size


def text_boxes(svg: str) -> list[Box]:
    """Return one box a line of text, moved by the groups it lies in."""
    boxes: list[Box] = []
    _walk(ElementTree.fromstring(svg), 0.0, 0.0, boxes, [])
    return boxes


def rectangles(svg: str) -> list[Box]:
    """Return every rectangle, moved by the groups it lies in; turned groups are left out."""
    found: list[Box] = []
    _walk(ElementTree.fromstring(svg), 0.0, 0.0, [], found)
    return found


def _walk(node: ElementTree.Element, dx: float, dy: float, texts: list[Box], rects: list[Box]) -> None:
    transform = node.get("transform", "")
    if "rotate" in transform:
        return
    moved = re.match(r"translate\(([-\d.]+) ([-\d.]+)\)", transform)
    if moved:
        dx, dy = dx + float(moved[1]), dy + float(moved[2])
    if node.tag == SVG + "text":
        texts.append(_text_box(node, dx, dy))
    if node.tag == SVG + "rect":
        x, y = dx + float(node.get("x", 0)), dy + float(node.get("y", 0))
        rects.append(Box(x, y, x + float(node.get("width", 0)), y + float(node.get("height", 0))))
    for child in node:
        _walk(child, dx, dy, texts, rects)


def _text_box(node: ElementTree.Element, dx: float, dy: float) -> Box:
    size = float(node.get("font-size", 13))
    mono = node.get("font-family", "").startswith("Overpass")
    words = node.text or ""
    width = true_width(words, size, weight=int(node.get("font-weight", 400)), mono=mono)
    left = dx + float(node.get("x", 0)) - {"middle": width / 2, "end": width}.get(node.get("text-anchor", ""), 0.0)
    baseline = dy + float(node.get("y", 0))
    return Box(left, baseline - 0.72 * size, left + width, baseline + 0.2 * size, words)


def view_box(svg: str) -> Box:
    """Return the drawing's own frame."""
    root = ElementTree.fromstring(svg)
    x, y, width, height = (float(part) for part in root.get("viewBox", "").split())
    return Box(x, y, x + width, y + height)


def overlapping_texts(svg: str) -> list[tuple[str, str]]:
    """Return every pair of texts that run into each other."""
    boxes = text_boxes(svg)
    return [(a.words, b.words) for i, a in enumerate(boxes) for b in boxes[i + 1 :] if a.meets(b)]
