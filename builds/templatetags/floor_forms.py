"""Forms that a page holds by a name put together in the template."""

from collections.abc import Mapping

from django import template
from django.forms import Form

register = template.Library()


@register.simple_tag
def form_at(forms: Mapping[str, Form], place: str) -> Form | None:
    """``{% form_at forms place as form %}``: the form of that place, or nothing."""
    return forms.get(place)
