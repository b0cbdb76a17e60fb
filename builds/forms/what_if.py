"""
What if one figure were another: a person names a thing of the build, which of its figures, and what that becomes.

Assumptions travel in the address of the page as "circuit:203 gauge 12", the value in the build's own units, so that a
question can be sent to somebody else; nothing of them is kept anywhere.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.engineering.changes import FAMILIES
from builds.engineering.design import Design
from builds.forms.design_table import Column
from builds.forms.row_choices import choices_of
from builds.forms.row_fields import FAMILY_FIELDS

__all__ = ["MOST_ASSUMPTIONS", "Assumption", "AssumptionForm", "read_assumptions", "subjects_of", "values_by_family"]

MOST_ASSUMPTIONS = 12

# What may be asked, under which words, and the field that holds it for each family of rows.
FIGURES: dict[str, tuple[str, dict[str, str]]] = {
    "gauge": ("gauge", {"circuit": "gauge", "run": "gauge"}),
    "length": ("length", {"circuit": "length_m", "run": "length_m"}),
    "device": ("fuse or breaker", {"circuit": "device_rating_a", "run": "device_rating_a"}),
    "count": ("lamp count", {"load": "quantity"}),
    "current": ("current each", {"load": "current_a"}),
    "alternator": ("rated output", {"node": "alternator.rated_a"}),
    "battery": ("capacity", {"node": "battery.capacity_ah"}),
}
_FAMILIES = ("circuit", "run", "load", "node")


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """One figure of one row that is taken to be another; ``was`` and ``becomes`` as they are shown."""

    family: str
    key: str
    figure: str
    field: str
    label: str
    unit: str
    was: str
    becomes: str
    value: Any

    @property
    def text(self) -> str:
        """How it stands in an address: "circuit:203 gauge 12"."""
        return f"{self.family}:{self.key} {self.figure} {self.becomes}"

    @property
    def subject(self) -> str:
        """The row it is about."""
        return f"{self.family}:{self.key}"

    @property
    def words(self) -> str:
        """The sentence "circuit 203: gauge 14 → 12"."""
        name = self.key if self.family == "node" else f"{self.family} {self.key}"
        unit = f" {self.unit}" if self.unit else ""
        return f"{name}: {self.label} {self.was or 'none'} → {self.becomes}{unit}"


class AssumptionForm(forms.Form):
    """One more assumption, as it is typed."""

    what = forms.CharField(
        label="Of", max_length=80, widget=forms.TextInput(attrs={"list": "what-if-things", "autocomplete": "off"})
    )
    figure = forms.ChoiceField(label="What if the", choices=[(key, words) for key, (words, _) in FIGURES.items()])
    becomes = forms.CharField(
        label="Were", max_length=20, widget=forms.TextInput(attrs={"autocomplete": "off", "size": 8})
    )

    def __init__(self, design: Design, data: Any = None) -> None:
        super().__init__(data)
        self.design = design
        self.assumption: Assumption | None = None
        self.fields["what"].error_messages["required"] = "Name a circuit, a run, a load, the alternator or a battery."
        self.fields["becomes"].error_messages["required"] = "Say what it becomes."

    def clean(self) -> dict[str, Any]:
        """Find the row and read the value, with words at the field that is wrong."""
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        try:
            family, key = _row_of(self.design, cleaned["what"], cleaned["figure"])
        except ValidationError as error:
            self.add_error("what", error)
            return cleaned
        try:
            self.assumption = _assume(self.design, family, key, cleaned["figure"], cleaned["becomes"])
        except ValidationError as error:
            self.add_error("becomes", error)
        return cleaned


def _row_of(design: Design, typed: str, figure: str) -> tuple[str, str]:
    """Return the row a person means by "203", "circuit:203" or "203 SCENE LEFT"; a circuit's only load is the circuit's."""
    family, _, rest = typed.partition(":")
    name = (rest if family in _FAMILIES and rest else typed).split(maxsplit=1)[0].casefold()
    wanted = [family] if family in _FAMILIES and rest else list(_FAMILIES)
    holds = FIGURES[figure][1]
    found = [(kind, key) for kind in wanted for key in _keys(design, kind) if key.casefold() == name]
    for kind, key in found:
        if kind in holds and _has(design, kind, key, holds[kind]):
            return kind, key
    for kind, key in found:
        if kind == "circuit" and "load" in holds:
            return "load", _only_load(design, key)
    if not found:
        raise ValidationError(f"This build has no {typed}.")
    raise ValidationError(f"{found[0][1]} has no {FIGURES[figure][0]}.")


def _keys(design: Design, family: str) -> Iterator[str]:
    kind = FAMILIES[family]
    return (kind.key_of(part) for part in getattr(design, kind.field))


def _part(design: Design, family: str, key: str) -> Any:
    kind = FAMILIES[family]
    return next(part for part in getattr(design, kind.field) if kind.key_of(part) == key)


def _has(design: Design, family: str, key: str, field: str) -> bool:
    """Whether a row has a nested part at all: an alternator's output belongs to an alternator."""
    outer, _, inner = field.partition(".")
    return not inner or getattr(_part(design, family, key), outer) is not None


def _only_load(design: Design, circuit: str) -> str:
    loads = [load.key for load in design.loads if load.circuit == circuit]
    if len(loads) != 1:
        said = f"{len(loads)} loads: {', '.join(loads[:6])}" if loads else "no load"
        raise ValidationError(f"Circuit {circuit} has {said}. Name the load.")
    return loads[0]


def _assume(design: Design, family: str, key: str, figure: str, becomes: str) -> Assumption:
    field = FIGURES[figure][1][family]
    spec = next(spec for spec in FAMILY_FIELDS[family] if spec.name == field)
    column = Column(spec, family, choices_of(design), design.conventions.gauge_basis)
    was = column.shown(_part(design, family, key))
    value = column.read(becomes)
    if becomes.strip() == was:
        raise ValidationError(f"It is {was} already.")
    return Assumption(
        family=family, key=key, figure=figure, field=field, label=FIGURES[figure][0], unit=column.unit, was=was,
        becomes=becomes.strip(), value=value,
    )  # fmt: skip


def read_assumptions(design: Design, texts: Iterable[str]) -> tuple[list[Assumption], list[str]]:
    """Return the assumptions of an address and words about those that no longer fit; of two about one figure the later."""
    found: dict[tuple[str, str], Assumption] = {}
    words: list[str] = []
    for text in list(texts)[:MOST_ASSUMPTIONS]:
        what, _, rest = text.partition(" ")
        figure, _, becomes = rest.partition(" ")
        form = AssumptionForm(design, {"what": what, "figure": figure, "becomes": becomes})
        if form.is_valid() and form.assumption is not None:
            found[form.assumption.subject, form.assumption.field] = form.assumption
        else:
            reasons = [reason for errors in form.errors.values() for reason in errors]
            words.append(f"“{text}” is left out: {reasons[0] if reasons else 'it cannot be read.'}")
    return list(found.values()), words


def values_by_family(assumptions: Iterable[Assumption]) -> dict[str, dict[str, dict[str, Any]]]:
    """Return new values by family, row and field."""
    values: dict[str, dict[str, dict[str, Any]]] = defaultdict(lambda: defaultdict(dict))
    for item in assumptions:
        values[item.family][item.key][item.field] = item.value
    return values


def subjects_of(design: Design) -> list[tuple[str, str]]:
    """Return what can be named, each with its words: circuits, runs, loads, alternators and batteries."""
    return [
        *((f"circuit:{item.number}", f"{item.number} {item.legend}") for item in design.circuits),
        *((f"run:{item.key}", f"{item.key} {item.from_node} to {item.to_node}") for item in design.runs),
        *((f"load:{item.key}", f"{item.key} {item.name}") for item in design.loads),
        *(
            (f"node:{item.key}", f"{item.key} {item.name}")
            for item in design.nodes
            if item.alternator is not None or item.battery is not None
        ),
    ]
