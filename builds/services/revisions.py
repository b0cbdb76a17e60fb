"""Releasing a revision: the working design frozen under its hash, priced, its parts reserved."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from builds.engineering.design import Design
from builds.engineering.document.canonical import canonical_text
from builds.engineering.document.reader import read_document
from builds.errors import BadInput, GuardRefused
from builds.models import Build, Person, Revision
from builds.permissions import Action, check_may
from builds.selectors.released_design import is_as_released
from builds.services.actors import act_as
from builds.services.assessments import assess_design_of
from builds.services.frozen_documents import freeze, text_of
from builds.services.reservations import reserve_parts

__all__ = ["design_of_revision", "newest_revision", "release", "revision_letter"]


def release(*, build: Build, summary: str, by: Person, at: datetime) -> Revision:
    """
    Freeze the working design as the next revision and keep its parts.

    Raises
    ------
    BadInput
        If the summary is empty.
    GuardRefused
        If nothing has changed since the newest revision.
    """
    check_may(by, Action.RELEASE_REVISION)
    if not summary.strip():
        raise BadInput({"summary": "Say in a few words what changed."})
    with transaction.atomic():
        act_as(by)
        locked = Build.objects.select_for_update().get(pk=build.pk)
        design, assessment = assess_design_of(locked)
        document = freeze(canonical_text(design))
        last = newest_revision(locked)
        if last is not None and is_as_released(design, last):
            raise GuardRefused(f"Nothing has changed since revision {last.letter}.", missing=("changed",))
        sequence = last.sequence + 1 if last else 1
        revision = Revision.objects.create(
            build=locked, letter=revision_letter(sequence), sequence=sequence, document=document,
            design_version=locked.design_version, summary=summary.strip()[:200], price_total=assessment.price.total,
            crew_h=round(Decimal(repr(assessment.labour.crew_h)), 3), released_by=by, released_at=at,
        )  # fmt: skip
        reserve_parts(build=locked, by=by, at=at)
    build.design_version = locked.design_version
    return revision


def newest_revision(build: Build) -> Revision | None:
    """Return the newest revision of ``build``, if it has any."""
    return build.revisions.order_by("-sequence").first()


def design_of_revision(revision: Revision) -> Design:
    """Return the design that a revision froze; documents of an older form are brought up to date in memory."""
    return read_document(text_of(revision.document))


def revision_letter(sequence: int) -> str:
    """Return A for 1, Z for 24, AA for 25; I and O are left out, since they read as figures."""
    letters = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    word = ""
    while sequence:
        sequence, rest = divmod(sequence - 1, len(letters))
        word = letters[rest] + word
    return word
