"""What the forms of the parts of a function schedule share: names, numbers, conditions, and the part they make."""

import re
from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Any, ClassVar

from django import forms

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_condition
from builds.engineering.functions.names import folded
from builds.engineering.functions.printing import print_statement
from builds.engineering.functions.reading import Part
from builds.engineering.functions.schedule import FunctionSchedule

__all__ = [
    "NEEDED",
    "PartForm",
    "checked_condition",
    "choices_of",
    "names_in",
    "number_words",
    "told_choices",
    "typed_names",
]

NEEDED = {"required": "This may not stay empty."}
_NAME = re.compile(r'"([^"]*)"|([^,"]+)')
_NONE = frozenset({"other", "none"})


def choices_of(words: type[StrEnum]) -> list[tuple[str, str]]:
    """Return the words of an enumeration as choices; a dash stands for none of them."""
    return [(word.value, "–" if word.value in _NONE else word.value.replace("-", " ")) for word in words]


def told_choices(words: Mapping[Any, str]) -> list[tuple[str, str]]:
    """Return choices told in words of their own."""
    return [(word.value, said) for word, said in words.items()]


def number_words(expected: str) -> dict[str, str]:
    """Return what a field of a number says of everything else; ``expected`` as in "a whole number from 1 to 100"."""
    said = f"This is no such number; expected {expected}."
    return {"required": said, "invalid": said, "min_value": said, "max_value": said}


def names_in(text: str) -> tuple[str, ...]:
    """Return names with commas between them, quotation marks left out."""
    return tuple((quoted or bare).strip() for quoted, bare in _NAME.findall(text) if (quoted or bare).strip())


def typed_names(names: Iterable[str]) -> str:
    """Return names as :func:`names_in` takes them: bare, but for those with a comma."""
    return ", ".join(f'"{name}"' if "," in name else name for name in names)


def checked_condition(text: str, schedule: FunctionSchedule, *, reads_outputs: bool = False) -> str:
    """
    Return a condition as one line; say at which column it cannot be read.

    Raises
    ------
    ValidationError
        With a sentence for each fault.
    """
    typed = text.replace("\r\n", "\n").replace("\n", " ").replace("\t", " ").rstrip()
    try:
        parse_condition(typed, schedule, reads_outputs=reads_outputs)
    except LanguageError as error:
        words = [f"Column {fault.place.column}: {fault.message}" for fault in error.faults]
        raise forms.ValidationError(words) from error
    return " ".join(typed.split())


class PartForm(forms.Form):
    """One part of a schedule, field by field; ``FIELD_OF`` names the field of a value that is called otherwise there."""

    FIELD_OF: ClassVar[Mapping[str, str]] = {}

    key = forms.CharField(label="Name", max_length=40, error_messages=NEEDED)

    def __init__(self, schedule: FunctionSchedule, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._schedule = schedule
        self._part: Part | None = None

    def part(self) -> Part:
        """
        Return the part that the fields say.

        Raises
        ------
        OutOfRange
            If a value is out of place.
        """
        raise NotImplementedError  # each kind of part has its own form

    def clean_key(self) -> str:
        """A name is kept in quotation marks where it has spaces, so it has none itself."""
        return self._unquoted("key")

    def clean(self) -> dict[str, Any]:
        """Make the part, and say at its field what keeps it from being."""
        values = super().clean() or {}
        if not self.errors:
            try:
                self._part = self.part()
            except OutOfRange as error:
                said = f"This is “{_said(error.value)}”; expected {error.allowed}."
                name = self.FIELD_OF.get(error.name, error.name)
                self.add_error(name if name in self.fields else None, said)
        return values

    def statement(self) -> str:
        """Return the statement that the fields say."""
        assert self._part is not None, "a form is asked for its statement once it is valid"
        return print_statement(self._part)

    def _unquoted(self, name: str) -> str:
        text = " ".join(str(self.cleaned_data[name]).split())
        if '"' in text:
            raise forms.ValidationError(
                f"Column {text.index(chr(34)) + 1}: a quotation mark would end the text; expected it without."
            )
        return text

    def _channels(self, name: str) -> tuple[str, ...]:
        found = names_in(str(self.cleaned_data[name]))
        known = {folded(one.key) for one in self._schedule.channels}
        missing = [one for one in found if folded(one) not in known]
        if missing:
            expected = ", ".join(one.key for one in self._schedule.channels)
            raise forms.ValidationError(f"No output is called “{missing[0]}”; expected some of {expected}.")
        return found


def _said(value: object) -> str:
    return ", ".join(map(str, value)) if isinstance(value, tuple) else str(value)
