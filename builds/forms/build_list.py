"""What a person looks for in the job list; a value that makes no sense asks for nothing."""

from urllib.parse import urlencode

from django import forms

from builds.models import Stage
from builds.selectors.build_list import ALL, AT_RISK, LATE, ON_HOLD, OPEN, BuildFilter

__all__ = ["BuildFilterForm"]

_STAGES = [(OPEN, "Open"), *Stage.choices, (ALL, "All")]
_STATES = [("", "Any"), (LATE, "Late"), (AT_RISK, "At risk"), (ON_HOLD, "On hold")]


class BuildFilterForm(forms.Form):
    """The search box and the filters, as they stand in the address."""

    q = forms.CharField(required=False, max_length=80)
    stage = forms.ChoiceField(required=False, choices=_STAGES)
    state = forms.ChoiceField(required=False, choices=_STATES)
    mine = forms.BooleanField(required=False)
    customer = forms.IntegerField(required=False, min_value=1, max_value=2**62)
    page = forms.IntegerField(required=False, min_value=1, max_value=100_000)

    def wanted(self) -> BuildFilter:
        """Return the filter; what does not fit is left out."""
        self.is_valid()
        values = self.cleaned_data
        return BuildFilter(
            words=values.get("q") or "",
            stage=values.get("stage") or OPEN,
            state=values.get("state") or "",
            mine=bool(values.get("mine")),
            customer=values.get("customer"),
            page=values.get("page") or 1,
        )

    def address(self, **changes: object) -> str:
        """Return the query of this filter with ``changes``, back on its first page."""
        wanted = self.wanted()
        values: dict[str, object] = {
            "q": wanted.words,
            "stage": "" if wanted.stage == OPEN else wanted.stage,
            "state": wanted.state,
            "mine": "on" if wanted.mine else "",
            "customer": wanted.customer or "",
        }
        return "?" + urlencode({name: value for name, value in (values | changes).items() if value not in ("", None)})
