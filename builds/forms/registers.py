"""Forms of the registers of a build."""

from typing import Any

from django import forms

from builds.forms.fields import DayField, FigureField
from builds.models import Build, PartsBillLine

__all__ = ["REGISTER_FORMS", "ReceiveForm", "SealForm", "SwapForm"]

_NEEDED = {"required": "This may not stay empty."}


def _text(label: str, length: int, *, required: bool = True, hint: str = "") -> forms.CharField:
    return forms.CharField(label=label, max_length=length, required=required, help_text=hint, error_messages=_NEEDED)


def _day(label: str) -> DayField:
    return DayField(label=label, required=False)


class _RegisterForm(forms.Form):
    """One entry; ``title`` heads its page."""

    title = ""
    why = ""

    def __init__(self, build: Build, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.prepare(build)

    def prepare(self, build: Build) -> None:
        """Offer what the build has."""


class SerialForm(_RegisterForm):
    """The serial of one device."""

    title = "Write a serial"
    why = "Read it off the device itself; a device swapped later keeps both numbers."
    part_line: "forms.ModelChoiceField[PartsBillLine]" = forms.ModelChoiceField(
        label="Device",
        empty_label="–",
        queryset=None,
        error_messages={"required": "Choose the device.", "invalid_choice": "Choose a device of this build."},
    )
    serial = _text("Serial", 60)
    note = _text("Note", 160, required=False)

    def prepare(self, build: Build) -> None:
        """Offer the lines of the parts bill that ask for serials first."""
        field = self.fields["part_line"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = build.parts.filter(removed=False).order_by("-serial_required", "line")


class SpliceForm(_RegisterForm):
    """A joint in a wire."""

    title = "Add splice"
    why = "A splice nobody wrote down is found with a knife."
    circuit_number = forms.ChoiceField(
        label="Circuit", error_messages={"invalid_choice": "Choose a circuit of this build.", **_NEEDED}
    )
    place = _text("Where the next person finds it", 120)
    method = _text("How it is joined", 80, hint="Crimp and sealed sleeve, solder …")

    def prepare(self, build: Build) -> None:
        """Offer the circuits of the build."""
        field = self.fields["circuit_number"]
        assert isinstance(field, forms.ChoiceField)
        rows = build.circuits.values_list("number", "legend")
        field.choices = [("", "–"), *((number, f"{number} {legend}") for number, legend in rows)]


class PenetrationForm(_RegisterForm):
    """A hole in the body."""

    title = "Add penetration"
    why = "Every hole that was drilled, and what keeps water and fumes out of it."
    label = _text("Short name", 20, hint="H3, as it is written beside the hole")
    place = _text("Where", 120)
    diameter_mm = FigureField(label="Diameter", decimals=1, least=0.1, most=2000, unit="mm")
    sealed_with = _text("Sealed with", 120, required=False, hint="May follow when it is sealed")


class GearForm(_RegisterForm):
    """Gear the customer brings."""

    title = "Expect gear"
    why = "Work on the vehicle waits until it is here."
    description = _text("What the customer brings", 120)
    due_on = _day("Due")


class RemovedPartForm(_RegisterForm):
    """A factory part taken off."""

    title = "Add removed part"
    why = "The customer may want it back when the vehicle is sold."
    description = _text("What was taken off", 120)
    kept_at = _text("Where it lies", 80, hint="Bag, bin, shelf")
    disposition = _text("What becomes of it", 80, hint="Back to the customer, scrap …")


class SealForm(_RegisterForm):
    """What seals a hole."""

    title = "Write what seals it"
    why = ""
    sealed_with = _text("Sealed with", 120)


class ReceiveForm(_RegisterForm):
    """Gear that came."""

    title = "Receive gear"
    why = "Write down scratches and missing parts now; later nobody can say when they came."
    condition = _text("In what state it came", 160)


class SwapForm(_RegisterForm):
    """The serial of the device that replaces another."""

    title = "Swap a device"
    why = "Both serials stay in the register."
    serial = _text("Serial of the new device", 60)
    note = _text("Why it was swapped", 160)


REGISTER_FORMS: dict[str, type[_RegisterForm]] = {
    "serial": SerialForm,
    "splice": SpliceForm,
    "penetration": PenetrationForm,
    "gear": GearForm,
    "removed": RemovedPartForm,
}
