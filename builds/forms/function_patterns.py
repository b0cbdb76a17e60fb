"""The form of a flash pattern: its steps as rows that are added, taken out and moved."""

import re
from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.patterns import FlashPattern, FlashStep, flash_limit, flash_limit_names
from builds.engineering.functions.reading import Part
from builds.engineering.functions.schedule import FunctionSchedule
from builds.forms.function_fields import PartForm, number_words

__all__ = ["PatternForm", "StepForm", "changed_rows", "sent_rows"]

Row = dict[str, str]
_MOST_ROWS_READ = 200  # more than a pattern may have, so that too many are refused and not cut off
_SHOWS = {"on": 100, "off": 0}
_CHANGE = re.compile(r"(up|down|remove)-([0-9]{1,3})")


class StepForm(forms.Form):
    """One step of a pattern: how long, and how bright."""

    duration_ms = forms.IntegerField(
        label="Lasts, in ms",
        min_value=1,
        max_value=10_000,
        error_messages=number_words("a whole number from 1 to 10,000"),
    )
    shows = forms.ChoiceField(label="Is", choices=[("on", "on"), ("off", "off"), ("dim", "dimmed to")])
    level_percent = forms.IntegerField(
        label="Dimmed to, in percent",
        min_value=1,
        max_value=99,
        required=False,
        error_messages=number_words("a whole number from 1 to 99"),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["level_percent"].asked_elsewhere = True  # type: ignore[attr-defined]  # shown for a dimmed step alone

    def clean(self) -> dict[str, Any]:
        """Ask for the brightness of a dimmed step; that of any other is not shown and says nothing."""
        values = super().clean() or {}
        if values.get("shows") in _SHOWS:
            self.errors.pop("level_percent", None)
        if values.get("shows") == "dim" and values.get("level_percent") is None and "level_percent" not in self.errors:
            self.add_error("level_percent", "Say to how many percent; expected a whole number from 1 to 99.")
        return values

    @property
    def button_ids(self) -> dict[str, str]:
        """The ids of the buttons that move it and take it out."""
        number = str(self.prefix).removeprefix("step-")
        return {what: f"{what}-{number}" for what in ("up", "down", "remove")}

    def step(self) -> FlashStep:
        """Return the step that the fields say."""
        values = self.cleaned_data
        level = _SHOWS[values["shows"]] if values["shows"] in _SHOWS else values["level_percent"]
        return FlashStep(duration_ms=values["duration_ms"], level_percent=level)


def sent_rows(data: Mapping[str, Any]) -> list[Row]:
    """Return the steps that a browser sent, as they were typed."""
    rows: list[Row] = []
    while f"step-{len(rows)}-duration_ms" in data and len(rows) < _MOST_ROWS_READ:
        rows.append({name: str(data.get(f"step-{len(rows)}-{name}", "")) for name in StepForm.base_fields})
    return rows


def changed_rows(rows: list[Row], change: str) -> tuple[list[Row], str, str]:
    """
    Return the rows after a change, the element that is worked next, and what is said of it.

    ``change`` is "add", or "up-", "down-" or "remove-" and a row counted from 0; anything else changes nothing.
    """
    rows = list(rows)
    if change == "add":
        lit = bool(rows) and rows[-1]["shows"] != "off"
        rows.append({"duration_ms": "", "shows": "off" if lit else "on", "level_percent": ""})
        return rows, f"id_step-{len(rows) - 1}-duration_ms", f"Step {len(rows)} is added."
    found = _CHANGE.fullmatch(change)
    if found is None or int(found[2]) >= len(rows):
        return rows, "", ""
    what, at = found[1], int(found[2])
    if what == "remove":
        del rows[at]
        return rows, f"remove-{at}" if at < len(rows) else "add", f"Step {at + 1} is taken out."
    to = at + (1 if what == "down" else -1)
    if not 0 <= to < len(rows):
        return rows, "", ""
    rows[at], rows[to] = rows[to], rows[at]
    other = {0: "down", len(rows) - 1: "up"}.get(to, what)  # a step at an end goes only one way
    return rows, f"{other}-{to}", f"Step {at + 1} is now step {to + 1}."


class PatternForm(PartForm):
    """A flash pattern: its steps, and the rates it has to keep to."""

    FIELD_OF: ClassVar[Mapping[str, str]] = {"lights": "steps"}

    limit = forms.ChoiceField(label="Rates it has to keep to", required=False)
    steps = forms.CharField(label="Steps", required=False)  # stands for the rows, and carries what is said of them all

    def __init__(self, schedule: FunctionSchedule, data: Any = None, **options: Any) -> None:
        initial = dict(options.pop("initial", None) or {})
        rows: list[Row] = initial.pop("steps", [])
        super().__init__(schedule, data, initial=initial, **options)
        self.rows = rows if data is None else sent_rows(data)
        field = self.fields["limit"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            ("", "none is asked"),
            *((key, f"{key}: {flash_limit(key).use}") for key in flash_limit_names()),
        ]
        self.step_forms = [StepForm(data, initial=row, prefix=f"step-{number}") for number, row in enumerate(self.rows)]

    @staticmethod
    def values_of(part: FlashPattern) -> dict[str, Any]:
        """Return what the fields of a pattern hold."""
        return {"key": part.key, "limit": part.limit, "steps": [_row(step) for step in part.steps]}

    def with_rows(self, rows: list[Row], focus: str) -> "PatternForm":
        """Return the form with other rows and the rest as it was typed, nothing of it judged yet; ``focus`` is an id."""
        typed = {name: self[name].value() for name in ("key", "limit")}
        form = PatternForm(self._schedule, initial=typed | {"steps": rows})
        for step in form.step_forms:
            if step["duration_ms"].auto_id == focus:
                step.fields["duration_ms"].widget.attrs["autofocus"] = True
        return form

    def shown_pattern(self) -> FlashPattern | None:
        """Return the pattern as far as its steps say one, whatever its name; None where they do not."""
        sent = {f"step-{at}-{name}": value for at, row in enumerate(self.rows) for name, value in row.items()}
        steps = [StepForm(sent, prefix=f"step-{at}") for at in range(len(self.rows))]
        limit = str(self["limit"].value() or "")
        if not all(step.is_valid() for step in steps):
            return None
        try:
            return FlashPattern(
                key=" ".join(str(self["key"].value() or "").split())[:40] or "this",
                steps=tuple(step.step() for step in steps),
                limit=limit if limit in flash_limit_names() else "",
            )
        except OutOfRange:
            return None

    def clean(self) -> dict[str, Any]:
        """Judge every row; what is wrong with one is said at it."""
        wrong = [str(number) for number, step in enumerate(self.step_forms, start=1) if not step.is_valid()]
        if wrong:
            self.add_error("steps", f"Mend step {', '.join(wrong)}.")
        return super().clean()

    def part(self) -> Part:
        """Return the pattern that the fields say."""
        values = self.cleaned_data
        return FlashPattern(
            key=values["key"], steps=tuple(step.step() for step in self.step_forms), limit=values["limit"]
        )


def _row(step: FlashStep) -> Row:
    shows = {100: "on", 0: "off"}.get(step.level_percent, "dim")
    level = str(step.level_percent) if shows == "dim" else ""
    return {"duration_ms": str(step.duration_ms), "shows": shows, "level_percent": level}
