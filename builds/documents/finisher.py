"""What is mended in the PDF before it is written: the renderer lists every attachment twice in the catalog."""

from typing import Any

__all__ = ["list_attachments_once"]


def list_attachments_once(document: Any, pdf: Any) -> None:
    """
    Keep each associated file once in the catalog's /AF, in its order.

    Given to the renderer as its finisher, so that no second pass over the bytes is needed. The entries are references
    ("12 0 R") in one PDF array.
    """
    associated = pdf.catalog.get("AF")
    if associated is None:
        return
    once = list(dict.fromkeys(_text(item) for item in associated))
    associated[:] = once


def _text(reference: Any) -> str:
    return reference.decode() if isinstance(reference, bytes) else str(reference)
