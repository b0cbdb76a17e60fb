"""What a parts clerk writes down."""

from django import forms

__all__ = ["CountForm", "PartFilterForm", "PartListForm", "ReceiveForm"]


_LONGEST_SEARCH = 300


class PartFilterForm(forms.Form):
    """The search box of the stores; a value that makes no sense asks for nothing."""

    q = forms.CharField(required=False)
    low = forms.BooleanField(required=False)
    others = forms.BooleanField(required=False)
    page = forms.IntegerField(required=False, min_value=1, max_value=100_000)

    def clean_q(self) -> str:
        """Return what is searched for; of more letters than any part has, as many as still find none."""
        return str(self.cleaned_data["q"])[:_LONGEST_SEARCH]


class ReceiveForm(forms.Form):
    """A delivery of one part."""

    event_id = forms.UUIDField(widget=forms.HiddenInput)
    quantity = forms.DecimalField(max_digits=10, decimal_places=3, min_value=0)
    unit_cost = forms.DecimalField(label="Cost each", required=False, max_digits=14, decimal_places=4, min_value=0)
    reference = forms.CharField(label="Delivery note", max_length=80)


class CountForm(forms.Form):
    """A count of one part on its shelf."""

    event_id = forms.UUIDField(widget=forms.HiddenInput)
    counted = forms.DecimalField(label="Counted on the shelf", max_digits=10, decimal_places=3, min_value=0)
    reference = forms.CharField(label="Why it was counted", max_length=80)


class PartListForm(forms.Form):
    """A parts list to take into the catalogue."""

    file = forms.FileField(
        label="Parts list (CSV)",
        error_messages={
            "required": "Choose the file with the parts list.",
            "empty": "The file is empty.",
            "missing": "The file did not arrive. Choose it again.",
        },
    )
