"""Forms of the named groups of outputs, and of what proofs may take as given."""

from typing import Any

from django import forms

from builds.engineering.functions.language import parse_condition
from builds.engineering.functions.printing import print_condition
from builds.engineering.functions.reading import Part
from builds.engineering.functions.schedule import ChannelSet, FunctionSchedule, Given
from builds.forms.function_fields import NEEDED, PartForm, checked_condition

__all__ = ["GivenForm", "SetForm"]


class SetForm(PartForm):
    """A name for several outputs, picked from those of the schedule."""

    channels = forms.MultipleChoiceField(
        label="Outputs in it",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "No output is picked; expected one or more.",
            "invalid_choice": "No output is called “%(value)s”; expected some of those listed.",
        },
    )

    def __init__(self, schedule: FunctionSchedule, *args: Any, **options: Any) -> None:
        super().__init__(schedule, *args, **options)
        members = tuple(dict.fromkeys((options.get("initial") or {}).get("channels", ())))
        others = [one.key for one in schedule.channels if one.key not in members]
        field = self.fields["channels"]
        assert isinstance(field, forms.MultipleChoiceField)
        # members in their own order, so that one kept unchanged says the same again
        field.choices = [(key, key) for key in (*members, *others)]

    @staticmethod
    def values_of(part: ChannelSet) -> dict[str, Any]:
        """Return what the fields of a set hold."""
        return {"key": part.key, "channels": list(part.channels)}

    def part(self) -> Part:
        """Return the set that the fields say."""
        values = self.cleaned_data
        return ChannelSet(key=values["key"], channels=tuple(values["channels"]))


class GivenForm(PartForm):
    """Something the vehicle never does otherwise, which proofs may count on."""

    condition = forms.CharField(
        label="What always holds",
        widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false"}),
        help_text="Inputs with and, or, not, is, is one of, for at least 3 s; not (park and reverse)",
        error_messages=NEEDED,
    )
    basis = forms.CharField(label="Because", required=False, max_length=200, help_text="Where it comes from")

    @staticmethod
    def values_of(part: Given) -> dict[str, Any]:
        """Return what the fields of a given hold."""
        return {"key": part.key, "condition": print_condition(part.condition), "basis": part.basis}

    def clean_condition(self) -> str:
        """Say at which column the condition cannot be read."""
        return checked_condition(str(self.cleaned_data["condition"]), self._schedule)

    def clean_basis(self) -> str:
        """The text stands in quotation marks."""
        return self._unquoted("basis")

    def part(self) -> Part:
        """Return the given that the fields say."""
        values = self.cleaned_data
        condition = parse_condition(values["condition"], self._schedule)
        return Given(key=values["key"], condition=condition, basis=values["basis"])
