"""
Links that open a build's page without an account: one for the handover, which expires, one for the vehicle, which does not.

A token has 256 bits from the system's source of chance. It is shown once and the table of links keeps only its SHA-256.
The vehicle's link is meant to be found: it is printed as the code at the main disconnect and in the packets, so whoever
holds a packet, or reads its stored file or frozen input, holds that link until it is revoked.
"""

import secrets
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db import transaction

from builds.errors import BadInput, GuardRefused
from builds.models import Build, CustomerLink, Person, Revision
from builds.permissions import Action, check_may
from builds.selectors.links import token_hash
from builds.services.actors import act_as
from builds.services.quotes import blocking_of, quote_to_sign

__all__ = ["DEFAULT_DAYS", "NewLink", "make_handover_link", "make_packet_link", "make_vehicle_link", "revoke"]

DEFAULT_DAYS = 30
_MOST_DAYS = 365
_TOKEN_BYTES = 32


class NewLink(NamedTuple):
    """A link just made, with the token that nobody can read again."""

    link: CustomerLink
    token: str


def make_handover_link(
    *, build: Build, made_for: str, by: Person, at: datetime, days: int = DEFAULT_DAYS, for_nothing: bool = False
) -> NewLink:
    """
    Make the link over which the customer follows the build and signs.

    Raises
    ------
    BadInput
        If it is for nobody or for no time; and if it would offer a quote of nothing without ``for_nothing``.
    GuardRefused
        If it would offer a quote with a blocking finding that nobody overrode.
    """
    check_may(by, Action.MAKE_LINK)
    fields = {}
    if not made_for.strip():
        fields["made_for"] = "Say who gets the link."
    if not 1 <= days <= _MOST_DAYS:
        fields["days"] = f"Give it from 1 to {_MOST_DAYS} days."
    quote = quote_to_sign(build)
    if quote is not None and quote.price_total <= 0 and not for_nothing:
        fields["for_nothing"] = (
            f"Revision {quote.letter} costs {quote.price_total:.2f}: its parts or hours have no price. "
            "Price them and release again, or say that the customer is to pay nothing."
        )
    if fields:
        raise BadInput(fields)
    if quote is not None:
        _check_quote(quote)
    return _make(build, CustomerLink.Kind.HANDOVER, made_for.strip()[:120], by, at, at + timedelta(days=days))


def _check_quote(quote: Revision) -> None:
    blocking = blocking_of(quote)
    if blocking:
        more = f" And {len(blocking) - 1} more." if len(blocking) > 1 else ""
        raise GuardRefused(
            f"Revision {quote.letter} has a blocking finding that nobody overrode: {blocking[0].message}{more} "
            "Mend it and release again, or override it and say why; then make the link.",
            missing=("no-open-blocking",),
        )


def make_vehicle_link(*, build: Build, made_for: str, by: Person, at: datetime) -> NewLink:
    """Make a link for the life of the vehicle, to stand on it as a QR code. Raises NotAllowed."""
    check_may(by, Action.MAKE_LINK)
    return _make(build, CustomerLink.Kind.VEHICLE, made_for.strip()[:120], by, at, None)


def make_packet_link(*, build: Build, made_for: str, by: Person, at: datetime) -> NewLink:
    """Make the vehicle's link that a packet prints; whoever may issue the packet may make it."""
    check_may(by, Action.ISSUE_PACKET)
    return _make(build, CustomerLink.Kind.VEHICLE, made_for[:120], by, at, None)


def _make(
    build: Build, kind: CustomerLink.Kind, made_for: str, by: Person, at: datetime, expires_at: datetime | None
) -> NewLink:
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    with transaction.atomic():
        act_as(by)
        link = CustomerLink.objects.create(
            build=build, kind=kind, token_sha256=token_hash(token), made_for=made_for, made_by=by, made_at=at,
            expires_at=expires_at,
        )  # fmt: skip
    return NewLink(link=link, token=token)


def revoke(*, link: CustomerLink, by: Person, at: datetime) -> CustomerLink:
    """Close a link for good. Raises GuardRefused where it is closed already."""
    check_may(by, Action.MAKE_LINK)
    with transaction.atomic():
        act_as(by)
        locked = CustomerLink.objects.select_for_update().get(pk=link.pk)
        if locked.revoked_at is not None:
            raise GuardRefused("This link is closed already.", missing=("open",))
        locked.revoked_at, locked.revoked_by = at, by
        locked.save(update_fields=["revoked_at", "revoked_by"])
    return locked
