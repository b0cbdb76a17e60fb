"""Forms of customers and of the rules of a buyer."""

from typing import Any

from django import forms

from builds.engineering.buyer_rules import RuleKind
from builds.engineering.vocabulary import DropCurrent
from builds.forms.fields import FigureField, PercentField
from builds.models import BuyerProfile, BuyerRule
from builds.selectors.profile_rules import DropRuleRow

__all__ = ["CustomerForm", "DropRuleForm", "RuleForm"]

_NEEDED = {"required": "This may not stay empty."}


def _text(label: str, length: int, *, required: bool = False, hint: str = "") -> forms.CharField:
    return forms.CharField(
        label=label, max_length=length, required=required, help_text=hint,
        error_messages={**_NEEDED, "max_length": f"Use at most {length} characters."},
    )  # fmt: skip


class CustomerForm(forms.Form):
    """What is known of a customer."""

    TEXTS = ("name", "contact_name", "telephone", "email", "address")

    name = _text("Name", 120, required=True)
    contact_name = _text("Who to talk to there", 120)
    telephone = _text("Telephone", 40)
    email = _text("Mail address", 254)
    address = forms.CharField(
        label="Address", max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"max_length": "Use at most 1000 characters."},
    )  # fmt: skip
    profile = forms.ModelChoiceField(
        label="Rules its next builds follow", queryset=BuyerProfile.objects.order_by("name"), required=False,
        empty_label="Rules of its own, or as they are", error_messages={"invalid_choice": "Choose one of the list."},
    )  # fmt: skip

    def texts(self) -> dict[str, str]:
        """Return what the service takes."""
        return {name: self.cleaned_data[name] for name in self.TEXTS}


class RuleForm(forms.Form):
    """A profile's own value of a rule, and where it comes from."""

    source = _text("Where it comes from", 200, required=True, hint="The contract, a standard, the buyer's letter")

    def __init__(self, kind: RuleKind, own: BuyerRule | None, data: Any = None) -> None:
        super().__init__(data)
        self.fields = {"value": _value_field(kind), "source": self.fields["source"]}
        if own is not None:
            self.initial = {
                "value": own.text_value if own.number_value is None else own.number_value,
                "source": own.source,
            }


def _value_field(kind: RuleKind) -> forms.Field:
    field: forms.Field
    if isinstance(kind.default, str) and kind.choices:
        choices = [(choice, choice.replace("_", " ")) for choice in kind.choices]
        field = forms.ChoiceField(choices=choices, error_messages={"invalid_choice": "Choose one of the list."})
    elif isinstance(kind.default, str):
        field = _text("Value", 120, required=True)
    else:
        unit = "" if kind.unit == "ratio" else kind.unit
        field = FigureField(decimals=4, least=kind.least, most=kind.most, unit=unit)
    field.label = "Value"
    return field


class DropRuleForm(forms.Form):
    """A limit on the voltage lost to a class of loads, or on a part of the way to it."""

    drop_class = _text(
        "Class of loads", 30, required=True, hint="radio, critical, a class of your own; * for all others"
    )
    limit_ratio = PercentField(label="Limit", least=0.0001, most=1)
    base_v = FigureField(label="Of", decimals=3, least=1, most=60, unit="V")
    follows_bus = forms.BooleanField(label="Of the nominal voltage of the load's own panel instead", required=False)
    from_node = _text(
        "Counted from", 40, hint="A kind (battery, disconnect, bus, panel) or a node's key; empty: the battery's post"
    )
    to_node = _text("Counted to", 40, hint="A kind or a node's key; empty: the load and its own way back")
    conditions = _text(
        "Only in", 200, hint="Conditions by key, or engine_off, idle, at_speed, key_off, with commas; empty: all"
    )
    current = forms.ChoiceField(
        label="At which current",
        choices=[(item.value, item.value) for item in DropCurrent],
        error_messages={"invalid_choice": "Choose one of the list."},
    )
    conductor_temp_c = FigureField(label="Conductor at", decimals=1, least=-40, most=150, unit="°C")
    source = _text("Where it comes from", 200, required=True, hint="The contract, a standard, the buyer's letter")

    def __init__(self, row: DropRuleRow | None, data: Any = None) -> None:
        super().__init__(data)
        if row is not None:
            self.initial = {name: getattr(row, name) for name in self.fields}
