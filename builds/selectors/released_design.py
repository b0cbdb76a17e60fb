"""The design a revision holds, and whether a design is still that one."""

import zlib
from functools import lru_cache

from django.shortcuts import get_object_or_404

from builds.engineering.design import Design
from builds.engineering.document import canonical_text, content_sha256, read_document
from builds.models import FrozenDocument, Revision

__all__ = ["is_as_released", "released_design"]


@lru_cache(maxsize=32)
def released_design(sha256: str) -> Design:
    """Return the design of a frozen document. A document never changes, so it is read once per process and kept."""
    document = get_object_or_404(FrozenDocument, pk=sha256)
    return read_document(zlib.decompress(document.compressed))


def is_as_released(design: Design, revision: Revision) -> bool:
    """
    Whether a design is what a revision holds.

    A revision released before the document's form grew has a text without the newer members. Its design is the same as
    long as the old text, as it is read today, says the same: a new version of the program changes no design.
    """
    text = canonical_text(design)
    if content_sha256(text) == revision.document_id:
        return True
    return canonical_text(released_design(revision.document_id)) == text
