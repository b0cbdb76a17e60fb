"""What the lamps do in the uses that were agreed on: a page of the customer's link, to be looked at before signing."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from builds.engineering.functions.coupling import condition_setting
from builds.engineering.functions.playing import Act
from builds.engineering.functions.reports import report_of
from builds.models import CustomerLink, Shop
from builds.selectors.customer_page import noun_of
from builds.selectors.engineering_inputs import design_of
from builds.selectors.function_play import play_view
from builds.services.revisions import design_of_revision
from builds.views.links import by_link

__all__ = ["customer_lights"]


@require_safe
@vary_on_headers("HX-Request")
@by_link(CustomerLink.Kind.HANDOVER)
def customer_lights(request: HttpRequest, link: CustomerLink, token: str) -> HttpResponse:
    """Show the lamps in one agreed use, of the newest revision; the flashing moment by moment where it is asked for."""
    build = link.build
    newest = build.revisions.select_related("document").order_by("-sequence").first()
    design = design_of_revision(newest) if newest else design_of(build)
    compiled = report_of(design.function_schedule).compiled
    conditions = [condition for condition in design.conditions if condition.input_settings]
    if compiled is None or not conditions:
        return redirect("customer-home", token=token)
    shown = next((one for one in conditions if one.key == request.GET.get("use")), conditions[0])
    acts = (Act(condition_setting(compiled, shown)),)
    context = {
        "build": build,
        "shop": Shop.objects.first(),
        "token": token,
        "noun": noun_of(build),
        "conditions": conditions,
        "shown": shown,
        "view": play_view(design, compiled, acts, request.GET.dict()),
        "revision": newest,
    }
    fragment = "#lights" if getattr(request, "htmx", False) else ""
    return render(request, f"builds/link_lights.html{fragment}", context)
