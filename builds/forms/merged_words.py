"""What others changed in a row while somebody had it open, in the words and units of the page."""

from collections.abc import Iterable
from typing import Any

from django import forms

from builds.engineering.design import Design
from builds.errors import Meanwhile
from builds.forms.design_rows import field_of, shown_value
from builds.forms.fields import FigureField
from builds.forms.row_choices import choices_of
from builds.forms.row_fields import FAMILY_FIELDS, RowChoices

__all__ = ["merged_words"]


def merged_words(design: Design, meanwhile: Iterable[Meanwhile]) -> list[str]:
    """
    Return one sentence for each field: "Circuit 101: Avery Dunn changed Length from 10 ft to 12 ft".

    A field that the page does not show is named as the document names it.
    """
    found = list(meanwhile)
    choices = choices_of(design) if found else None
    return [_sentence(item, choices) for item in found if choices is not None]


def _sentence(item: Meanwhile, choices: RowChoices) -> str:
    family, _, key = item.row.partition(":")
    label, was, now = item.field.replace("_", " ").replace(".", " "), item.was, item.now
    for spec in FAMILY_FIELDS.get(family, ()):
        if spec.name == item.field:
            field = field_of(spec, family, choices)
            label = spec.label
            was, now = (_shown(field, value, words) for value, words in zip(item.values, (was, now), strict=True))
            break
    who = item.by or "someone else"
    return f"{family.capitalize()} {key}: {who} changed {label} from {was or 'empty'} to {now or 'empty'}"


def _shown(field: forms.Field, value: Any, words: str) -> str:
    if not isinstance(field, FigureField) or value is None:
        return words
    return f"{field.shown(shown_value(value))} {field.unit}".rstrip()
