"""How a drawing writes its colours: as classes that follow the page's theme, or as literal values for paper."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

MEANINGS = (
    "sheet",
    "quiet",
    "bench",
    "hair",
    "edge",
    "text",
    "text-2",
    "act",
    "act-w",
    "act-on",
    "stop",
    "stop-w",
    "care",
    "care-f",
    "care-w",
    "note",
    "note-w",
    "good",
    "good-w",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """
    A way to write the meanings of tokens.css in a drawing.

    ``colours`` maps each meaning to a literal colour; ``None`` writes classes instead (``f-good`` fills,
    ``s-edge`` strokes), so that a drawing on a page follows the theme. Some PDF renderers do not resolve ``var()``
    inside SVG, hence the literals on paper.
    """

    name: str
    colours: Mapping[str, str] | None = None

    def paint(self, *, fill: str | None = None, stroke: str | None = None, also: str = "") -> dict[str, str]:
        """
        Return the attributes for ``element`` that fill and stroke with meanings, or with ``"none"``.

        ``also`` is a class to keep beside them. A value starting with ``#`` is an object's own colour and is written
        as it is in both kinds of palette. Raises ``KeyError`` for an unknown meaning.

        >>> SCREEN.paint(fill="good", stroke="none")
        {'class_': 'f-good', 'stroke': 'none'}
        >>> PRINT.paint(fill="good")
        {'fill': '#1d6238'}
        """
        attributes: dict[str, str] = {}
        classes = [also] if also else []
        for attribute, letter, meaning in (
            ("fill", "f", fill),
            ("stroke", "s", stroke),
        ):
            if meaning is None:
                continue
            if meaning == "none" or meaning.startswith("#"):
                attributes[attribute] = meaning
            elif meaning not in MEANINGS:
                raise KeyError(f"{meaning!r} is not a colour meaning; known: {', '.join(MEANINGS)}")
            elif self.colours is None:
                classes.append(f"{letter}-{meaning}")
            else:
                attributes[attribute] = self.colours[meaning]
        return {"class_": " ".join(classes), **attributes} if classes else attributes


SCREEN = Palette(name="screen")

PRINT = Palette(
    name="print",
    colours=MappingProxyType(
        {
            "sheet": "#ffffff",
            "quiet": "#f2f4f1",
            "bench": "#ffffff",
            "hair": "#c5cccb",
            "edge": "#737e81",
            "text": "#12181b",
            "text-2": "#465158",
            "act": "#861a5e",
            "act-w": "#ffffff",
            "act-on": "#ffffff",
            "stop": "#a3260c",
            "stop-w": "#ffffff",
            "care": "#704700",
            "care-f": "#f0b429",
            "care-w": "#ffffff",
            "note": "#2f5673",
            "note-w": "#ffffff",
            "good": "#1d6238",
            "good-w": "#ffffff",
        }
    ),
)

# What is pictured keeps its own colour in every theme and on paper.
OBJECT_INK = "#12181b"

FACE = "Sofia Sans Semi Condensed, Sofia Sans Semi Condensed Ext, DejaVu Sans, sans-serif"
FACE_OBJECT = "Overpass Mono, Overpass Mono Ext, DejaVu Sans, monospace"
