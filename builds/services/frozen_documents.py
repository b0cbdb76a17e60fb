"""Canonical texts kept for ever under their own hash."""

import zlib

from builds.engineering.document.canonical import content_sha256
from builds.models import FrozenDocument

__all__ = ["freeze", "text_of"]


def freeze(text: str) -> FrozenDocument:
    """Keep a text; the same text is kept once."""
    document, _ = FrozenDocument.objects.get_or_create(
        sha256=content_sha256(text), defaults={"compressed": zlib.compress(text.encode(), 9)}
    )
    return document


def text_of(document: FrozenDocument) -> str:
    """Return a kept text. Raises ValueError if the bytes are not what the hash says."""
    text = zlib.decompress(bytes(document.compressed)).decode()
    if content_sha256(text) != document.sha256:
        raise ValueError(f"The kept document {document.sha256[:12]} does not match its hash.")
    return text
