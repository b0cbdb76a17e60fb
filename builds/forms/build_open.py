"""Opening a job: what a service writer types from a customer's request."""

from typing import Any

from django import forms

from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem
from builds.forms.fields import CountField, DayField
from builds.models import Build, Customer, Person, PlatformVersion, Shop, Vehicle
from builds.permissions import Action, may
from builds.services.job_opening import JobFacts

__all__ = ["STARTS", "DocumentForm", "FactsForm", "JobForm", "VehicleFields"]

STARTS = (("empty", "Start empty"), ("build", "Start from another build"), ("document", "Start from a build document"))
_NEEDED = {"required": "This may not stay empty."}
_LARGEST_BYTES = 5 * 1024 * 1024
_UNITS = [(UnitSystem.US.value, "feet and pounds"), (UnitSystem.METRIC.value, "metres and kilograms")]
_GAUGES = [(GaugeBasis.SAE.value, "SAE"), (GaugeBasis.AWG.value, "AWG"), (GaugeBasis.METRIC.value, "metric, mm²")]
_KINDS = [(kind.value, kind.value) for kind in BuildKind]


def _text(label: str, length: int, *, required: bool = False, hint: str = "") -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(
        label=label, max_length=length, required=required, help_text=hint, widget=widget,
        error_messages={**_NEEDED, "max_length": f"Use at most {length} characters."},
    )  # fmt: skip


def _day(label: str) -> DayField:
    return DayField(label=label, required=False)


class VehicleFields(forms.Form):
    """What is known of the vehicle; a VIN may follow when it arrives."""

    vin = _text("VIN", 40, hint="17 characters; spaces do not matter")
    vin_exception = _text("Why this VIN is kept although its check digit does not fit", 200)
    unit_number = _text("Unit number", 40)
    model_year = CountField(
        label="Model year",
        least=1900,
        most=2100,
        required=False,
        help_text="Left empty, the VIN's where that tells one",
    )
    sold_before = forms.BooleanField(label="Its first retail sale has happened", required=False)

    def vehicle_values(self) -> dict[str, Any]:
        """Return what the vehicle's row takes."""
        year = self.cleaned_data["model_year"]
        names = ("vin", "vin_exception", "unit_number", "sold_before")
        return {name: self.cleaned_data[name] for name in names} | {"model_year": None if year is None else int(year)}

    def clean_vin(self) -> str:
        """Take the spaces out of a VIN and put it in capitals."""
        return "".join(self.cleaned_data["vin"].split()).upper()


class JobForm(VehicleFields):
    """A job that starts empty or from another build."""

    field_order = (
        "customer", "new_customer", "contact_name", "telephone", "email", "vehicle", "vin", "vin_exception",
        "take_over", "unit_number", "model_year", "sold_before", "platform", "source", "title", "kind", "purchase_order",
        "promised_on", "may_be_past", "units", "gauge_basis",
    )  # fmt: skip

    customer = forms.ModelChoiceField(
        label="Customer", queryset=Customer.objects.all(), required=False, empty_label="A new customer",
        error_messages={"invalid_choice": "Choose one of the list."},
    )  # fmt: skip
    new_customer = _text("Name of the new customer", 120)
    contact_name = _text("Who to talk to there", 120)
    telephone = _text("Telephone", 40)
    email = _text("Mail address", 254)
    vehicle = forms.ModelChoiceField(
        label="Vehicle", queryset=Vehicle.objects.none(), required=False, empty_label="A vehicle not on file yet",
        error_messages={"invalid_choice": "This vehicle belongs to another customer."},
    )  # fmt: skip
    platform = forms.ModelChoiceField(
        label="Platform", queryset=PlatformVersion.objects.all(), required=False, empty_label="–",
        help_text="Those on file; a designer or a manager writes a new version under Platforms",
        error_messages={"invalid_choice": "Choose one of the list."},
    )  # fmt: skip
    source = _text("Number of the build to start from", 12)
    title = _text("What is built, in a few words", 160, required=True)
    kind = forms.ChoiceField(label="Kind of job", choices=_KINDS, initial=BuildKind.NEW.value)
    purchase_order = _text("Purchase order", 60)
    promised_on = _day("Promised")
    may_be_past = forms.BooleanField(label="The promised day has passed and stays", required=False)
    take_over = forms.BooleanField(label="It has changed hands: take it over, with its history", required=False)
    units = forms.ChoiceField(label="Lengths and masses in", choices=_UNITS)
    gauge_basis = forms.ChoiceField(label="Gauges", choices=_GAUGES, initial=GaugeBasis.SAE.value)

    def __init__(self, start: str, person: Any, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.start = start
        self.may_add_customer = may(person, Action.EDIT_CUSTOMER)
        self._offer_vehicles()
        for name in ("customer", "new_customer", "platform"):
            # needed in some cases only: clean() asks for them in words
            self.fields[name].asked_elsewhere = True  # type: ignore[attr-defined]
        self.fields["units"].initial = Shop.objects.values_list("units", flat=True).first() or UnitSystem.US.value
        if not self.may_add_customer:
            for name in ("new_customer", "contact_name", "telephone", "email"):
                del self.fields[name]
        for name in ("source",) if start == "empty" else ("platform", "kind", "units", "gauge_basis"):
            del self.fields[name]

    def _offer_vehicles(self) -> None:
        """Offer the vehicles of the customer that is chosen."""
        chosen = self.data.get("customer") or self.initial.get("customer") or ""
        field = self.fields["vehicle"]
        assert isinstance(field, forms.ModelChoiceField)
        if str(chosen).isdecimal() and len(str(chosen)) < 18:
            field.queryset = Vehicle.objects.filter(customer=int(chosen)).order_by("unit_number", "vin")

    def clean_source(self) -> Build | None:
        """Find the build to start from."""
        number = self.cleaned_data["source"].strip()
        if not number:
            raise forms.ValidationError("Write the number of the build to start from.")
        build = Build.objects.filter(number=number).select_related("profile", "platform").first()
        if build is None:
            raise forms.ValidationError(f"There is no build {number}.")
        return build

    def clean(self) -> dict[str, Any]:
        """Ask for what cannot be left open."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if not values.get("customer") and not values.get("new_customer") and "customer" not in self.errors:
            self.add_error(
                "customer",
                "Choose a customer." if not self.may_add_customer else "Choose a customer, or name a new one.",
            )
        if values.get("customer") and values.get("new_customer"):
            self.add_error("new_customer", f"{values['customer']} is chosen above. Choose one of the two.")
        vehicle = values.get("vehicle")
        if (
            "platform" in self.fields
            and vehicle is None
            and not values.get("platform")
            and "platform" not in self.errors
        ):
            self.add_error("platform", "Choose what vehicle it is.")
        return values

    def facts(self) -> JobFacts:
        """Return what the service takes."""
        values = self.cleaned_data
        vehicle = values.get("vehicle")
        return JobFacts(
            title=values["title"],
            customer=values.get("customer"),
            new_customer={
                "name": values.get("new_customer", ""),
                "contact_name": values.get("contact_name", ""),
                "telephone": values.get("telephone", ""),
                "email": values.get("email", ""),
            },
            vehicle=vehicle,
            new_vehicle=self.vehicle_values(),
            platform=vehicle.platform if vehicle else values.get("platform"),
            source=values.get("source"),
            kind=BuildKind(values.get("kind") or BuildKind.NEW),
            purchase_order=values["purchase_order"],
            promised_on=values["promised_on"],
            may_be_past=values["may_be_past"],
            take_over=values["take_over"],
            units=UnitSystem(values.get("units") or UnitSystem.US),
            gauge_basis=GaugeBasis(values.get("gauge_basis") or GaugeBasis.SAE),
        )


class DocumentForm(forms.Form):
    """A job that starts from a build document."""

    document = forms.FileField(
        label="Build document (JSON)", error_messages={"required": "Choose the file.", "empty": "This file is empty."}
    )
    number = _text("Number it gets here", 12, hint="Left empty, it keeps the document's own")

    def clean_document(self) -> bytes:
        """Read the file, if it is not far too large to be a build."""
        upload = self.cleaned_data["document"]
        if upload.size > _LARGEST_BYTES:
            raise forms.ValidationError("This file is larger than 5 MB; no build document is.")
        content: bytes = upload.read()
        return content


class FactsForm(VehicleFields):
    """What is known of a build beside its design rows."""

    field_order = ("title", "purchase_order", "promised_on", "units", "responsible")
    title = _text("What is built, in a few words", 160, required=True)
    purchase_order = _text("Purchase order", 60)
    promised_on = _day("Promised")
    units = forms.ChoiceField(label="Lengths and masses in", choices=_UNITS)
    responsible: "forms.ModelChoiceField[Person]" = forms.ModelChoiceField(
        label="Who answers for it", queryset=None, required=False, empty_label="nobody",
        error_messages={"invalid_choice": "Choose one of the list."},
    )  # fmt: skip

    def __init__(self, people: Any, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["responsible"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = people

    def values(self) -> dict[str, Any]:
        """Return what the service takes."""
        own = ("title", "purchase_order", "promised_on", "units", "responsible")
        return {name: self.cleaned_data[name] for name in own} | self.vehicle_values()
