"""
Issuing a packet: the whole input frozen, a row queued. Rendering it is :mod:`builds.services.packet_rendering`.

The row is the truth; the queue only nudges a worker to look at it. One packet of a build is open at a time, which the
database keeps. A correction is a new issue; the stored file of an issue is never made again.
"""

from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models.functions import Now

from builds.documents.packet_input import packet_input_text, read_packet_input
from builds.engineering.assess import assess
from builds.engineering.design import Design
from builds.engineering.document.canonical import part_values
from builds.engineering.explaining import workings_of
from builds.engineering.explaining.printed import printed_working
from builds.errors import GuardRefused, NotHere, Taken
from builds.models import Build, CustomerLink, FrozenDocument, PacketIssue, Person, Revision, Shop
from builds.permissions import Action, check_may
from builds.selectors.engineering_inputs import design_of
from builds.selectors.links import token_hash
from builds.selectors.packet_input import recorded_values, shop_values
from builds.selectors.released_design import is_as_released
from builds.services.actors import act_as
from builds.services.customer_links import make_packet_link
from builds.services.frozen_documents import freeze, text_of
from builds.services.refusals import constraint_of
from builds.services.revisions import design_of_revision, newest_revision

__all__ = ["cancel", "issue_packet", "render_again"]

_OPEN = (PacketIssue.State.QUEUED, PacketIssue.State.RENDERING)
_PRINTED_KINDS = frozenset(
    (
        "circuit-drop", "circuit-ampacity", "circuit-loading", "circuit-far-end", "run-margin", "run-short", "condition-mean",
        "condition-source", "condition-battery", "battery-equalising", "section-drop", "condition-lowest", "condition-reserve", "duty-lowest", "duty-start", "key-off",
        "key-off-days", "added-mass", "payload", "payload-crew", "front-axle", "rear-axle", "case-left", "case-right",
    )
)  # fmt: skip
_FAMILIES = (
    ("node", "nodes"),
    ("run", "runs"),
    ("circuit", "circuits"),
    ("load", "loads"),
    ("condition", "conditions"),
    ("shed", "shed_steps"),
    ("duty", "duty_profiles"),
    ("segment", "duty_segments"),
    ("operation", "operations"),
    ("part", "parts"),
)


def issue_packet(
    *, build: Build, by: Person, at: datetime, site_address: str = "", with_workings: bool = False
) -> PacketIssue:
    """
    Freeze everything a packet prints and queue its render.

    Parameters
    ----------
    build : Build
        Its newest revision is what the packet tells of.
    by : Person
        Who issues it; stands on the packet.
    at : datetime
        The time of issue, in UTC; the only clock a packet knows.
    site_address : str, optional
        Where this site is reached, for the QR code; the setting SITE_ADDRESS comes first.
    with_workings : bool, default False
        Whether to print how drops, devices, shorts, conditions and weights came about.

    Returns
    -------
    PacketIssue
        Queued. Whoever called sends the nudge, after the commit.

    Raises
    ------
    GuardRefused
        If there is no revision, or the working design has changed since.
    Taken
        If another packet of this build is being made.
    """
    check_may(by, Action.ISSUE_PACKET)
    with transaction.atomic():
        act_as(by)
        locked = Build.objects.select_for_update().get(pk=build.pk)
        _refuse_second(locked)
        revision = _revision_to_issue(locked)
        last = locked.packets.order_by("-number").first()
        number = last.number + 1 if last else 1
        address = _vehicle_address(locked, number, by, at, site_address)
        document = _freeze_input(locked, revision, number, by, at, address, with_workings=with_workings)
        return _insert(
            PacketIssue(
                build=locked, number=number, revision=revision, as_built=document, time_zone=_shop().time_zone,
                issued_by=by, issued_at=at, progress_words="Waits for a worker",
            )
        )  # fmt: skip


def cancel(*, packet: PacketIssue, by: Person, at: datetime) -> PacketIssue:
    """
    Stop a packet that is being made: a waiting one at once, one that is rendering at its next page.

    Raises
    ------
    GuardRefused
        If it is not being made any more.
    """
    check_may(by, Action.ISSUE_PACKET)
    with transaction.atomic():
        act_as(by)
        locked = PacketIssue.objects.select_for_update().get(pk=packet.pk)
        if locked.state not in _OPEN:
            raise GuardRefused(
                f"Packet {locked.number} is {locked.get_state_display().lower()} already.", missing=("open",)
            )
        # Nobody renders it, or whoever did is gone: then nobody would ever see the wish.
        abandoned = PacketIssue.objects.filter(pk=locked.pk, lease_until__lt=Now()).exists()
        if locked.state == PacketIssue.State.QUEUED or abandoned:
            locked.state, locked.finished_at, locked.progress_words = PacketIssue.State.CANCELLED, at, ""
        locked.cancel_wanted = True
        locked.save(update_fields=["state", "finished_at", "progress_words", "cancel_wanted"])
    return locked


def render_again(*, packet: PacketIssue, by: Person, at: datetime) -> PacketIssue:
    """Queue a failed packet once more, from the same frozen input. Raises GuardRefused, Taken."""
    check_may(by, Action.ISSUE_PACKET)
    with transaction.atomic():
        act_as(by)
        build = Build.objects.select_for_update().get(pk=packet.build_id)
        locked = PacketIssue.objects.select_for_update().get(pk=packet.pk)
        if locked.state != PacketIssue.State.FAILED:
            raise GuardRefused(
                "Only a packet that failed is rendered again; a correction is a new issue.", missing=("failed",)
            )
        if build.packets.filter(number__gt=locked.number).exists():
            raise GuardRefused("A newer packet was issued since. Issue a new one instead.", missing=("newest",))
        _refuse_second(build)
        locked.state, locked.failure, locked.finished_at = PacketIssue.State.QUEUED, "", None
        locked.attempt, locked.lease_until, locked.cancel_wanted = 0, None, False
        locked.progress_words, locked.progress_page, locked.progress_pages = "Waits for a worker", 0, None
        locked.save()
    return locked


def _refuse_second(build: Build) -> None:
    going = build.packets.filter(state__in=_OPEN).first()
    if going is not None:
        raise Taken(f"Packet {going.number} is being made. Wait for it, or cancel it first.")


def _insert(packet: PacketIssue) -> PacketIssue:
    try:
        with transaction.atomic():
            packet.save(force_insert=True)
    except IntegrityError as error:
        if constraint_of(error) in ("builds_packetissue_one_open", "builds_packetissue_number_once"):
            raise Taken("Another packet of this build is being made. Wait for it, or cancel it first.") from error
        raise
    return packet


def _revision_to_issue(build: Build) -> Revision:
    """The newest revision, unless something was edited since: a packet tells what was built, not what might be."""
    revision = newest_revision(build)
    if revision is None:
        raise GuardRefused(
            "No revision is released yet. A packet tells of a released revision.", missing=("revision-released",)
        )
    if not is_as_released(design_of(build), revision):
        raise GuardRefused(
            f"The design has changed since revision {revision.letter}. Release it first, so that the packet tells what was built.",
            missing=("changes-released",),
        )
    return revision


def _shop() -> Shop:
    shop = Shop.objects.first()
    if shop is None:
        raise NotHere("The shop's own row is missing: its name and time zone stand on every packet.")
    return shop


def _freeze_input(
    build: Build,
    revision: Revision,
    number: int,
    by: Person,
    at: datetime,
    vehicle_address: str,
    *,
    with_workings: bool,
) -> FrozenDocument:
    design = design_of_revision(revision)
    issue: dict[str, Any] = {
        "number": number,
        "issued_at": at,
        "issued_by": str(by),
        "vehicle_address": vehicle_address,
        "corrects": _corrected(build),
        "promised_on": build.promised_on,
        "contact": build.customer.contact_name,
    }
    assessment = assess(design)
    values = recorded_values(build, up_to=revision) | {
        "shop": shop_values(_shop()),
        "issue": issue,
        "changed": list(_changed_since_previous(revision, design)),
        "assessment": assessment,
    }
    if with_workings:
        found = workings_of(design, assessment, kinds=_PRINTED_KINDS)
        values["workings"] = [printed_working(working, design.conventions.units) for working in found]
    return freeze(packet_input_text(values))


def _corrected(build: Build) -> int | None:
    """The last issue that was rendered: the new one takes its place."""
    last = build.packets.filter(state=PacketIssue.State.READY).order_by("-number").first()
    return last.number if last else None


def _changed_since_previous(revision: Revision, design: Design) -> tuple[str, ...]:
    previous = revision.build.revisions.filter(sequence=revision.sequence - 1).first()
    if previous is None:
        return ()
    before = design_of_revision(previous)
    changed: list[str] = []
    for family, field in _FAMILIES:
        was = {_key(part): part_values(part) for part in getattr(before, field)}
        now = {_key(part): part_values(part) for part in getattr(design, field)}
        changed += [
            f"{family}:{key}" for key in (*now, *(key for key in was if key not in now)) if was.get(key) != now.get(key)
        ]
    return tuple(changed)


def _key(part: Any) -> str:
    return str(part.number if hasattr(part, "number") else part.key)


def _vehicle_address(build: Build, number: int, by: Person, at: datetime, site_address: str) -> str:
    """
    The address behind the QR code: that of the packet before while its link is open, else of a link made for this one.

    A code printed once at the main disconnect so keeps working over later issues.
    """
    last = build.packets.select_related("as_built").order_by("-number").first()
    if last is not None:
        address = read_packet_input(text_of(last.as_built)).issue.vehicle_address
        token = address.rstrip("/").rsplit("/", 1)[-1]
        known = CustomerLink.objects.filter(build=build, token_sha256=token_hash(token), revoked_at__isnull=True)
        if known.exists():
            return address
    made = make_packet_link(build=build, made_for=f"QR code of packet {number}", by=by, at=at)
    site = (settings.SITE_ADDRESS or site_address or "http://127.0.0.1:8000").rstrip("/")
    return f"{site}/v/{made.token}/"
