"""Which build a customer's link opens; the token itself is nowhere in the database, only its hash."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from builds.models import Build, CustomerLink

__all__ = ["FoundLink", "LinkState", "find_link", "links_of", "token_hash"]


class LinkState(StrEnum):
    """Whether a link opens."""

    OPEN = "open"
    EXPIRED = "expired"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLink:
    """What a token leads to; ``link`` is there only where the state is open or expired."""

    state: LinkState
    link: CustomerLink | None


def token_hash(token: str) -> str:
    """Return what is kept of a token."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def find_link(token: str, *, kind: CustomerLink.Kind, at: datetime) -> FoundLink:
    """
    Return what a token of this kind leads to; one look-up whether it exists, was revoked or never was.

    A link that was revoked answers like one that never was: whoever holds it learns nothing.
    """
    query = CustomerLink.objects.select_related("build__customer", "build__vehicle", "build__platform")
    link = query.filter(token_sha256=token_hash(token), kind=kind).first()
    if link is None or link.revoked_at is not None:
        return FoundLink(state=LinkState.CLOSED, link=None)
    if link.expires_at is not None and link.expires_at <= at:
        return FoundLink(state=LinkState.EXPIRED, link=link)
    return FoundLink(state=LinkState.OPEN, link=link)


def links_of(build: Build) -> list[CustomerLink]:
    """Return the links of a build, the newest first."""
    return list(build.links.select_related("made_by", "revoked_by").order_by("-made_at", "-pk"))
