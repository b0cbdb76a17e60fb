"""
How wide a line of text will be, so that drawings can be laid out before anything is painted.

The advances are those of the two faces kept with the project, read from their files in thousandths of an em; a test
compares them with the files. Figures are counted at the width of the widest one, because pages set them tabular.
"""

import re
from collections.abc import Callable, Mapping
from types import MappingProxyType

__all__ = ["shorten", "width_of", "wrap"]

MONO_ADVANCE = 616
# Anything outside printable ASCII comes from the symbol face or an accent; the widest of those in use.
OTHER_ADVANCE = 840

# Printable ASCII from the space to the tilde, weights 400, 600 and 800.
_ADVANCES: Mapping[int, tuple[int, ...]] = MappingProxyType(
    {
        400: (
            203, 223, 321, 566, 596, 890, 629, 177, 258, 258, 400, 572, 226, 462, 224, 353, 551, 551, 551, 551, 551, 551,
            551, 551, 551, 551, 223, 228, 572, 572, 572, 447, 937, 534, 547, 601, 608, 509, 483, 620, 627, 241, 248, 564,
            454, 731, 628, 610, 520, 610, 573, 536, 510, 612, 555, 807, 524, 510, 516, 257, 353, 257, 480, 497, 209, 470,
            510, 490, 514, 493, 349, 490, 528, 223, 222, 468, 222, 800, 528, 508, 510, 514, 343, 440, 370, 515, 472, 682,
            456, 471, 441, 256, 243, 256, 572,
        ),
        600: (
            199, 236, 346, 574, 597, 894, 634, 188, 262, 262, 399, 572, 242, 461, 240, 365, 559, 559, 559, 559, 559, 559,
            559, 559, 559, 559, 237, 245, 572, 572, 572, 458, 937, 548, 555, 607, 613, 513, 489, 624, 631, 248, 255, 575,
            460, 740, 633, 615, 527, 615, 579, 539, 516, 617, 567, 820, 538, 525, 523, 262, 365, 262, 489, 503, 222, 476,
            513, 496, 517, 499, 357, 493, 530, 229, 228, 481, 228, 799, 530, 513, 513, 517, 348, 445, 376, 518, 481, 695,
            470, 480, 447, 268, 246, 268, 572,
        ),
        800: (
            190, 265, 400, 591, 601, 903, 645, 211, 272, 271, 397, 572, 279, 460, 276, 392, 577, 577, 577, 577, 577, 577,
            577, 577, 577, 577, 268, 282, 572, 572, 572, 482, 936, 580, 572, 621, 624, 522, 503, 634, 641, 263, 271, 600,
            473, 761, 643, 627, 544, 627, 591, 547, 528, 627, 594, 850, 569, 557, 537, 274, 391, 274, 510, 515, 252, 490,
            519, 508, 523, 513, 374, 500, 534, 242, 241, 510, 241, 798, 534, 523, 519, 523, 360, 456, 388, 524, 503, 724,
            502, 499, 459, 294, 254, 294, 572,
        ),
    }
)  # fmt: skip


def width_of(text: str, size: float, *, weight: int = 400, mono: bool = False) -> float:
    """
    Return the width of one line in the unit of ``size``.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Font size. [px]
    weight : int, default 400
        400, 600 or 800; ignored for the object face.
    mono : bool, default False
        Whether the line is set in the face of what is printed on objects.

    Returns
    -------
    float
        Width, never less than what the face needs. [px]

    Examples
    --------
    >>> width_of("P2-03", 10, mono=True)
    30.8
    """
    if mono:
        return len(text) * MONO_ADVANCE * size / 1000
    advances = _ADVANCES[weight]
    return sum(advances[ord(char) - 32] if " " <= char <= "~" else OTHER_ADVANCE for char in text) * size / 1000


def shorten(text: str, width: float, size: float, *, weight: int = 400, mono: bool = False) -> str:
    """Return the text, or as much of it as fits ``width`` with an ellipsis."""
    if width_of(text, size, weight=weight, mono=mono) <= width:
        return text
    while text and width_of(text + "…", size, weight=weight, mono=mono) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrap(
    text: str,
    width: float,
    size: float,
    *,
    weight: int = 400,
    mono: bool = False,
    most_lines: int = 3,
) -> tuple[str, ...]:
    """
    Return the text broken at spaces into lines that fit ``width``; what does not fit the last line is shortened.

    A word that is too long by itself is broken where it must be. A no-break space holds a figure and its unit together and
    is an ordinary one in the lines returned.
    """

    def fits(line: str) -> bool:
        return width_of(line.replace("\u00a0", " "), size, weight=weight, mono=mono) <= width

    lines: list[str] = []
    for word in re.findall(r"[^ \t\r\n]+", text):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and fits(joined):
            lines[-1] = joined
            continue
        lines.extend(_pieces(word, fits))
    if len(lines) > most_lines:
        rest = " ".join(lines[most_lines - 1 :])
        lines = [
            *lines[: most_lines - 1],
            shorten(rest, width, size, weight=weight, mono=mono),
        ]
    return tuple(line.replace("\u00a0", " ") for line in lines)


def _pieces(word: str, fits: Callable[[str], bool]) -> list[str]:
    pieces = [""]
    for char in word:
        if pieces[-1] and not fits(pieces[-1] + char):
            pieces.append("")
        pieces[-1] += char
    return pieces
