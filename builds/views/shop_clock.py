"""Pages whose times are the shop's own clock."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from builds.selectors.shop_time import shop_zone

__all__ = ["render_on_shop_clock"]


def render_on_shop_clock(
    request: HttpRequest, template: str, context: dict[str, Any], *, status: int = 200
) -> HttpResponse:
    """Render a page; every moment in it is printed as the shop's clock shows it."""
    with timezone.override(shop_zone()):
        return render(request, template, context, status=status)
