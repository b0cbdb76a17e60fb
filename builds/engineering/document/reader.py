"""The text of a build document to a design, or every fault that keeps it from being one."""

from collections.abc import Iterator
from itertools import chain, islice
from typing import Any

from builds.engineering.design import Design
from builds.engineering.document.assemble import design_of
from builds.engineering.document.faults import MOST_COUNTED, DocumentFaults, Fault
from builds.engineering.document.keywords import schema_faults
from builds.engineering.document.references import reference_faults
from builds.engineering.document.schema import FORMAT, SCHEMA_NUMBER, document_schema
from builds.engineering.document.text import oddities, shown, values_of
from builds.engineering.document.upgrades import UPGRADES, upgraded

__all__ = ["read_document"]


def read_document(text: str | bytes) -> Design:
    """
    Return the design that a build document describes.

    Parameters
    ----------
    text : str or bytes
        The document; bytes are UTF-8, with or without a byte order mark. At most 5 MB.

    Returns
    -------
    Design
        Lists keep the order of the document. Fields left out take the defaults of their dataclass.

    Raises
    ------
    DocumentFaults
        If the text is not a build document of a form that can be read; it carries every fault found, each with its JSON
        pointer. A design that is merely bad is no fault: see :func:`builds.engineering.assess.assess`.
    """
    values = values_of(text)
    faults = [*_envelope_faults(values)]
    if not faults:
        values = upgraded(values, present=SCHEMA_NUMBER, upgrades=UPGRADES)
        found = chain(oddities(values), schema_faults(values, document_schema()), reference_faults(values.get("build")))
        faults = list(islice(found, MOST_COUNTED))
    if faults:
        raise DocumentFaults(faults)
    return design_of(values["build"])


def _envelope_faults(values: Any) -> Iterator[Fault]:
    """What is so wrong at the top that looking further would only add noise."""
    if not isinstance(values, dict):
        yield Fault(pointer="", message="a build document is a group of fields in braces")
    elif values.get("format") != FORMAT:
        yield Fault(pointer="/format", message=f'must be "{FORMAT}"; this text is something else')
    elif isinstance(number := values.get("schema"), int) and number > SCHEMA_NUMBER:
        newest = f"this version reads forms up to {SCHEMA_NUMBER}"
        yield Fault(pointer="/schema", message=f"{shown(number)} is newer than {newest}")
