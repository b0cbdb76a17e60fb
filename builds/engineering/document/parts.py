"""One part of a design checked by the document's own rules: what a form or a call checks before a row is written."""

from typing import Any

from builds.engineering.document.faults import Fault
from builds.engineering.document.keywords import schema_faults
from builds.engineering.document.schema import document_schema

__all__ = ["part_faults"]


def part_faults(part: type[Any], values: dict[str, Any]) -> tuple[Fault, ...]:
    """Return every place where ``values`` (numbers as ``int`` or ``Decimal``) are not a ``part`` of a document."""
    schema = {"$ref": f"#/$defs/{part.__name__}", "$defs": document_schema()["$defs"]}
    return tuple(schema_faults(values, schema))
