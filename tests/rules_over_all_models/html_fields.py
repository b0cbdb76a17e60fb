"""Reading a page as a person with a screen reader hears it: which words belong to a field."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Optional

__all__ = ["Element", "read_html", "words_at_field", "words_at_head"]

_VOID = frozenset({"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source", "track", "wbr"})


@dataclass(eq=False, slots=True)
class Element:
    """One element with what stands in it."""

    tag: str
    attributes: dict[str, str]
    parent: Optional["Element"] = None
    children: list["Element | str"] = field(default_factory=list)

    def all(self) -> list["Element"]:
        """Return this element and all below it."""
        found = [self]
        for child in self.children:
            if isinstance(child, Element):
                found += child.all()
        return found

    @property
    def words(self) -> str:
        """Its text, on one line."""
        parts = [child if isinstance(child, str) else child.words for child in self.children]
        return " ".join(" ".join(parts).split())

    @property
    def classes(self) -> list[str]:
        """Its classes."""
        return self.attributes.get("class", "").split()


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("", {})
        self.at = self.root

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs}, self.at)
        self.at.children.append(element)
        if tag not in _VOID:
            self.at = element

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.at.children.append(Element(tag, {name: value or "" for name, value in attrs}, self.at))

    def handle_endtag(self, tag: str) -> None:
        place: Element | None = self.at
        while place is not None and place.tag != tag:
            place = place.parent
        if place is not None and place.parent is not None:
            self.at = place.parent

    def handle_data(self, data: str) -> None:
        self.at.children.append(data)


def read_html(text: str) -> Element:
    """Return the tree of a page or a fragment."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    return reader.root


def words_at_field(page: Element, name: str) -> str:
    """Return the words of error that the fields called ``name`` are described by."""
    everything = page.all()
    by_id = {element.attributes["id"]: element for element in everything if "id" in element.attributes}
    said = []
    for element in everything:
        if element.attributes.get("name") != name or element.attributes.get("aria-invalid") != "true":
            continue
        said += [by_id[ref].words for ref in element.attributes.get("aria-describedby", "").split() if ref in by_id]
        said += _beside(element)
    return " ".join(said)


def _beside(element: Element) -> list[str]:
    """Words of error in the same field's box, where nothing is named."""
    box = element.parent
    while box is not None and not {"field", "reading"} & set(box.classes):
        box = box.parent
    if box is None:
        return []
    return [child.words for child in box.all() if "field-error" in child.classes]


def words_at_head(page: Element) -> str:
    """Return the words of the alerts, of messages of error, and of the list of faults."""
    heads = ("message-error", "step-refused", "faults")
    return " ".join(
        element.words
        for element in page.all()
        if element.attributes.get("role") == "alert" or set(heads) & set(element.classes)
    )
