"""What is typed in a bay: findings at a step, signatures, photos, clock corrections."""

from datetime import UTC, datetime
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from django import forms
from django.utils.dateparse import parse_datetime

from builds.forms.fields import FigureField, MomentField
from builds.models import StepResult
from builds.selectors.readings import ReadingScale
from builds.services.ticks import Outcome

__all__ = ["ClockOnForm", "PhotoForm", "SignForm", "TickForm", "TimeCorrectionForm"]

_OFF = {"autocomplete": "off"}


class EventForm(forms.Form):
    """Something that a device sends once: its id, and which entry of which device it is."""

    event_id = forms.UUIDField(widget=forms.HiddenInput)
    device = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    device_sequence = forms.IntegerField(required=False, min_value=0, max_value=2**62, widget=forms.HiddenInput)
    made_at = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **options: Any) -> None:
        options["initial"] = {"event_id": uuid4()} | (options.get("initial") or {})
        super().__init__(*args, **options)

    def at(self, received_at: datetime) -> datetime:
        """Return when it was done by the device's clock; without one, when it came here."""
        told = self.cleaned_data.get("made_at") or ""
        try:
            moment = parse_datetime(told)
        except ValueError:
            return received_at
        if moment is None or moment.tzinfo is None or moment.year < 2000:
            return received_at
        return moment.astimezone(UTC)


class TickForm(EventForm):
    """What was found at a step."""

    reading = FigureField(decimals=4, required=False)
    reading_at_v = FigureField(
        label="At the battery, at the same time", decimals=3, least=0, most=999, unit="V", required=False
    )
    instrument = forms.CharField(
        label="Tag of the instrument", required=False, max_length=40, widget=forms.TextInput(attrs=_OFF),
        error_messages={"max_length": "Keep the instrument's tag to 40 letters."},
    )  # fmt: skip
    remark = forms.CharField(
        label="Remark",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"max_length": "Keep the remark to 2,000 letters."},
    )
    result = forms.ChoiceField(
        choices=StepResult.choices,
        error_messages={
            "required": "Choose pass, defective or not applicable.",
            "invalid_choice": "Choose pass, defective or not applicable.",
        },
    )

    def outcome(self, scale: ReadingScale) -> Outcome:
        """Return what was found, a reading typed in the unit of ``scale`` in the unit it is kept in."""
        found = self.cleaned_data
        reading = None if found["reading"] is None else scale.kept(found["reading"])
        return Outcome(
            result=StepResult(found["result"]), reading=reading, reading_at_v=found["reading_at_v"],
            instrument=found["instrument"], remark=found["remark"],
        )  # fmt: skip


class SignForm(EventForm):
    """A hold point signed, or sent back."""

    remark = forms.CharField(
        label="Remark", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="To send back: what, and what is wrong with it.",
    )  # fmt: skip
    passed = forms.TypedChoiceField(
        choices=[("yes", "Sign"), ("no", "Send back")], coerce=lambda value: value == "yes",
        error_messages={"required": "Sign it, or send it back.", "invalid_choice": "Sign it, or send it back."},
    )  # fmt: skip


class PhotoForm(EventForm):
    """One photo."""

    photo = forms.FileField(
        label="Photo",
        error_messages={
            "required": "Take a photo, or choose one.",
            "empty": "The file is empty. Take the photo again.",
            "missing": "The photo did not arrive. Send it again.",
        },
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp", "capture": "environment"}),
    )
    caption = forms.CharField(label="What it shows", required=False, max_length=160)


class ClockOnForm(EventForm):
    """Where someone clocks on."""

    step = forms.IntegerField(required=False, widget=forms.HiddenInput)
    operation_key = forms.CharField(label="What is worked on", required=False, max_length=40)
    leave_other = forms.BooleanField(required=False, widget=forms.HiddenInput)


class TimeCorrectionForm(forms.Form):
    """The times of a clock entry, as the shop's clock shows them."""

    started_at = MomentField(label="From")
    ended_at = MomentField(label="To", required=False)
    reason = forms.CharField(
        label="Why", max_length=200, error_messages={"required": "Say in a few words why the times change."}
    )

    def __init__(self, *args: Any, zone: ZoneInfo, **options: Any) -> None:
        super().__init__(*args, **options)
        self.zone = zone

    def moment(self, name: str) -> datetime | None:
        """Return a typed time as a moment; what was typed is the shop's clock."""
        typed = self.cleaned_data[name]
        return None if typed is None else typed.replace(tzinfo=self.zone).astimezone(UTC)
