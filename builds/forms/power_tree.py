"""
What can be asked of the power tree at one of its lines, each question a form of its own.

A question knows its fields, the steps it asks for, and where the words of a refusal belong.
"""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms import BoundField

from builds.engineering.design import Circuit, Design, PowerNode, Run
from builds.engineering.errors import TreeRefused
from builds.engineering.tree_edits import (
    TreeStep,
    add_below,
    fed_by,
    feed_from,
    move_circuit,
    split_run,
    take_out_node,
    take_out_run,
)
from builds.engineering.vocabulary import NodeKind, RunSide
from builds.errors import BuildError
from builds.forms.design_rows import RowForm, document_value
from builds.forms.fields import CountField, LengthField
from builds.forms.row_choices import choices_of
from builds.forms.row_fields import RowChoices

__all__ = ["Question", "questions_at"]

# Kinds that need no figures of their own beyond a panel's positions; the others are added on the sheet.
_SUPPLY_KINDS = (NodeKind.BUS, NodeKind.PANEL, NodeKind.MODULE, NodeKind.DISCONNECT, NodeKind.ISOLATOR)
_RETURN_KINDS = (NodeKind.GROUND, NodeKind.CHASSIS, NodeKind.BUS)
_NODE_FIELDS = ("key", "name", "zone", "rating_a", "chassis", "panel.positions", "panel.columns")
_RUN_FIELDS = ("key", "gauge", "length_m", "device_rating_a", "device_family", "device_distance_m")


class Question:
    """One change that can be asked for at a line: its form, its words, and the steps it takes."""

    def __init__(self, do: str, title: str, button: str, *, says: str = "", destroys: bool = False) -> None:
        self.do, self.title, self.button, self.says, self.destroys = do, title, button, says, destroys
        self.design: Design
        self.own: forms.Form = forms.Form()
        self.rows: dict[str, RowForm] = {}
        self.kinds: tuple[str, ...] = ()
        self.kind = ""
        self.label = ""
        self.open = False

    @property
    def fields(self) -> list[BoundField]:
        """All fields in the order they are asked."""
        return [*self.own, *(field for form in self.rows.values() for field in form)]

    @property
    def faults(self) -> list[str]:
        """Words that belong to no field."""
        forms_asked = (self.own, *self.rows.values())
        return [str(words) for form in forms_asked for words in form.non_field_errors()]

    def is_valid(self) -> bool:
        """Whether every field can be read; each of them is checked, so that every fault is shown at once."""
        valid = [form.is_valid() for form in (self.own, *self.rows.values())]
        return all(valid)

    def steps(self) -> tuple[TreeStep, ...]:
        """Return the steps; valid questions only. Raises TreeRefused."""
        raise NotImplementedError

    def values(self, part: str) -> dict[str, Any]:
        """Return what was typed of a new row."""
        return self.rows[part].values()

    def refuse(self, error: TreeRefused | BuildError) -> None:
        """Put the words of a refusal where they belong: at the field, else at the head of the form."""
        if isinstance(error, TreeRefused):
            self.own.add_error(error.field if error.field in self.own.fields else None, str(error))
            return
        placed = False
        for name, words in error.fields.items():
            part, _, field = name.partition(".")
            form = self.rows.get("run" if part == "new_run" else part)
            if form is not None and field.replace(".", "__") in form.fields:
                form.add_error(field.replace(".", "__"), words)
                placed = True
        if not placed:
            self.own.add_error(None, error.message)


class _Feed(Question):
    def __init__(self, design: Design, run: Run, choices: RowChoices, data: Any) -> None:
        super().__init__("feed", f"Feed {run.to_node} from elsewhere", "Feed it from there")
        self.design, self.run = design, run
        self.own = forms.Form(data)
        offered = [item for item in choices.lists["nodes"] if item[0] not in (run.from_node, run.to_node)]
        label = f"Instead of {run.from_node}, run {run.key} starts at"
        self.own.fields["source"] = _choice(label, offered)

    def steps(self) -> tuple[TreeStep, ...]:
        source = self.own.cleaned_data["source"]
        self.label = f"{self.run.to_node} fed from {source} by run {self.run.key}"
        return feed_from(self.design, run=self.run.key, source=source)


class _Move(Question):
    def __init__(self, design: Design, circuit: Circuit, choices: RowChoices, data: Any) -> None:
        super().__init__("move", f"Start circuit {circuit.number} elsewhere", "Move it there")
        self.design, self.circuit = design, circuit
        self.own = forms.Form(data)
        self.own.fields["source"] = _choice(f"Instead of {circuit.panel}, it starts at", choices.lists["panels"])
        self.own.fields["position"] = CountField(label="Position, the first free one if empty", required=False)

    def steps(self) -> tuple[TreeStep, ...]:
        cleaned = self.own.cleaned_data
        position = document_value(cleaned["position"])
        self.label = f"circuit {self.circuit.number} moved to {cleaned['source']}"
        return move_circuit(self.design, number=self.circuit.number, panel=cleaned["source"], position=position)


class _Split(Question):
    def __init__(self, design: Design, run: Run, choices: RowChoices, data: Any, kind: str) -> None:
        super().__init__(
            "split", f"Split the feed {run.key}", "Split it there", says="The device stays at its battery end."
        )
        self.design, self.run = design, run
        self.kinds, self.kind = _kinds(run.side, kind)
        self.own = forms.Form(data)
        self.own.fields["at_m"] = LengthField(choices.units, least=0, most=100, label=f"From {run.from_node} on")
        self.rows["node"] = _node_form(design, choices, self.kind, data, zone=_zone(design, run.to_node))
        self.rows["run"] = RowForm("run", choices, data=data, prefix="run", only=("key",))
        self.rows["run"].propose(design)
        self.rows["run"].fields["key"].label = "Run from there on"

    def steps(self) -> tuple[TreeStep, ...]:
        node = self.values("node") | {"kind": self.kind}
        self.label = f"feed {self.run.key} split by {node['key']}"
        at_m = float(self.own.cleaned_data["at_m"])
        return split_run(self.design, run=self.run.key, at_m=at_m, node=node, new_run=self.values("run")["key"])


class _Add(Question):
    def __init__(
        self, design: Design, node: PowerNode, side: RunSide, choices: RowChoices, data: Any, kind: str
    ) -> None:
        super().__init__("add", f"Add something fed from {node.key}", "Add it")
        self.design, self.node, self.side = design, node, side
        self.kinds, self.kind = _kinds(side, kind)
        self.own = forms.Form(data)
        self.rows["node"] = _node_form(design, choices, self.kind, data, zone=node.zone)
        self.rows["run"] = _run_form(design, choices, data)

    def steps(self) -> tuple[TreeStep, ...]:
        node = self.values("node") | {"kind": self.kind}
        self.label = f"{node['key']} added, fed from {self.node.key}"
        run = self.values("run") | {"side": self.side.value}
        return add_below(self.design, source=self.node.key, node=node, run=run)


class _Join(Question):
    def __init__(self, design: Design, node: PowerNode, side: RunSide, choices: RowChoices, data: Any) -> None:
        super().__init__("join", f"Add a run from {node.key} to something that is there", "Add the run")
        self.design, self.node, self.side = design, node, side
        self.own = forms.Form(data)
        self.own.fields["to_node"] = _choice(
            "Ends at", [item for item in choices.lists["nodes"] if item[0] != node.key]
        )
        self.rows["run"] = _run_form(design, choices, data)

    def steps(self) -> tuple[TreeStep, ...]:
        run = self.values("run") | {"side": self.side.value, "to_node": self.own.cleaned_data["to_node"]}
        self.label = f"run {run['key']} added from {self.node.key} to {run['to_node']}"
        return add_below(self.design, source=self.node.key, node=None, run=run)


class _TakeOut(Question):
    def __init__(self, design: Design, node: PowerNode, data: Any) -> None:
        super().__init__("take-out", f"Take out {node.key}", f"Take out {node.key}", destroys=True)
        self.design, self.node = design, node
        self.own = forms.Form(data)
        below = [run.to_node for run in fed_by(design, node.key)]
        if below:
            shown = ", ".join(below[:4]) + (f" and {len(below) - 4} more" if len(below) > 4 else "")
            label = f"Feed {shown} from where {node.key} is fed from"
            self.own.fields["close_up"] = forms.BooleanField(label=label, required=False)

    def steps(self) -> tuple[TreeStep, ...]:
        self.label = f"{self.node.key} taken out"
        return take_out_node(self.design, node=self.node.key, close_up=bool(self.own.cleaned_data.get("close_up")))


class _TakeOutRun(Question):
    def __init__(self, design: Design, run: Run, data: Any) -> None:
        super().__init__(
            "take-out-run", f"Take out run {run.key} alone", f"Take out run {run.key}", destroys=True,
            says=f"{run.to_node} stays, without this feed.",
        )  # fmt: skip
        self.design, self.run, self.own = design, run, forms.Form(data)

    def steps(self) -> tuple[TreeStep, ...]:
        self.label = f"run {self.run.key} taken out"
        return take_out_run(self.design, run=self.run.key)


class _TakeOutCircuit(Question):
    def __init__(self, design: Design, circuit: Circuit, data: Any) -> None:
        loads = sum(load.circuit == circuit.number for load in design.loads)
        super().__init__(
            "take-out-circuit", f"Take out circuit {circuit.number}", f"Take out circuit {circuit.number}", destroys=True,
            says=f"Its {loads} load{'s go' if loads != 1 else ' goes'} with it." if loads else "",
        )  # fmt: skip
        self.circuit, self.own = circuit, forms.Form(data)

    def steps(self) -> tuple[TreeStep, ...]:
        self.label = f"circuit {self.circuit.number} taken out"
        return (TreeStep(family="circuit", key=self.circuit.number),)


def questions_at(
    design: Design,
    *,
    side: RunSide,
    subject: str,
    kind: str = "",
    asked: str = "",
    data: Mapping[str, Any] | None = None,
) -> list[Question]:
    """
    Return what can be asked at a line, ``subject`` being "run:R8", "node:BAT1" or "circuit:203".

    ``data`` goes to the question ``asked``, which then stands open.
    """
    choices = choices_of(design)
    family, _, key = subject.partition(":")

    def sent(do: str) -> Any:
        return data if do == asked else None

    if family == "circuit":
        circuit = next(item for item in design.circuits if item.number == key)
        found: list[Question] = [
            _Move(design, circuit, choices, sent("move")),
            _TakeOutCircuit(design, circuit, sent("take-out-circuit")),
        ]
    else:
        run = next((item for item in design.runs if item.key == key), None) if family == "run" else None
        node = next(item for item in design.nodes if item.key == (run.to_node if run else key))
        found = (
            [_Feed(design, run, choices, sent("feed")), _Split(design, run, choices, sent("split"), kind)]
            if run
            else []
        )
        if side is RunSide.SUPPLY or node.kind not in (NodeKind.PANEL, NodeKind.MODULE, NodeKind.ALTERNATOR):
            found.append(_Add(design, node, side, choices, sent("add"), kind))
            found.append(_Join(design, node, side, choices, sent("join")))
        found += [_TakeOutRun(design, run, sent("take-out-run"))] if run else []
        found.append(_TakeOut(design, node, sent("take-out")))
    for question in found:
        question.open = question.do == asked
        for form in (question.own, *question.rows.values()):
            _dress(form, question.do)
    return found


def _dress(form: forms.Form, do: str) -> None:
    """Give every field of every question an id of its own."""
    form.auto_id = f"{do}-%s"
    for field in form.fields.values():
        if not isinstance(field, forms.BooleanField):
            field.widget.attrs.setdefault("class", "control")


def _choice(label: str, offered: Any) -> forms.ChoiceField:
    field = forms.ChoiceField(label=label, choices=[("", "–"), *offered])
    field.error_messages |= {"required": "Choose one.", "invalid_choice": "Choose one of the list."}
    return field


def _kinds(side: RunSide, kind: str) -> tuple[tuple[str, ...], str]:
    offered = tuple(item.value for item in (_SUPPLY_KINDS if side is RunSide.SUPPLY else _RETURN_KINDS))
    return offered, kind if kind in offered else offered[0]


def _zone(design: Design, key: str) -> str:
    return next((node.zone for node in design.nodes if node.key == key), "")


def _node_form(design: Design, choices: RowChoices, kind: str, data: Any, *, zone: str) -> RowForm:
    form = RowForm("node", choices, kind=kind, data=data, prefix="node", only=_NODE_FIELDS)
    form.propose(design)
    form.initial["zone"] = zone
    return form


def _run_form(design: Design, choices: RowChoices, data: Any) -> RowForm:
    form = RowForm("run", choices, data=data, prefix="run", only=_RUN_FIELDS)
    form.propose(design)
    return form
