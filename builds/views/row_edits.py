"""A row of a design opened for editing, ready for its template: fields, versions, conflicts, addresses."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from django.forms import BoundField
from django.http import QueryDict
from django.urls import reverse

from builds.engineering.changes import FAMILIES as CORE_FAMILIES
from builds.engineering.design import Design
from builds.engineering.vocabulary import NodeKind
from builds.errors import NotHere, StaleRow
from builds.forms.design_rows import MERGE, RowForm
from builds.forms.row_choices import choices_of
from builds.models import Build
from builds.selectors.build_sheet import Sheet
from builds.selectors.sheet_findings import Margin, margins_of, row_id
from builds.selectors.sheet_rows import CircuitRow, LoadRow, circuit_row, load_rows
from builds.services.design_rows import FAMILIES
from builds.services.row_merge import said_value

__all__ = ["Conflict", "RowEdit", "add_to", "dress", "open_row", "part_of", "version_of"]

# Cells beside the margin column in each family's table.
COLUMNS = {
    "circuit": 11,
    "load": 11,
    "run": 10,
    "node": 6,
    "condition": 7,
    "duty": 8,
    "segment": 6,
    "shed": 7,
    "operation": 10,
    "part": 9,
}
WORDS = {
    "circuit": "circuit", "load": "load", "run": "run", "node": "part of the tree", "condition": "condition",
    "operation": "operation", "part": "line", "duty": "duty profile", "segment": "segment", "shed": "shedding step",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Conflict:
    """A field that someone else changed too: both values as they are shown."""

    label: str
    merge_name: str
    yours: str
    theirs: str


@dataclass(slots=True, kw_only=True)
class RowEdit:
    """One row (or a new one) as its fields; ``load_form`` is the current of a circuit's only load, beside the circuit's."""

    number: str
    family: str
    key: str
    form: RowForm
    row_version: int = 0
    load_form: RowForm | None = None
    load_key: str = ""
    load_version: int = 0
    margin: Margin = field(default_factory=Margin)
    row: CircuitRow | None = None
    loads: list[LoadRow] = field(default_factory=list)
    load_edit: "RowEdit | None" = None
    conflicts: list[Conflict] = field(default_factory=list)
    conflict_words: str = ""
    parent: str = ""
    circuit: "RowEdit | None" = None
    slot: str = ""

    def tie_fields(self) -> None:
        """Let every field name its form, since a form cannot hold the cells of a row, and the cell that opens it."""
        for form in (self.form, self.load_form):
            for name, item in form.fields.items() if form is not None else ():
                item.widget.attrs["form"] = self.form_id
                item.widget.attrs["data-field-for"] = "load" if form is self.load_form else name
        if self.family == "part":
            self.form.fields["part_number"].widget.attrs |= {
                "list": "parts-catalogue",
                "autocomplete": "off",
                "data-catalogue": reverse("part-choice", args=[self.number]),
            }

    @property
    def is_new(self) -> bool:
        """Whether the row is being added."""
        return not self.key

    @property
    def subject(self) -> str:
        """The address "circuit:203"; empty for a new row."""
        return f"{self.family}:{self.key}" if self.key else ""

    @property
    def element_id(self) -> str:
        """The element that the answer replaces."""
        return row_id(self.subject) if self.key else f"new-{self.slot or self.family}"

    @property
    def form_id(self) -> str:
        """The form that the fields of all cells belong to."""
        return f"edit-{self.element_id}"

    @property
    def columns(self) -> int:
        """How many cells the fields may take."""
        return COLUMNS[self.family]

    @property
    def what(self) -> str:
        """What is edited: "circuit 203"."""
        return f"{WORDS[self.family]} {self.key}"

    @property
    def what_kind(self) -> str:
        """The kind of row: "circuit"."""
        return WORDS[self.family]

    @property
    def title(self) -> str:
        """The line above the fields."""
        if not self.is_new:
            return self.what[:1].upper() + self.what[1:]
        kind = f": {self.form.kind.replace('_', ' ')}" if self.family == "node" and self.form.kind else ""
        return f"New {self.what_kind}{kind}"

    @property
    def says(self) -> str:
        """What stands at the place of the preview before anything is typed."""
        return "" if self.is_new else "Change a field to see what it would do."

    @property
    def address(self) -> str:
        """Where the fields are sent."""
        if self.is_new:
            extra = {"kind": self.form.kind} if self.family == "node" else {}
            extra |= {"circuit": self.parent.partition(":")[2]} if self.parent else {}
            return reverse("row-add", args=[self.number, self.family]) + (f"?{urlencode(extra)}" if extra else "")
        return reverse("row-edit", args=[self.number, self.family, self.key])

    @property
    def preview_address(self) -> str:
        """Where the fields are sent to see what they would change."""
        return reverse("row-preview", args=[self.number, self.family, self.key])

    @property
    def remove_address(self) -> str:
        """Where the row is taken out."""
        return reverse("row-remove", args=[self.number, self.family, self.key])

    @property
    def back_address(self) -> str:
        """The sheet with this row closed."""
        sheet = reverse("build-detail", args=[self.number])
        if self.is_new:
            return f"{sheet}?{urlencode({'close': self.slot or self.family})}#{self.element_id}"
        return f"{sheet}?{urlencode({'row': self.subject})}#{self.element_id}"

    @property
    def add_load_address(self) -> str:
        """The sheet with a new load open at this circuit."""
        query = urlencode({"add": "load", "circuit": self.key})
        return f"{reverse('build-detail', args=[self.number])}?{query}#{self.load_slot_id}"

    @property
    def load_slot(self) -> str:
        """The place at this circuit where a new load opens."""
        return f"load-{self.element_id}"

    @property
    def load_slot_id(self) -> str:
        """Its element."""
        return f"new-{self.load_slot}"

    @property
    def new_load(self) -> "RowEdit | None":
        """The new load open at this circuit, if one is."""
        return self.load_edit if self.load_edit and self.load_edit.is_new else None

    @property
    def was(self) -> Iterator[tuple[str, str]]:
        """The hidden fields: what each field was shown with; a new row was shown nothing."""
        if self.is_new:
            return
        yield from self.form.was()
        if self.load_form is not None:
            yield from self.load_form.was()

    @property
    def row_fields(self) -> list[BoundField]:
        """The fields of the row itself."""
        return [self.form[spec.form_name] for spec in self.form.specs() if self._in_row(spec.in_row)]

    @property
    def more_fields(self) -> list[BoundField]:
        """The fields under "More"."""
        return [self.form[spec.form_name] for spec in self.form.specs() if not self._in_row(spec.in_row)]

    @property
    def cell_faults(self) -> list[BoundField]:
        """The cells of a circuit's row that cannot be taken: their words stand under the row."""
        cells = [*self.row_fields, *([self.load_form["current_a"]] if self.load_form else [])]
        return [item for item in cells if item.errors]

    @property
    def more_open(self) -> bool:
        """Whether a fault stands under "More"."""
        return any(item.errors for item in self.more_fields)

    def _in_row(self, in_row: bool) -> bool:
        """A new row and a thing of the power tree show every field at once."""
        return (
            in_row
            or (self.family == "node")
            or (self.is_new and self.family in ("circuit", "run", "part", "operation", "duty", "segment", "shed"))
        )

    def show_conflict(self, error: StaleRow) -> None:
        """Say which fields both people changed, with both values as they would be shown."""
        self.conflict_words = "Someone changed this row while you had it open. Choose for each field, then keep."
        for item in error.conflicts:
            form, name = (self.load_form, item.field[5:]) if item.field.startswith("load.") else (self.form, item.field)
            form_name = name.replace(".", "__")
            if form is None or form_name not in form.fields:
                continue
            bound = form[form_name]
            self.conflicts.append(
                Conflict(
                    str(bound.label),
                    MERGE + bound.html_name,
                    said_value(bound.value()) or "empty",
                    _said_now(form, form_name, bound) or "empty",
                )
            )
        if not self.conflicts:
            self.conflict_words = (
                "Someone changed this row while you had it open, in other fields. Keep again to add yours."
            )


def _said_now(form: RowForm, name: str, bound: BoundField) -> str:
    """What a field says as the row is kept: a choice of several by its names, everything else as it is shown."""
    return said_value(form.initial.get(name)) if isinstance(bound.value(), list) else form.shown(name)


def part_of(design: Design, family: str, key: str) -> Any:
    """Return the frozen part a row shows. Raises NotHere."""
    if family not in CORE_FAMILIES:
        raise NotHere(f"There is no kind of row called {family!r}.")
    kind = CORE_FAMILIES[family]
    for part in getattr(design, kind.field):
        if kind.key_of(part) == key:
            return part
    raise NotHere(f"Build {design.number} has no {family} {key}.")


def version_of(build: Build, family: str, key: str) -> int:
    """Return the version of a row as it is kept. Raises NotHere."""
    kind = FAMILIES[family]
    found = kind.rows(build).filter(**{kind.key_field: key}).values_list("row_version", flat=True).first()
    if found is None:
        raise NotHere(f"Build {build.number} has no {family} {key}.")
    return int(found)


def open_row(build: Build, design: Design, family: str, key: str, *, data: QueryDict | None = None) -> RowEdit:
    """Return a row opened with its kept values, or with what a person sent."""
    part = part_of(design, family, key)
    choices = choices_of(design)
    edit = RowEdit(
        number=design.number, family=family, key=key, form=RowForm(family, choices, part=part, data=data),
        row_version=version_of(build, family, key),
    )  # fmt: skip
    if family == "load":
        edit.parent = f"circuit:{part.circuit}"
    loads = [load for load in design.loads if load.circuit == key] if family == "circuit" else []
    if len(loads) == 1:
        # the current of a circuit's only load is typed beside the circuit's own figures
        edit.load_key = loads[0].key
        edit.load_form = RowForm("load", choices, part=loads[0], data=data, prefix="load", only=("current_a",))
        edit.load_version = version_of(build, "load", edit.load_key)
    edit.tie_fields()
    return edit


def dress(edit: RowEdit, sheet: Sheet) -> RowEdit:
    """Add what stands around the fields on the sheet: marks, the circuit's figures, its loads."""
    edit.margin = margins_of(sheet).get(edit.subject, Margin())
    if edit.family == "circuit" and edit.key:
        edit.circuit = edit
        edit.row = circuit_row(sheet, edit.key)
        edit.loads = load_rows(sheet, edit.key)
    return edit


def add_to(design: Design, family: str, *, kind: str = "", circuit: str = "", data: QueryDict | None = None) -> RowEdit:
    """Return a new row with a free address proposed, or with what a person sent."""
    if family not in CORE_FAMILIES:
        raise NotHere(f"There is no kind of row called {family!r}.")
    if family == "node" and kind not in list(NodeKind):
        raise NotHere(f"There is no part of a power tree called {kind!r}.")
    form = RowForm(family, choices_of(design), kind=kind, data=data)
    form.propose(design, circuit=circuit)
    edit = RowEdit(number=design.number, family=family, key="", form=form, slot=family)
    if family == "load" and circuit:
        edit.parent = f"circuit:{circuit}"
        edit.slot = f"load-{row_id(edit.parent)}"
    edit.tie_fields()
    return edit
