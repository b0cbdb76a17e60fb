"""The registers' forms as a phone shows them: the desk's own, with a photo where a bay takes one."""

from uuid import uuid4

from django import forms

from builds.forms import registers as desk
from builds.services.photos import LARGEST_BYTES, NewPhoto

__all__ = ["AMEND_FORMS", "NEW_FORMS", "PenetrationForm", "ReceiveForm", "SealForm", "SettleForm"]


class _WithPhoto(forms.Form):
    """A form that a photo may come with."""

    photo_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    photo = forms.FileField(
        label="Photo", required=False, error_messages={"empty": "The photo is empty. Take it again."},
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp", "capture": "environment"}),
    )  # fmt: skip

    def new_photo(self) -> NewPhoto | None:
        """Return the photo that came along, if any."""
        upload = self.cleaned_data.get("photo")
        if not upload:
            return None
        return NewPhoto(content=upload.read(LARGEST_BYTES + 1), event_id=self.cleaned_data["photo_id"])


class _Amending(forms.Form):
    """A form about an entry that is there already, and which state of it was seen."""

    row_version = forms.IntegerField(widget=forms.HiddenInput)


class PenetrationForm(_WithPhoto, desk.PenetrationForm):
    """A hole in the body, with its photo."""


class SealForm(_WithPhoto, _Amending, desk.SealForm):
    """What seals a hole, with its photo."""


class ReceiveForm(_WithPhoto, _Amending, desk.ReceiveForm):
    """Gear that came, with its photo."""


class SettleForm(desk.RemovedPartForm, _Amending):
    """Where a part taken off lies now, and what becomes of it."""

    description = None  # type: ignore[assignment]  # what it is stays as it was written


NEW_FORMS: dict[str, type[forms.Form]] = {
    "serial": desk.SerialForm,
    "splice": desk.SpliceForm,
    "penetration": PenetrationForm,
    "gear": desk.GearForm,
    "removed": desk.RemovedPartForm,
}
AMEND_FORMS: dict[str, type[forms.Form]] = {
    "serial": desk.SwapForm,
    "penetration": SealForm,
    "gear": ReceiveForm,
    "removed": SettleForm,
}
