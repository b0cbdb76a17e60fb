"""Forms that a page holds by a name put together in the template."""

from collections.abc import Mapping
from decimal import Decimal
from uuid import uuid4

from django import template
from django.forms import Form

register = template.Library()


@register.simple_tag
def form_at(forms: Mapping[str, Form], place: str) -> Form | None:
    """``{% form_at forms place as form %}``: the form of that place, or nothing."""
    return forms.get(place)


@register.simple_tag
def new_event_id() -> str:
    """``{% new_event_id %}``: an id for a form that sends something once."""
    return str(uuid4())


@register.simple_tag
def percent(ratio: Decimal | None) -> str:
    """``{% percent check.fuel_ratio %}``: a part of one as a percentage."""
    return "" if ratio is None else f"{float(ratio) * 100:.0f} %"
