"""Who allowed a revision to be built."""

from datetime import datetime

from django.db import transaction

from builds.errors import BadInput
from builds.models import Authorisation, Person, Revision
from builds.permissions import Action, check_may
from builds.services.actors import act_as

__all__ = ["record", "record_by_link"]


def record(
    *, revision: Revision, kind: str, authorised_by: str, reference: str, by: Person, at: datetime
) -> Authorisation:
    """Write down a written quote or a purchase order that came in. Raises BadInput."""
    check_may(by, Action.RECORD_AUTHORISATION)
    fields = {}
    if kind not in (Authorisation.Kind.WRITTEN_QUOTE, Authorisation.Kind.PURCHASE_ORDER):
        fields["kind"] = "Say whether it is a written quote or a purchase order; a link is signed by the customer."
    if not reference.strip():
        fields["reference"] = "Give its number, or where the paper is kept."
    return _record(revision, kind, authorised_by, reference, by, at, None, fields)


def record_by_link(
    *, revision: Revision, authorised_by: str, reference: str, at: datetime, address: str | None
) -> Authorisation:
    """Write down that the customer signed the quote through their link. Raises BadInput."""
    return _record(revision, Authorisation.Kind.LINK, authorised_by, reference, None, at, address, {})


def _record(
    revision: Revision, kind: str, authorised_by: str, reference: str, by: Person | None, at: datetime,
    address: str | None, fields: dict[str, str],
) -> Authorisation:  # fmt: skip
    if not authorised_by.strip():
        fields["authorised_by"] = "Give the name of whoever authorised it."
    if fields:
        raise BadInput(fields)
    with transaction.atomic():
        act_as(by)
        return Authorisation.objects.create(
            revision=revision, kind=kind, document_sha256=revision.document_id,
            authorised_by=authorised_by.strip()[:120], reference=reference.strip()[:80], authorised_at=at,
            recorded_by=by, address=address,
        )  # fmt: skip
