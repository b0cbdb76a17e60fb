"""
The form of one row of a working design: its fields in the build's own units, and which of them a person changed.

Beside every field stands a hidden one with the text it was shown with. A field whose text is still that one was not
touched: it is not sent on, so a figure rounded for the screen never overwrites the exact one behind it, and two people
who change different fields of a row do not get in each other's way.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.engineering.design import AlternatorPoint, Design
from builds.engineering.document.faults import NOT_PRINTABLE
from builds.engineering.document.limits import limits_of
from builds.engineering.document.scales import SCALES, text_length
from builds.engineering.document.shape import FieldShape, Kind, shape_of
from builds.forms.curve_field import CurveField, curve_text
from builds.forms.fields import CountField, FigureField, LengthField, MassField, MilliampereField, PercentField
from builds.forms.proposals import USUAL_FIGURES, proposals
from builds.forms.row_fields import FAMILY_FIELDS, RowChoices, RowField
from builds.forms.source_field import SourcesField, sources_text

__all__ = ["WAS", "RowForm", "document_value", "field_of", "shown_value", "stored_value", "unkept_texts"]

WAS = "was-"
MERGE = "merge-"
CATALOGUE_SHOWN = "catalogue-shown"
_ON = "on"
# What the catalogue knows of a part besides its number.
_OF_CATALOGUE = frozenset(
    {"description", "unit", "unit_cost", "unit_price", "taxed", "mass_kg", "serial_required", "programmable"}
)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a field lives: its shape, and the name of the nested part it belongs to, if any."""

    shape: FieldShape
    inside: str


class RowForm(forms.Form):
    """
    One row of a family.

    ``part`` is the row as it is kept, ``None`` for a new one; ``data`` what a person sent.
    """

    use_required_attribute = False

    def __init__(
        self, family: str, choices: RowChoices, *, part: Any = None, data: Mapping[str, Any] | None = None,
        kind: str = "", prefix: str | None = None, only: tuple[str, ...] = (),
    ) -> None:  # fmt: skip
        self.family = family
        self.only = only
        self.part = part
        self.kind = kind or str(getattr(part, "kind", ""))
        self.choices = choices
        super().__init__(data, prefix=prefix)
        for spec in self.specs():
            self.fields[spec.form_name] = field_of(spec, self.family, self.choices)
            if part is not None:
                self.initial[spec.form_name] = stored_value(part, spec.name)
            elif family == "part" and spec.name in _OF_CATALOGUE:
                self.fields[spec.form_name].required = False  # left empty, the catalogue says it

    def specs(self) -> Iterator[RowField]:
        """Yield the fields of this row: those of every row of its family, and those of its own kind."""
        for spec in FAMILY_FIELDS[self.family]:
            if spec.kinds and self.kind not in spec.kinds:
                continue
            if (spec.only_new and self.part is not None) or (self.only and spec.name not in self.only):
                continue
            yield spec

    def propose(self, design: Design, *, circuit: str = "") -> None:
        """Fill a new row with the engine's own defaults and the next free address."""
        for spec in self.specs():
            default = _place(self.family, spec.name).shape.default
            if self.family == "part" and spec.name in _OF_CATALOGUE and not isinstance(default, bool):
                continue
            if default is not None and default != ():
                self.initial[spec.form_name] = shown_value(default)
        self.initial.update(proposals(self.family, design, kind=self.kind, circuit=circuit))
        for name in USUAL_FIGURES.get(self.kind, {}) if self.family == "node" else ():
            self.fields[name].help_text = f"{self.fields[name].help_text} (from memory)".strip()

    def shown(self, name: str) -> str:
        """Return the text a field is shown with as the row is kept."""
        field, value = self.fields[name], self.initial.get(name)
        if isinstance(field, FigureField):
            return field.shown(value)
        if isinstance(field, forms.BooleanField):
            return _ON if value else ""
        return "" if value is None else str(value)

    def was(self) -> Iterator[tuple[str, str]]:
        """Yield name and value of the hidden fields that say what each field was shown with."""
        for name in self.fields:
            yield WAS + self.add_prefix(name), self.shown(name)

    def touched(self) -> list[str]:
        """Return the fields whose text differs from what the person was shown."""
        return [name for name in self.fields if self._sent(name) != self._was_sent(name)]

    def changes(self) -> dict[str, Any]:
        """Return new values by the document's field names, of the touched fields alone; valid forms only."""
        return {
            self._document_name(name): document_value(self.cleaned_data[name])
            for name in self.touched()
            if name in self.cleaned_data
        }

    def values(self) -> dict[str, Any]:
        """Return all values of a new row, nested parts as mappings, without the fields left empty."""
        row: dict[str, Any] = {}
        for name in self.fields:
            value = document_value(self.cleaned_data.get(name))
            if value is None or value == "" or self._left_to_catalogue(name, value):
                continue
            outer, _, inner = self._document_name(name).partition(".")
            if inner:
                row.setdefault(outer, {})[inner] = value
            else:
                row[outer] = value
        return row

    def _left_to_catalogue(self, name: str, value: Any) -> bool:
        """Whether a tick of a new parts line is as the page proposed it, and the page showed nothing of the catalogue."""
        if (
            self.family != "part"
            or name not in _OF_CATALOGUE
            or self.data.get(CATALOGUE_SHOWN) == self._sent("part_number")
        ):
            return False
        return isinstance(value, bool) and value == _place(self.family, name).shape.default

    def take_theirs(self) -> None:
        """Put the kept value into each field for which the person chose it over their own."""
        data: Any = self.data.copy()  # type: ignore[attr-defined]  # a bound form's data is a QueryDict
        for name in self.fields:
            if self.data.get(MERGE + self.add_prefix(name)) == "theirs":
                data[self.add_prefix(name)] = self.shown(name)
                data[WAS + self.add_prefix(name)] = self.shown(name)
        self.data = data

    def _sent(self, name: str) -> str:
        return str(self.data.get(self.add_prefix(name), "")).strip()

    def _was_sent(self, name: str) -> str:
        return str(self.data.get(WAS + self.add_prefix(name), "")).strip()

    def _document_name(self, name: str) -> str:
        return name.replace("__", ".")


def field_of(spec: RowField, family: str, choices: RowChoices) -> forms.Field:
    """Return the form's field for one field of a row, as its shape in the document asks."""
    place = _place(family, spec.name)
    field = _make_field(spec, place, choices)
    field.label = spec.label
    field.required = spec.required or (place.shape.required and place.shape.kind is not Kind.FLAG)
    field.widget.is_required = field.required
    if isinstance(field, forms.CharField | forms.ChoiceField) and not isinstance(field, FigureField):
        field.error_messages["required"] = "This may not stay empty."
    if spec.hint:
        field.help_text = spec.hint
    return field


def _place(family: str, name: str) -> _Place:
    outer, _, inner = name.partition(".")
    shapes = {shape.name: shape for shape in shape_of(RowField.part_class(family))}
    if not inner:
        return _Place(shapes[outer], "")
    return _Place({shape.name: shape for shape in shape_of(shapes[outer].inner)}[inner], outer)


def _make_field(  # noqa: PLR0911  (one kind of field, one line)
    spec: RowField, place: _Place, choices: RowChoices
) -> forms.Field:
    shape = place.shape
    offered = choices.of(spec)
    if offered is not None:
        blank = [] if shape.required or spec.required else [("", "–")]
        return _KnownChoiceField(choices=[*blank, *offered])
    if shape.kind is Kind.NUMBER:
        return _number_field(spec, shape, choices)
    if shape.kind is Kind.COUNT:
        limits = limits_of(shape.owner, shape.name)
        return CountField(least=int(limits.least), most=int(limits.most))
    if shape.kind is Kind.TEXTS:
        return KeysField(max_length=400)
    if shape.kind is Kind.PARTS:
        return CurveField(max_length=2000) if shape.name == "points" else SourcesField(max_length=400)
    if shape.kind is Kind.FLAG:
        return forms.BooleanField(required=False)
    return forms.CharField(max_length=text_length(shape.owner, shape.name), strip=True, validators=[_check_printable])


def _check_printable(text: str) -> None:
    if NOT_PRINTABLE.search(text.replace("\r", "").replace("\n", " ")):
        raise ValidationError("This holds a character that cannot be printed or seen. Type it anew.")


def _number_field(spec: RowField, shape: FieldShape, choices: RowChoices) -> FigureField:
    limits = limits_of(shape.owner, shape.name)
    least = limits.least
    decimals = SCALES[shape.name].decimals
    if limits.above_least:
        least += 10**-decimals
    match spec.shown_as:
        case "length":
            return LengthField(choices.units, least=least, most=limits.most)
        case "mass":
            return MassField(choices.units, least=least, most=limits.most)
        case "percent":
            return PercentField(least=least, most=limits.most)
        case "milliampere":
            return MilliampereField(least=least, most=limits.most)
        case _:
            return FigureField(decimals=decimals, least=least, most=limits.most, unit=spec.unit)


def unkept_texts(family: str, choices: RowChoices, values: Mapping[str, Any]) -> dict[str, str | bool]:
    """Return document values as the fields of a row of ``family`` would show them, by form field name."""
    form = RowForm(family, choices)
    shown: dict[str, str | bool] = {}
    for name, value in values.items():
        form.initial[name] = shown_value(value)
        shown[name] = value if isinstance(value, bool) else form.shown(name)
    return shown


class _KnownChoiceField(forms.ChoiceField):
    """A choice that also takes the value a row has already, where today's table no longer offers it."""

    default_error_messages = {"invalid_choice": "Choose one of the list; “%(value)s” is not in it."}

    def _offered(self) -> list[tuple[Any, Any]]:
        choices: Any = self.choices
        return list(choices)

    def valid_value(self, value: Any) -> bool:
        """Compare as text."""
        return any(str(value) == str(offered) for offered, _ in self._offered())


class KeysField(forms.CharField):
    """Several addresses, with commas between them."""

    def prepare_value(self, value: Any) -> Any:
        """Show a list with commas."""
        return ", ".join(value) if isinstance(value, list | tuple) else value

    def to_python(self, value: Any) -> Any:
        """Return the list."""
        return [word.strip() for word in str(value or "").split(",") if word.strip()]

    def run_validators(self, value: Any) -> None:
        """The service checks each address against the build."""

    def validate(self, value: Any) -> None:
        """An empty list is a list."""


def stored_value(part: Any, name: str) -> Any:
    """Return a value of a frozen part for its field: figures as decimals, lists as texts with commas."""
    outer, _, inner = name.partition(".")
    value = getattr(part, outer)
    if inner:
        value = None if value is None else getattr(value, inner)
    return shown_value(value)


def shown_value(value: Any) -> Any:
    """Return a document's value as its field takes it."""
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, int | float):
        return Decimal(repr(value))
    if isinstance(value, tuple) and value and not isinstance(value[0], str):
        return curve_text(value) if isinstance(value[0], AlternatorPoint) else sources_text(value)
    return ", ".join(value) if isinstance(value, tuple) else str(value)


def document_value(value: Any) -> Any:
    """Return a cleaned value as the document has it: figures as ``int`` or ``float``."""
    if not isinstance(value, Decimal):
        return value
    return int(value) if value == value.to_integral_value() else float(value)
