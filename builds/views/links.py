"""
Pages that open by a link alone: the customer's, where they follow and sign, and the vehicle's, where its record is read.

A link's token is the only right these pages ask. It must not travel on: no page sends a referrer, none is kept in a
cache or found by a search engine. That no referrer is sent makes browsers say "null" where a form comes from, which the
usual check refuses; the forms here are safe without it, because nobody can send one without knowing the token, and no
cookie gives any right.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from builds.documents.packet_input import read_packet_input
from builds.documents.vehicle_record import vehicle_record as record_of
from builds.drawings.vehicle_plan import draw_vehicle_plan
from builds.engineering.assess import assess
from builds.errors import BadInput, BuildError, NotHere
from builds.forms.links import SignatureForm
from builds.models import Build, CustomerLink, PacketIssue, Revision, Shop
from builds.selectors.customer_page import customer_page, noun_of
from builds.selectors.engineering_inputs import design_of
from builds.selectors.function_play import has_lights
from builds.selectors.links import FoundLink, LinkState, find_link
from builds.selectors.packet_page import newest_packet
from builds.selectors.quote_page import contents_of, moved_lines
from builds.selectors.shop_time import shop_zone
from builds.services.acceptances import (
    PACKET_CONSENT,
    QUOTE_CONSENT,
    Signature,
    packet_to_sign,
    quote_to_offer,
    sign_packet,
    sign_quote,
)
from builds.services.frozen_documents import text_of
from builds.services.revisions import design_of_revision
from builds.services.stored_files import open_stored
from builds.views.responses import add_errors
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["by_link", "customer_home", "customer_packet", "customer_packet_file", "customer_quote", "vehicle_record"]

_View = Callable[..., HttpResponseBase]
_LONGEST_SEARCH = 80


def by_link(kind: CustomerLink.Kind) -> Callable[[_View], Callable[..., HttpResponseBase]]:
    """Let a view see only links of this kind that open; answer the others with one calm page."""

    def wrapped(view: _View) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def opened(request: HttpRequest, token: str, **more: Any) -> HttpResponseBase:
            found = find_link(token, kind=kind, at=timezone.now())
            if found.state is not LinkState.OPEN or found.link is None:
                return _sealed(_closed_page(request, found))
            try:
                return _sealed(view(request, found.link, token, **more))
            except NotHere as error:
                return _sealed(_not_here(request, kind, token, error))

        return csrf_exempt(opened)

    return wrapped


def _sealed(response: HttpResponseBase) -> HttpResponseBase:
    response["Referrer-Policy"] = "no-referrer"
    response["Cache-Control"] = "no-store, private"
    response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    return response


def _closed_page(request: HttpRequest, found: FoundLink) -> HttpResponse:
    context = {"shop": Shop.objects.first(), "expired": found.state is LinkState.EXPIRED}
    return render(request, "builds/link_closed.html", context, status=410 if context["expired"] else 404)


def _not_here(request: HttpRequest, kind: CustomerLink.Kind, token: str, error: NotHere) -> HttpResponse:
    """The link opens, but not to this: a packet that a later one has taken the place of."""
    home = "customer-home" if kind == CustomerLink.Kind.HANDOVER else "vehicle-record"
    context = {"shop": Shop.objects.first(), "message": error.message, "home": reverse(home, args=[token])}
    return render(request, "builds/link_not_here.html", context, status=error.status)


# --- the customer's link ---


@require_safe
@by_link(CustomerLink.Kind.HANDOVER)
def customer_home(request: HttpRequest, link: CustomerLink, token: str) -> HttpResponse:
    """Show where the build stands and what is needed from the customer."""
    build = link.build
    now = timezone.now()
    revision, packet = quote_to_offer(link), packet_to_sign(build)
    accepted = packet.acceptances.first() if packet else None
    newest = newest_packet(build)
    context = _context(build, token) | {
        "page": customer_page(build, at=now, zone=shop_zone()),
        "plan": draw_vehicle_plan(_design(build), plain=True),
        "quote": revision,
        "quote_total": revision.price_total if revision else None,
        "packet": packet if accepted is None else None,
        "accepted": accepted,
        "newest": newest,
        "needs": [item for item in (revision, packet if accepted is None else None) if item],
        "link": link,
        "has_lights": has_lights(_design(build)),
    }
    return render_on_shop_clock(request, "builds/link_home.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@by_link(CustomerLink.Kind.HANDOVER)
def customer_quote(request: HttpRequest, link: CustomerLink, token: str) -> HttpResponse:
    """Show the newest revision with its price, and take the signature that orders it."""
    revision = quote_to_offer(link)
    if revision is None:
        return redirect("customer-home", token=token)
    if request.method != "POST":
        form = SignatureForm(initial={"sha256": revision.document_id})
        return _quote_page(request, link, token, revision, form)
    form = SignatureForm(request.POST)
    try:
        sign_quote(link=link, signature=_signature(request, form), at=timezone.now())
    except BuildError as error:
        current = quote_to_offer(link) or revision
        return _quote_page(
            request, link, token, current, _asked_again(form, error, current.document_id), status=error.status
        )
    return redirect("customer-home", token=token)


@require_http_methods(["GET", "HEAD", "POST"])
@by_link(CustomerLink.Kind.HANDOVER)
def customer_packet(request: HttpRequest, link: CustomerLink, token: str) -> HttpResponse:
    """Show the packet to be read and signed, and take the signature that takes the vehicle over."""
    packet = packet_to_sign(link.build)
    if packet is None or packet.file is None or packet.acceptances.exists():
        return redirect("customer-home", token=token)
    if request.method != "POST":
        return _packet_page(request, link, token, packet, SignatureForm(initial={"sha256": packet.file.sha256}))
    form = SignatureForm(request.POST)
    try:
        sign_packet(link=link, packet=packet, signature=_signature(request, form), at=timezone.now())
    except BuildError as error:
        return _packet_page(
            request, link, token, packet, _asked_again(form, error, packet.file.sha256), status=error.status
        )
    return redirect("customer-home", token=token)


@require_safe
@by_link(CustomerLink.Kind.HANDOVER)
def customer_packet_file(request: HttpRequest, link: CustomerLink, token: str, issue: int) -> HttpResponseBase:
    """Serve the newest packet's stored file, or an older one that was signed."""
    packet = link.build.packets.filter(number=issue, state=PacketIssue.State.READY).select_related("file").first()
    newest = newest_packet(link.build)
    may_read = packet is not None and (packet == newest or packet.acceptances.exists())
    if packet is None or packet.file is None or not may_read:
        raise NotHere("This is not a packet you can open any more: a later one took its place, or there never was one.")
    name = f"{link.build.number}-packet-{packet.number}.pdf"
    return FileResponse(open_stored(packet.file), content_type="application/pdf", filename=name)


def _quote_page(
    request: HttpRequest, link: CustomerLink, token: str, revision: Revision, form: SignatureForm, *, status: int = 200
) -> HttpResponse:
    build = link.build
    design = design_of_revision(revision)
    assessment = assess(design)
    price = assessment.price
    before = (
        build.revisions.filter(sequence__lt=revision.sequence, authorisations__isnull=False)
        .order_by("-sequence")
        .first()
    )
    context = _context(build, token) | {
        "revision": revision,
        "price": price if price.total == revision.price_total else None,
        "ordered": before,
        "added": revision.price_total - before.price_total if before else None,
        "contents": contents_of(design, assessment),
        "moved": moved_lines(design_of_revision(before), design) if before else (),
        "promised_on": build.promised_on,
        "consent": QUOTE_CONSENT,
        "has_lights": has_lights(design),
        "form": form,
    }
    return render_on_shop_clock(request, "builds/link_quote.html", context, status=status)


def _packet_page(
    request: HttpRequest, link: CustomerLink, token: str, packet: PacketIssue, form: SignatureForm, *, status: int = 200
) -> HttpResponse:
    steps = link.build.steps.filter(retired=False).exclude(result__in=["pass", "not_applicable"])
    context = _context(link.build, token) | {
        "packet": packet,
        "open_steps": list(steps[:20]),
        "consent": PACKET_CONSENT,
        "form": form,
    }
    return render_on_shop_clock(request, "builds/link_packet.html", context, status=status)


def _context(build: Build, token: str) -> dict[str, Any]:
    return {"build": build, "shop": Shop.objects.first(), "token": token, "noun": noun_of(build)}


def _design(build: Build) -> Any:
    newest = build.revisions.select_related("document").order_by("-sequence").first()
    return design_of_revision(newest) if newest else design_of(build)


def _signature(request: HttpRequest, form: SignatureForm) -> Signature:
    """What was typed; raises BadInput where the form itself could not be read."""
    if not form.is_valid():
        raise BadInput({name: str(errors[0]) for name, errors in form.errors.items()})
    values = form.cleaned_data
    return Signature(
        sha256=values["sha256"], typed_name=values["typed_name"], capacity=values["capacity"], consents=values["consents"],
        address=request.META.get("REMOTE_ADDR") or None, browser=request.headers.get("User-Agent", ""),
    )  # fmt: skip


def _asked_again(form: SignatureForm, error: BuildError, sha256: str) -> SignatureForm:
    """The form with words at its fields, for what is stored now; a hidden field's words go to the head."""
    typed = {name: form.data.get(name, "") for name in ("typed_name", "capacity")}
    again = SignatureForm(typed | {"sha256": sha256})
    again.is_valid()
    again.errors.clear()
    words = dict(error.fields)
    hidden = words.pop("sha256", "")
    add_errors(again, BadInput(words) if words else BuildError(hidden or error.message))
    if words and hidden:
        again.add_error(None, hidden)
    return again


# --- the vehicle's link ---


@require_safe
@by_link(CustomerLink.Kind.VEHICLE)
def vehicle_record(request: HttpRequest, link: CustomerLink, token: str) -> HttpResponse:
    """Show the as-built record of a vehicle, searched."""
    build = link.build
    packet = newest_packet(build)
    words = " ".join(request.GET.get("q", "").split())[:_LONGEST_SEARCH]
    record = None
    if packet is not None:
        frozen = read_packet_input(text_of(packet.as_built))
        record = record_of(frozen, design_of_revision(packet.revision), words=words)
    context = _context(build, token) | {"packet": packet, "record": record, "words": words}
    return render_on_shop_clock(request, "builds/link_vehicle.html", context)
