"""
The build document: a whole build as one versioned JSON text.

=============  =====================================================================
module         what it holds
=============  =====================================================================
``reader``     text to design, or every fault with its JSON pointer
``canonical``  design to the one text that stands for it, and its hash
``additions``  fields left out of the canonical text while they say nothing
``schema``     the published JSON Schema, made from the dataclasses
``scales``     digits and decimals of every figure, shared with the database columns
``limits``     range of every number
``meanings``   what every field means, in a line
``text``       JSON as such: size, depth, doubled names, odd numbers
``keywords``   the schema's checks in our words
``references`` addresses used once, nothing named that is not there
``upgrades``   older forms brought up to the present one
=============  =====================================================================
"""

from builds.engineering.document.canonical import canonical_text, content_sha256, document_values
from builds.engineering.document.faults import DocumentFaults, Fault
from builds.engineering.document.reader import read_document
from builds.engineering.document.schema import FORMAT, SCHEMA_NUMBER, schema_text

__all__ = [
    "FORMAT",
    "SCHEMA_NUMBER",
    "DocumentFaults",
    "Fault",
    "canonical_text",
    "content_sha256",
    "document_values",
    "read_document",
    "schema_text",
]
