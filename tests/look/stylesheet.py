"""Reads tokens.css the way a browser does: raw values by theme, meanings resolved, contrast computed."""

import re
from pathlib import Path

TOKENS = Path(__file__).parents[2] / "config/static/css/tokens.css"
THEMES = ("light", "dark", "glare")

_BLOCK = re.compile(r"([^{}]+)\{([^{}]*)\}")
_DECLARATION = re.compile(r"--([a-z0-9-]+):\s*([^;]+);")


def blocks() -> list[tuple[str, dict[str, str]]]:
    """Return selector and custom properties of each block, in file order."""
    text = re.sub(r"/\*.*?\*/", "", TOKENS.read_text(encoding="utf-8"), flags=re.S)
    return [
        (selector.strip().split("{")[-1].strip(), dict(_DECLARATION.findall(body)))
        for selector, body in _BLOCK.findall(text)
    ]


def block(selector: str, position: int = 0) -> dict[str, str]:
    """Return the properties of the block with that selector."""
    return [properties for found, properties in blocks() if found == selector][position]


def theme(name: str) -> dict[str, str]:
    """Return every token of a theme as the browser would see it, ``var()`` not yet resolved."""
    tokens = dict(block(":root"))
    if name != "light":
        tokens |= block(f':root[data-theme="{name}"]')
    return tokens


def colour(name: str, tokens: dict[str, str]) -> str:
    """Return the colour of a token after following ``var()``."""
    value = tokens[name]
    while found := re.fullmatch(r"var\(--([a-z0-9-]+)\)", value.strip()):
        value = tokens[found.group(1)]
    return value.strip()


def relative_luminance(colour_hex: str) -> float:
    """Return the relative luminance of WCAG 2 (definition "relative luminance", sRGB)."""
    channels = [int(colour_hex[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of WCAG 2 (definition "contrast ratio"): 1 to 21."""
    high, low = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)
