"""The page ``docs/reference/findings.md``, made from the catalogue; ``python3 manage.py gendocs`` writes it."""

from collections.abc import Iterator

from builds.engineering.catalogue import CATALOGUE
from builds.engineering.catalogue_kind import FindingKind
from builds.engineering.findings import Severity

__all__ = ["findings_page"]

_MADE = "<!-- Made from the code by `python3 manage.py gendocs`; edit the code. -->"
_INTRODUCTION = """\
What an assessment can say of a design.
An id never changes its meaning and has one severity: *blocking* stops the work until it is mended or overridden with a
recorded reason, a *caution* asks for a look, a *note* only tells.
Words in braces are filled in with figures rounded for people; the exact figures travel beside them.
The rule named is the usual one; where a buyer's own rule decides, the finding names that."""
_SECTIONS = {
    Severity.BLOCKING: "Blocking",
    Severity.CAUTION: "Cautions",
    Severity.NOTE: "Notes",
}


def findings_page(_: str) -> str:
    """Return the whole page; what stood there before does not matter."""
    lines = ["# Findings", "", _MADE, "", *_INTRODUCTION.splitlines(), ""]
    for severity, heading in _SECTIONS.items():
        kinds = sorted((kind for kind in CATALOGUE.values() if kind.severity is severity), key=lambda kind: kind.id)
        lines += [f"## {heading}", ""]
        for kind in kinds:
            lines += _entry(kind)
    return "\n".join(lines).rstrip() + "\n"


def _entry(kind: FindingKind) -> Iterator[str]:
    yield from (f"### {kind.id}", "", f"> {kind.template}", "")
    yield from (f"- **Meaning**: {kind.meaning}", f"- **To mend it**: {kind.hint}", f"- **Rule**: {kind.source}", "")
