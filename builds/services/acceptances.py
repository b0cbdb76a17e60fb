"""
What a customer signs over their link: the quote, which authorises a revision, and the packet, which takes the vehicle over.

A signature is bound to what was read by its SHA-256: the form carries the hash of what the page showed, and it is
compared with what is stored at the moment of signing. Signing moves nothing by itself; it is what the stage guards ask.
"""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction

from builds.errors import BadInput, GuardRefused, NotHere, Taken
from builds.models import Acceptance, Authorisation, Build, CustomerLink, PacketIssue, Revision, Stage
from builds.selectors.kept_designs import working_design
from builds.selectors.released_design import is_as_released
from builds.services.actors import act_as
from builds.services.authorisations import record_by_link
from builds.services.quotes import blocking_of, quote_to_sign
from builds.services.refusals import constraint_of
from builds.services.revisions import newest_revision
from builds.services.stored_files import open_stored

__all__ = [
    "PACKET_CONSENT",
    "QUOTE_CONSENT",
    "Signature",
    "packet_to_sign",
    "quote_to_offer",
    "quote_to_sign",
    "sign_packet",
    "sign_quote",
]

PACKET_CONSENT = (
    "I have read this packet, I receive the vehicle with it, and I sign on this screen instead of on paper. "
    "I could have had it on paper."
)
QUOTE_CONSENT = (
    "I have read this quote, I may order this work, and I sign on this screen instead of on paper. "
    "I could have had it on paper."
)
_LONGEST_NAME = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """What the customer typed and where from; ``sha256`` is the hash of what their page showed."""

    sha256: str
    typed_name: str
    consents: bool
    capacity: str = ""
    address: str | None = None
    browser: str = ""


def packet_to_sign(build: Build) -> PacketIssue | None:
    """
    Return the packet a signature would count for: the newest, rendered, of the newest revision, the vehicle ready.

    While the design has moved on from that revision there is none: the packet would not tell of what is handed over.
    """
    if build.stage not in (Stage.READY, Stage.DELIVERED):
        return None
    gone = [PacketIssue.State.FAILED, PacketIssue.State.CANCELLED]
    last = build.packets.exclude(state__in=gone).select_related("file", "revision").order_by("-number").first()
    revision = newest_revision(build)
    if last is None or revision is None or last.state != PacketIssue.State.READY or last.revision_id != revision.pk:
        return None
    if build.stage == Stage.READY and not is_as_released(working_design(build), revision):
        return None
    return last


def quote_to_offer(link: CustomerLink) -> Revision | None:
    """
    Return the quote that a customer's link shows for signing.

    Whoever makes a link is asked about a quote of nothing and about blocking findings. A revision released later that has
    either is held back until a new link is made.
    """
    revision = quote_to_sign(link.build)
    if revision is None or link.made_at >= revision.released_at:
        return revision
    return None if revision.price_total <= 0 or blocking_of(revision) else revision


def sign_packet(*, link: CustomerLink, packet: PacketIssue, signature: Signature, at: datetime) -> Acceptance:
    """
    Write down that the customer took the vehicle over with this packet.

    Raises
    ------
    BadInput
        If the name is missing, the consent is not given, or the hash is not that of the stored file.
    NotHere
        If the link does not open, or the packet is not of its build.
    GuardRefused
        If a newer packet took its place, or the vehicle is not ready.
    Taken
        If it is signed already.
    """
    with transaction.atomic():
        act_as(None)
        build = _build_of(link, at)
        if packet.build_id != build.pk:
            raise NotHere("There is no such packet.")
        current = packet_to_sign(build)
        if current is None or current.pk != packet.pk or current.file is None:
            raise GuardRefused(
                "This packet is not the one to sign any more. Read the page again.", missing=("newest-packet",)
            )
        _check(
            signature,
            current.file.sha256,
            "The packet on the page is not the one that is stored. Read it again, then sign.",
        )
        _check_stored(current)
        return _accept(current, link, signature, at)


def sign_quote(*, link: CustomerLink, signature: Signature, at: datetime) -> Authorisation:
    """
    Write down that the customer orders the newest revision at its price.

    Raises
    ------
    BadInput
        If the name is missing, the consent is not given, or another revision has come since the page was read.
    NotHere
        If the link does not open.
    GuardRefused
        If there is no quote to sign.
    """
    with transaction.atomic():
        act_as(None)
        link.build = _build_of(link, at)  # as it stands under the lock
        revision = quote_to_offer(link)
        if revision is None:
            raise GuardRefused(
                "There is no quote to sign: it is signed already, or not made yet.", missing=("open-quote",)
            )
        _check(signature, revision.document_id, "The quote has changed since you read it. Read it again, then sign.")
        return record_by_link(
            revision=revision, authorised_by=signature.typed_name.strip(), reference=_reference(link, signature), at=at,
            address=signature.address,
        )  # fmt: skip


def _build_of(link: CustomerLink, at: datetime) -> Build:
    """The link's build, both locked: a link revoked or a packet issued meanwhile must be seen."""
    locked = CustomerLink.objects.select_for_update().get(pk=link.pk)
    closed = locked.revoked_at is not None or locked.kind != CustomerLink.Kind.HANDOVER
    if closed or (locked.expires_at is not None and locked.expires_at <= at):
        raise NotHere("This link does not open any more. Ask the shop for a new one.")
    return Build.objects.select_for_update().get(pk=locked.build_id)


def _check(signature: Signature, sha256: str, changed_words: str) -> None:
    fields = {}
    name = signature.typed_name.strip()
    if not name:
        fields["typed_name"] = "Type your name: it stands for your signature."
    elif len(name) > _LONGEST_NAME:
        fields["typed_name"] = f"A name of at most {_LONGEST_NAME} letters."
    if not signature.consents:
        fields["consents"] = "Tick the sentence if you agree to it. Without it nothing is signed; paper is as good."
    if signature.sha256 != sha256:
        fields["sha256"] = changed_words
    if fields:
        raise BadInput(fields)


def _check_stored(packet: PacketIssue) -> None:
    """The bytes themselves are hashed once more: nobody signs for a file that is not there any more as it was."""
    assert packet.file is not None
    try:
        with open_stored(packet.file) as opened:
            stored = hashlib.file_digest(opened, "sha256").hexdigest()  # type: ignore[arg-type]
    except FileNotFoundError:
        stored = ""
    if stored != packet.file.sha256:
        raise GuardRefused(
            "The stored packet cannot be read as it was. Call the shop; nothing was signed.", missing=("stored-file",)
        )


def _accept(packet: PacketIssue, link: CustomerLink, signature: Signature, at: datetime) -> Acceptance:
    assert packet.file is not None
    acceptance = Acceptance(
        packet=packet, link=link, file_sha256=packet.file.sha256, typed_name=signature.typed_name.strip(),
        capacity=signature.capacity.strip()[:80], consent_words=PACKET_CONSENT, address=signature.address,
        browser=signature.browser[:200], at=at,
    )  # fmt: skip
    try:
        with transaction.atomic():
            acceptance.save(force_insert=True)
    except IntegrityError as error:
        if constraint_of(error) == "builds_acceptance_once_per_packet":
            raise Taken("This packet is signed already. Nothing more is needed from you.") from error
        raise
    return acceptance


def _reference(link: CustomerLink, signature: Signature) -> str:
    capacity = signature.capacity.strip()
    return f"link {str(link.uid)[:8]}{f', as {capacity}' if capacity else ''}"
