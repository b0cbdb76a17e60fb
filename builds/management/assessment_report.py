"""
``assess FILE`` without Django: reads a build document, assesses it and prints the assessment as JSON.

It stands outside the command so that it starts without settings, database or data folder.
"""

import dataclasses
import json
import sys
from decimal import Decimal
from enum import IntEnum
from pathlib import Path
from typing import Any, TextIO

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.document import DocumentFaults, read_document
from builds.engineering.document.text import MOST_BYTES

__all__ = ["ExitStatus", "assess_file", "assessment_values", "bytes_of", "reason_not_read"]

_DECIMALS = 6  # a microvolt; the last bits of a sum differ between machines and say nothing


class ExitStatus(IntEnum):
    """How ``assess`` ends."""

    NOTHING_BLOCKING = 0
    BLOCKING = 1
    NOT_A_DOCUMENT = 2


def assess_file(name: str, *, out: TextIO = sys.stdout, err: TextIO = sys.stderr) -> ExitStatus:
    """Assess the document in a file ("-" is the standard input) and print the answer; faults go to ``err``."""
    try:
        design = read_document(bytes_of(name))
    except DocumentFaults as faults:
        for fault in faults.faults:
            err.write(f"{fault}\n")
        return ExitStatus.NOT_A_DOCUMENT
    except OSError as error:
        err.write(f"{name}: {reason_not_read(error)}\n")
        return ExitStatus.NOT_A_DOCUMENT
    assessment = assess(design)
    out.write(json.dumps(assessment_values(assessment), indent=2) + "\n")
    return ExitStatus.BLOCKING if assessment.blocking else ExitStatus.NOTHING_BLOCKING


def assessment_values(assessment: Assessment) -> Any:
    """Return an assessment as plain values: every field under its own name, in the order of the dataclasses."""
    return _plain(assessment)


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return round(value, _DECIMALS)
    return float(value) if isinstance(value, Decimal) else value


def bytes_of(name: str) -> bytes:
    """Return a document's bytes, "-" for the standard input; no more than show that it is too large. Raises OSError."""
    if name == "-":
        return sys.stdin.buffer.read(MOST_BYTES + 1)
    with Path(name).open("rb") as file:
        return file.read(MOST_BYTES + 1)


def reason_not_read(error: OSError) -> str:
    """Return in words why a file could not be read, and what to do."""
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    if isinstance(error, IsADirectoryError):
        return "this is a folder; name a file"
    if isinstance(error, PermissionError):
        return "this file may not be read; ask its owner for access"
    return f"the file could not be read ({error.strerror})"
