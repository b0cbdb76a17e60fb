"""What is wrong with the text of a build document: where, as a JSON pointer (RFC 6901), and in words."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice

from builds.engineering.errors import EngineeringError

__all__ = ["MOST_COUNTED", "MOST_FAULTS", "NOT_PRINTABLE", "DocumentFaults", "Fault", "pointer_of"]

MOST_FAULTS = 200  # nobody mends more at one sitting; the rest is counted, not listed
MOST_COUNTED = 2000  # and beyond this not even counted, so that a hostile text is answered soon
# Controls and halves of characters; what takes no room or turns the line round, so that two texts look alike.
NOT_PRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\xad\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]")
_LONGEST_STEP = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that keeps a text from being a build document; ``pointer`` is empty for the text as a whole."""

    pointer: str
    message: str

    def __str__(self) -> str:
        return f"{self.pointer or 'document'}: {self.message}"


class DocumentFaults(EngineeringError):
    """A text that is not a build document, with every fault found in it, in the order of their pointers."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        found = tuple(sorted(dict.fromkeys(islice(faults, MOST_COUNTED)), key=_order))
        self.count = len(found)
        self.faults = found[:MOST_FAULTS]
        if self.count > MOST_FAULTS:
            more = (
                f"{self.count - MOST_FAULTS}"
                if self.count < MOST_COUNTED
                else f"more than {MOST_COUNTED - MOST_FAULTS}"
            )
            rest = Fault(pointer="", message=f"{more} more faults are not listed")
            self.faults = (*self.faults, rest)
        super().__init__("\n".join(str(fault) for fault in self.faults))


def pointer_of(path: Sequence[str | int]) -> str:
    """
    Return the JSON pointer of a path of names and places.

    >>> pointer_of(["build", "circuits", 3, "length_m"])
    '/build/circuits/3/length_m'
    >>> pointer_of(["a/b", "c~d"])
    '/a~1b/c~0d'
    """
    return "".join("/" + _step(step) for step in path)


def _order(fault: Fault) -> list[tuple[int, str]]:
    """Sort places in a list by number, not by their digits."""
    return [(int(step), "") if step.isdecimal() else (-1, step) for step in fault.pointer.split("/")]


def _step(step: str | int) -> str:
    words = NOT_PRINTABLE.sub("\ufffd", str(step)).replace("~", "~0").replace("/", "~1")
    return words if len(words) <= _LONGEST_STEP else words[: _LONGEST_STEP - 1] + "…"
