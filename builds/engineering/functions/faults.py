"""
Faults in the text of a schedule: each with a name, the place it stands at, and what was expected there.

Text that cannot be read raises :class:`LanguageError` with every fault found; nothing is half read.
"""

from dataclasses import dataclass

from builds.engineering.errors import EngineeringError

__all__ = ["FAULTS", "LanguageError", "LanguageFault", "Place", "fault"]

FAULTS = {
    "ends-too-soon": "The sentence stops here; expected {expected}.",
    "word-unexpected": "“{found}” does not fit here; expected {expected}.",
    "character-unknown": "“{found}” is not part of the language{instead}; expected {expected}.",
    "and-or-mixed": "“and” and “or” stand side by side; put parentheses around what belongs together.",
    "parenthesis-open": "This parenthesis is never closed; expected “)”.",
    "parenthesis-close": "This parenthesis closes nothing; expected {expected}.",
    "quote-open": 'This quotation mark is never closed; expected “"” after the name.',
    "unit-missing": "A time needs its unit; expected “ms”, “s” or “min”.",
    "timer-words-missing": "“for” needs “at least” or “at most” before its time; expected one of them.",
    "nested-too-deep": "This condition nests terms in terms too deep; expected at most {expected} levels.",
    "fail-state-missing": "A rule says what it does when a signal is lost; expected “; if lost, applies” or “; if lost, does not apply”.",
    "statement-unknown": "No statement begins with “{found}”; expected {expected}.",
    "out-of-range": "{what} is {found}; expected {expected}.",
    "clause-twice": "“{found}” says again what a clause before it says; expected each clause once.",
    "word-unknown": "“{found}” is no {what}; expected {expected}.",
    "name-unknown": "Nothing here is called “{found}”; expected {expected}.",
    "name-twice": "“{found}” is the name of another {what} already; expected a new name.",
    "name-is-a-word": "“{found}” is a word of the language; expected {expected}.",
    "value-unknown": "{what} is never “{found}”; expected {expected}.",
    "state-unknown": "An output is never “{found}”; expected {expected}.",
    "state-missing": "“{found}” is an output; expected what it does after it: {expected}.",
    "pattern-unknown": "No pattern is called “{found}”; expected {expected}.",
    "output-in-condition": "Only claims read outputs, and “{found}” is one; expected an input.",
    "set-needs-any-or-all": "“{found}” is a set of channels; expected “any of”, “all of” or “none of” before it.",
    "one-needs-no-any": "“{found}” is one channel and no set; expected it without “any of”, “all of” or “none of”.",
    "target-unfit": "“{found}” is {what}; expected {expected}.",
    "head-too-rich": "The colours of this shared head meet in {found} ways; expected at most {expected}: fewer effects on them, or another rule for its colours.",
    "channel-in-two-heads": "Channel “{found}” is in another head already; expected a channel of this head alone.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where something stands: line and column, both from 1; 0 where the schedule was not read from text."""

    line: int = 0
    column: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LanguageFault:
    """
    One fault. ``name`` is a key of :data:`FAULTS`; ``subject`` is "rule:rear cut" where the statement could be read.

    ``found`` is the word it stands at, ``expected`` what could have stood there.
    """

    name: str
    message: str
    place: Place
    subject: str = ""
    found: str = ""
    expected: str = ""


class LanguageError(EngineeringError):
    """Text or a form that is no schedule; ``faults`` in reading order."""

    def __init__(self, faults: tuple[LanguageFault, ...]) -> None:
        super().__init__(" ".join(_said(one) for one in faults))
        self.faults = faults


def _said(one: LanguageFault) -> str:
    where = f"Line {one.place.line}, column {one.place.column}: " if one.place.line else ""
    return f"{where}{one.message}"


def fault(
    name: str,
    place: Place,
    *,
    subject: str = "",
    found: str = "",
    expected: str = "",
    what: str = "",
    instead: str = "",
) -> LanguageFault:
    """
    Return a fault with its sentence filled in.

    Parameters
    ----------
    name : str
        A key of :data:`FAULTS`.
    place : Place
        Where it stands.
    subject, found, expected, what, instead : str
        The statement it is in, and the words of the sentence.
    """
    message = FAULTS[name].format(found=found, expected=expected, what=what, instead=instead)
    return LanguageFault(name=name, message=message, place=place, subject=subject, found=found, expected=expected)
