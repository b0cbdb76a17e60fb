"""Building SVG text: escaped, short numbers, attributes in the order given, so that equal input gives equal bytes."""

import re
from html import escape

_NAME = re.compile(r"[a-zA-Z_][a-zA-Z0-9_:]*")


def number(value: float) -> str:
    """
    Return a coordinate with at most two decimals and no trailing zeros.

    >>> number(3.0), number(2.456), number(-0.001)
    ('3', '2.46', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(name: str, *children: str, **attributes: str | float | None) -> str:
    """
    Return one SVG element; children are SVG text already, attribute values are escaped here.

    An attribute that is ``None`` is left out; ``class_`` is written ``class``; other underscores become hyphens.
    Neither ``style`` nor handlers are written: the content security policy forbids both.

    >>> element("rect", x=1, y=2.5, stroke_width=1.5)
    '<rect x="1" y="2.5" stroke-width="1.5"/>'
    """
    written = "".join(_attribute(key, value) for key, value in attributes.items() if value is not None)
    if not children:
        return f"<{name}{written}/>"
    return f"<{name}{written}>{''.join(children)}</{name}>"


def _attribute(key: str, value: str | float | None) -> str:
    name = _attribute_name(key)
    text = value if isinstance(value, str) else number(float(value or 0))
    return f' {name}="{escape(text)}"'


def _attribute_name(key: str) -> str:
    if not _NAME.fullmatch(key) or key == "style" or key.startswith("on"):
        raise ValueError(f"An SVG drawing may not write the attribute {key!r}.")
    if key in _CAMEL:
        return key
    return key.rstrip("_").replace("_", "-")


_CAMEL = frozenset(
    {
        "viewBox",
        "preserveAspectRatio",
        "markerWidth",
        "markerHeight",
        "refX",
        "refY",
        "patternUnits",
    }
)


def words(text: str) -> str:
    """
    Return text escaped for use as a child of an element.

    >>> words("A & B <1>")
    'A &amp; B &lt;1&gt;'
    """
    return escape(text, quote=False)


def drawing(
    *children: str,
    width: float,
    height: float,
    title: str | None = None,
    class_: str | None = None,
    view_width: float | None = None,
    view_height: float | None = None,
    view_top: float = 0,
    stretch: bool = False,
) -> str:
    """
    Return a whole inline SVG.

    With a ``title`` it is a picture with that name; without one it is hidden from screen readers, because the words
    beside it say the same. ``width`` and ``height`` are CSS pixels; the view box is the same unless given.
    ``view_top`` is where the view box starts, for one sheet of a long drawing.
    ``stretch`` lets the page make it as wide as its place without keeping its proportions (bars, never pictures).
    """
    named: dict[str, str] = {"role": "img", "aria-label": title} if title else {"aria-hidden": "true"}
    inner = (element("title", words(title)), *children) if title else children
    view = f"0 {number(view_top)} {number(view_width or width)} {number(view_height or height)}"
    return element(
        "svg",
        *inner,
        xmlns="http://www.w3.org/2000/svg",
        class_=class_,
        width=width,
        height=height,
        viewBox=view,
        preserveAspectRatio="none" if stretch else None,
        focusable="false",
        **{key.replace("-", "_"): value for key, value in named.items()},
    )
