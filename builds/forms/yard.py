"""What is typed about vehicles, keys and bays."""

from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from django import forms
from django.core.files.uploadedfile import UploadedFile

from builds.engineering.vocabulary import UnitSystem
from builds.forms.fields import FigureField, MomentField
from builds.models import BayPlace, Booking, Build, LocationEvent
from builds.selectors.yard import KM_PER_MILE
from builds.services.arrivals import Keys
from builds.services.check_ins import Condition
from builds.services.photos import LARGEST_BYTES

__all__ = ["BookingForm", "CheckInForm", "KeysForm", "MoveForm", "SwapForm"]

_OFF = {"autocomplete": "off"}


def _words(label: str, longest: int, *, required: bool = False, hint: str = "", rows: int = 0) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": rows}) if rows else forms.TextInput(attrs=_OFF)
    return forms.CharField(
        label=label, max_length=longest, required=required, help_text=hint, widget=widget,
        error_messages={"required": "This may not stay empty.", "max_length": f"Keep this to {longest} letters."},
    )  # fmt: skip


def _count(label: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, min_value=0, max_value=20, widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        error_messages={"required": "Count the keys.", "invalid": "Write a whole number.", "min_value": "Write 0 or more.",
                        "max_value": "Write 20 or fewer."},
    )  # fmt: skip


class _Event(forms.Form):
    event_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)


class _PlaceField(forms.ModelChoiceField):
    """A bay place, named with the build that the record has in it."""

    numbers: Mapping[BayPlace, str] = {}

    def label_from_instance(self, obj: Any) -> str:
        """Return the place's name, and who is recorded there."""
        number = self.numbers.get(obj, "")
        return f"{obj} ({number} is recorded there)" if number else str(obj)


class MoveForm(_Event):
    """Where a vehicle is from now on; ``asks_left`` is the build that has to have left the bay, once that was refused."""

    asks_left = ""

    kind = forms.ChoiceField(
        label="Sort of place", choices=LocationEvent.Kind.choices,
        error_messages={"required": "Say what sort of place it is.", "invalid_choice": "Say what sort of place it is."},
    )  # fmt: skip
    bay_place = _PlaceField(
        label="Which bay, if it is in one", queryset=BayPlace.objects.select_related("bay"), required=False, empty_label="–",
        error_messages={"invalid_choice": "This bay is not there any more. Choose another."},
    )  # fmt: skip
    spot = _words("Where, if not in a bay", 80, hint="Lot row C 4, the paint shop's name, who drives it")
    has_left = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(self, *args: Any, places: Mapping[BayPlace, str], **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("bay_place", "spot"):
            self.fields[name].asked_elsewhere = True  # type: ignore[attr-defined]  # the label says when it is asked
        field = self.fields["bay_place"]
        if isinstance(field, _PlaceField):
            field.numbers = places


class KeysForm(_Event):
    """Where a vehicle's keys are from now on."""

    count = _count("Keys")
    hook = _words("On hook", 40)
    holder = _words("Or with", 80, hint="Who has them, where they hang on no hook")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in ("hook", "holder"):
            self.fields[name].asked_elsewhere = True  # type: ignore[attr-defined]  # one of the two is asked for


class _ManyFilesInput(forms.FileInput):
    allow_multiple_selected = True


class _ManyFilesField(forms.FileField):
    widget = _ManyFilesInput

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        """Return every file that was sent."""
        files = data if isinstance(data, list | tuple) else [data] if data else []
        return [super(_ManyFilesField, self).clean(file, initial) for file in files]


class CheckInForm(_Event):
    """How a vehicle was found; the same list when it comes in and when it goes out."""

    fuel = FigureField(label="Fuel or charge", decimals=1, least=0, most=100, unit="%")
    warning_lamps = _words("Warning lamps lit", 200, hint="Empty means none")
    stored_faults = _words("Stored faults", 200, hint="What the scan shows; empty means none")
    damage = _words("Damage", 2000, rows=3, hint="Where, what, how large; empty means none was seen")
    loose_property = _words("Loose property", 2000, rows=2)
    plate = _words("Plate", 20)
    photos = _ManyFilesField(
        label="Photos", required=False, help_text="All four sides and every mark",
        widget=_ManyFilesInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )  # fmt: skip
    key_count = _count("Keys")

    def __init__(self, *args: Any, build: Build, leaving: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        self.miles = build.units == UnitSystem.US
        self.leaving = leaving
        most = 6_000_000
        odometer = FigureField(label="Odometer", decimals=1, least=0, most=most, unit="mi" if self.miles else "km")
        place: dict[str, forms.Field] = (
            {"taken_by": _words("Who takes it", 80, required=True)}
            if leaving
            else {"spot": _words("Where it stands now", 80, required=True, hint="Lot row C 4"),
                  "hook": _words("Keys on hook", 40, required=True)}
        )  # fmt: skip
        self.fields = {"event_id": self.fields["event_id"], "odometer": odometer, **self.fields, **place}

    def condition(self) -> Condition:
        """Return what was found, in the units it is kept in."""
        found = self.cleaned_data
        tenth = Decimal("0.1")
        odometer = found["odometer"] * KM_PER_MILE if self.miles else found["odometer"]
        return Condition(
            odometer_km=odometer.quantize(tenth, ROUND_HALF_UP), fuel_ratio=(found["fuel"] / 100).quantize(Decimal("0.001")),
            warning_lamps=found["warning_lamps"], stored_faults=found["stored_faults"], damage=found["damage"],
            loose_property=found["loose_property"], plate=found["plate"],
        )  # fmt: skip

    def contents(self) -> list[bytes]:
        """Return the photos that were sent, never more of one than one byte over what is kept."""
        return [bytes(file.read(LARGEST_BYTES + 1)) for file in self.cleaned_data["photos"]]

    def keys(self) -> Keys:
        """Return where the keys hang."""
        return Keys(count=self.cleaned_data["key_count"], hook=self.cleaned_data["hook"])


class BookingForm(forms.Form):
    """A planned stay; times are the shop's clock."""

    build = forms.ModelChoiceField(
        label="Build", queryset=Build.objects.none(), to_field_name="number", empty_label="–",
        error_messages={"required": "Choose the build.", "invalid_choice": "Choose a build that is still open."},
    )  # fmt: skip
    place = forms.ModelChoiceField(
        label="Bay", queryset=BayPlace.objects.select_related("bay"), empty_label="–",
        error_messages={"required": "Choose the bay.", "invalid_choice": "Choose a bay of this shop."},
    )  # fmt: skip
    start = MomentField(label="From")
    end = MomentField(label="To")
    purpose = _words("What for", 80, hint="Install, programming, water test …")
    row_version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, zone: ZoneInfo, builds: Any, booking: Booking | None = None, **options: Any) -> None:
        super().__init__(*args, **options)
        self.zone = zone
        if booking is not None:
            del self.fields["build"], self.fields["purpose"]
        else:
            field = self.fields["build"]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = builds

    def moment(self, name: str) -> datetime:
        """Return a typed time as a moment; what was typed is the shop's clock."""
        typed: datetime = self.cleaned_data[name]
        return typed.replace(tzinfo=self.zone).astimezone(UTC)


class SwapForm(forms.Form):
    """Two bookings that change bays."""

    other = forms.ModelChoiceField(
        label="Change bays with", queryset=Booking.objects.none(), empty_label="–",
        error_messages={"required": "Choose the other stay.", "invalid_choice": "Choose a stay that is in the plan."},
    )  # fmt: skip
    row_version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, others: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["other"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = others
