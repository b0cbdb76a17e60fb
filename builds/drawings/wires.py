"""Wire swatches: the insulation's colour with its stripe, always with the letters of IEC 60757 beside it."""

from collections.abc import Mapping
from types import MappingProxyType

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element
from builds.engineering.wire_colours import WIRE_COLOURS

# Drawn values of the letters: ours, chosen to be told apart from one another.
DRAWN: Mapping[str, str] = MappingProxyType(
    {
        "BK": "#1c2022",
        "BN": "#8a5a34",
        "RD": "#d8322a",
        "OG": "#f08a24",
        "YE": "#f4d53a",
        "GN": "#2f8f4a",
        "BU": "#3f7fd0",
        "VT": "#7c4fb0",
        "GY": "#9aa1a4",
        "WH": "#fafaf7",
        "PK": "#f2a0bd",
        "TQ": "#45c0c0",
    }
)


class UnknownWireColour(ValueError):
    """A wire colour code has letters that IEC 60757 does not list."""

    def __init__(self, code: str) -> None:
        super().__init__(
            f"{code!r} is not a wire colour. Use {', '.join(WIRE_COLOURS)}, two of them with a stroke between for a stripe: WH/RD."
        )


def wire_colours(code: str) -> tuple[str, ...]:
    """
    Return the letter codes of a wire: one for plain, two with a stripe.

    >>> wire_colours("wh/rd")
    ('WH', 'RD')

    Raises ``UnknownWireColour`` for letters not listed and for more than one stripe.
    """
    letters = tuple(part.strip().upper() for part in str(code).split("/"))
    if not 1 <= len(letters) <= 2 or any(letter not in WIRE_COLOURS for letter in letters):
        raise UnknownWireColour(str(code))
    return letters


def wire_words(code: str) -> str:
    """
    Return the colour in words.

    >>> wire_words("WH/RD"), wire_words("WH/OG"), wire_words("BN")
    ('white with a red stripe', 'white with an orange stripe', 'brown')
    """
    letters = wire_colours(code)
    body = WIRE_COLOURS[letters[0]]
    if len(letters) == 1:
        return body
    stripe = WIRE_COLOURS[letters[1]]
    return f"{body} with {'an' if stripe[0] in 'aeiou' else 'a'} {stripe} stripe"


def wire_marks(code: str, *, palette: Palette = SCREEN, width: float = 22, height: float = 11) -> str:
    """Return the bare elements of a swatch, to be placed in a larger drawing."""
    letters = wire_colours(code)
    body = element(
        "rect",
        x=0.6,
        y=0.6,
        width=width - 1.2,
        height=height - 1.2,
        fill=DRAWN[letters[0]],
    )
    stripe = ""
    if len(letters) == 2:
        third = (height - 1.2) / 3
        stripe = element(
            "rect",
            x=0.6,
            y=0.6 + third,
            width=width - 1.2,
            height=third,
            fill=DRAWN[letters[1]],
        )
    frame = element(
        "rect",
        x=0.6,
        y=0.6,
        width=width - 1.2,
        height=height - 1.2,
        stroke_width=1.2,
        **palette.paint(fill="none", stroke="text"),
    )
    return body + stripe + frame


def draw_wire_swatch(code: str, *, palette: Palette = SCREEN) -> str:
    """Return the swatch as an SVG, hidden from screen readers: the letters stand beside it."""
    return drawing(
        wire_marks(code, palette=palette),
        width=22,
        height=11,
        class_="wire-swatch-picture",
    )
