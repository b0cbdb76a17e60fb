"""The packet page at the desk: issue, watch, cancel, hand over; and the customer's links, shown once."""

from typing import Any
from uuid import UUID

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from builds.drawings.qr_code import draw_qr_code
from builds.errors import BadInput, GuardRefused, NotHere
from builds.forms.links import LinkForm
from builds.models import Build, CustomerLink, PacketIssue, Person, Stage
from builds.permissions import Action, may
from builds.selectors.packet_page import PacketLine, link_lines, packet_lines, packet_numbered
from builds.services import customer_links, packets, revisions
from builds.tasks import nudge
from builds.views.acting import person_who_may
from builds.views.responses import add_errors
from builds.views.shop_clock import render_on_shop_clock

__all__ = [
    "link_make",
    "link_revoke",
    "packet",
    "packet_again",
    "packet_cancel",
    "packet_issue",
    "packet_state",
    "vehicle_link_make",
]

_PAGE = "builds/packet_detail.html"


@require_GET
def packet(request: HttpRequest, number: str) -> HttpResponse:
    """Show the packets and links of a build."""
    person = person_who_may(request, Action.SEE_PACKET)
    return _page(request, _build(number), person, LinkForm())


@require_POST
def packet_issue(request: HttpRequest, number: str) -> HttpResponse:
    """Issue a packet; a worker renders it."""
    person = person_who_may(request, Action.ISSUE_PACKET)
    build = _build(number)
    site = request.build_absolute_uri("/")
    issued = packets.issue_packet(
        build=build, by=person, at=timezone.now(), site_address=site, with_workings="workings" in request.POST
    )
    nudge("packet", issued.pk)
    return redirect("packet", number=build.number)


@require_GET
def packet_state(request: HttpRequest, number: str, issue: int) -> HttpResponse:
    """Answer a page that watches: the row of one packet; once it is done, the whole page is read again."""
    person = person_who_may(request, Action.SEE_PACKET)
    build = _build(number)
    line = _line(build, issue)
    if not request.headers.get("HX-Request"):
        return redirect("packet", number=build.number)
    context = {"build": build, "line": line, "may_issue": may(person, Action.ISSUE_PACKET)}
    response = render_on_shop_clock(request, f"{_PAGE}#packet_progress", context)
    patch_vary_headers(response, ["HX-Request"])
    if not line.is_going:
        response["HX-Refresh"] = "true"
    return response


@require_POST
def packet_cancel(request: HttpRequest, number: str, issue: int) -> HttpResponse:
    """Cancel a packet that is being made."""
    person = person_who_may(request, Action.ISSUE_PACKET)
    build = _build(number)
    packets.cancel(packet=_line(build, issue).packet, by=person, at=timezone.now())
    return redirect("packet", number=build.number)


@require_POST
def packet_again(request: HttpRequest, number: str, issue: int) -> HttpResponse:
    """Render a failed packet once more."""
    person = person_who_may(request, Action.ISSUE_PACKET)
    build = _build(number)
    again = packets.render_again(packet=_line(build, issue).packet, by=person, at=timezone.now())
    nudge("packet", again.pk)
    return redirect("packet", number=build.number)


@require_POST
def link_make(request: HttpRequest, number: str) -> HttpResponse:
    """Make a handover link and show it, this once."""
    person = person_who_may(request, Action.MAKE_LINK)
    build = _build(number)
    form = LinkForm(request.POST)
    if not form.is_valid():
        return _page(request, build, person, form, status=422)
    try:
        made = customer_links.make_handover_link(
            build=build, made_for=form.cleaned_data["made_for"], by=person, at=timezone.now(),
            days=form.cleaned_data["days"], for_nothing=form.cleaned_data["for_nothing"],
        )  # fmt: skip
    except (BadInput, GuardRefused) as error:
        add_errors(form, error)
        return _page(request, build, person, form, status=error.status)
    address = _site(request) + reverse("customer-home", args=[made.token])
    return _page(request, build, person, LinkForm(), new_link=made.link, new_address=address)


@require_POST
def vehicle_link_make(request: HttpRequest, number: str) -> HttpResponse:
    """Make the vehicle another link and show it with its code, this once; no packet is issued for it."""
    person = person_who_may(request, Action.MAKE_LINK)
    build = _build(number)
    made = customer_links.make_vehicle_link(
        build=build, made_for="code printed apart from a packet", by=person, at=timezone.now()
    )
    address = _site(request) + reverse("vehicle-record", args=[made.token])
    return _page(request, build, person, LinkForm(), new_link=made.link, new_address=address)


_CLOSING = {
    CustomerLink.Kind.HANDOVER: "Whoever was sent it can no longer follow the build, read the packet or sign over it.",
    CustomerLink.Kind.VEHICLE: "The code at the main disconnect and in every packet that prints it opens nothing any more: "
    "whoever services the vehicle finds no circuits behind it. It cannot be opened again; a new link is another code, to be "
    "printed and put up.",
}


@require_http_methods(["GET", "HEAD", "POST"])
def link_revoke(request: HttpRequest, number: str, uid: UUID) -> HttpResponse:
    """Ask whether a link is to be closed, and close it."""
    person = person_who_may(request, Action.MAKE_LINK)
    build = _build(number)
    link = build.links.filter(uid=uid).first()
    if link is None:
        raise NotHere("There is no such link.")
    if request.method != "POST":
        kind = link.get_kind_display()
        context = {
            "form": forms.Form(), "title": f"Close the {kind}?", "word": f"Close the {kind}", "back_word": "Packet and links",
            "why": _CLOSING[CustomerLink.Kind(link.kind)], "back": reverse("packet", args=[build.number]), "destroys": True,
        }  # fmt: skip
        return render(request, "builds/form_page.html", context)
    customer_links.revoke(link=link, by=person, at=timezone.now())
    messages.success(
        request, f"The {link.get_kind_display()} is closed. Whoever opens it reads that it does not open any more."
    )
    return redirect("packet", number=build.number)


def _page(
    request: HttpRequest,
    build: Build,
    person: Person,
    form: LinkForm,
    *,
    status: int = 200,
    new_link: CustomerLink | None = None,
    new_address: str = "",
) -> HttpResponse:
    lines = packet_lines(build)
    revision = revisions.newest_revision(build)
    context: dict[str, Any] = {
        "build": build,
        "lines": lines,
        "going": next((line for line in lines if line.is_going), None),
        "failed": lines[0] if lines and lines[0].packet.state == PacketIssue.State.FAILED else None,
        "revision": revision,
        "links": link_lines(build, at=timezone.now()),
        "form": form,
        "new_link": new_link,
        "new_address": new_address,
        "new_code": draw_qr_code(new_address, title="Code of the vehicle link", size_px=180)
        if new_link and new_link.kind == CustomerLink.Kind.VEHICLE
        else "",
        "may_issue": may(person, Action.ISSUE_PACKET),
        "may_link": may(person, Action.MAKE_LINK),
        "is_ready": build.stage in (Stage.READY, Stage.DELIVERED, Stage.CLOSED),
    }
    response = render_on_shop_clock(request, _PAGE, context, status=status)
    if new_address:
        response["Cache-Control"] = "no-store"
    return response


def _build(number: str) -> Build:
    build = Build.objects.select_related("customer", "vehicle").filter(number=number).first()
    if build is None:
        raise NotHere(f"There is no build {number}.")
    return build


def _line(build: Build, issue: int) -> PacketLine:
    line = packet_numbered(build, issue)
    if line is None:
        raise NotHere(f"Build {build.number} has no packet {issue}.")
    return line


def _site(request: HttpRequest) -> str:
    """Where the link's reader reaches this site."""
    return str(settings.SITE_ADDRESS or request.build_absolute_uri("/")).rstrip("/")
