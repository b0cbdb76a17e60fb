"""Revisions with who authorised them, findings passed over with a reason, findings that stand."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.documents.packet_context import PacketContext
from builds.engineering.assessing.words import of_condition, of_node
from builds.engineering.design import Design

__all__ = ["ChangeLine", "Changes", "FindingLine", "OverrideLine", "changes_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeLine:
    """A revision, its price, and who allowed it."""

    letter: str
    summary: str
    released: str
    price: str
    authorised: tuple[str, ...]
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OverrideLine:
    """A blocking finding somebody went on in spite of."""

    subject: str
    message: str
    reason: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """A finding that stands at this issue."""

    severity: str
    subject: str
    message: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """Section 11."""

    revisions: tuple[ChangeLine, ...]
    overrides: tuple[OverrideLine, ...]
    findings: tuple[FindingLine, ...]
    changed: tuple[str, ...]


def changes_of(context: PacketContext) -> Changes:
    """Return what changed, what was allowed, and what the assessment still says."""
    units = context.quantities
    return Changes(
        revisions=tuple(
            ChangeLine(
                letter=item.letter,
                summary=item.summary,
                released=f"{units.day(item.released_at)}, {item.released_by}",
                price=units.money(item.price_total),
                authorised=tuple(
                    f"{allowed.authorised_by}: {allowed.kind}{f' {allowed.reference}' if allowed.reference else ''}, {units.day(allowed.at)}"
                    for allowed in item.authorisations
                ),
                sha256=item.document_sha256,
            )
            for item in context.input.revisions
        ),
        overrides=tuple(
            OverrideLine(
                subject=address(context.design, item.subject),
                message=item.message,
                reason=item.reason,
                who=f"{item.by}, {units.day(item.at)}",
            )
            for item in context.input.overrides
        ),
        findings=tuple(
            FindingLine(
                severity=item.severity.value,
                subject=address(context.design, item.subject),
                message=item.message,
                source=item.source,
            )
            for item in sorted(context.assessment.findings, key=lambda finding: finding.sort_key)
        ),
        changed=tuple(address(context.design, subject) for subject in context.input.changed),
    )


def address(design: Design, subject: str) -> str:
    """Return a subject as people call it: "circuit 203", "P2 (cargo panel)", "condition “Rescue scene”"."""
    family, _, key = subject.partition(":")
    names: dict[str, Iterator[str]] = {
        "node": (of_node(node) for node in design.nodes if node.key == key),
        "condition": (f"condition {of_condition(item)}" for item in design.conditions if item.key == key),
        "load": (load.name for load in design.loads if load.key == key and load.name),
        "operation": (item.name for item in design.operations if item.key == key),
        "zone": (zone.name for zone in design.platform.zones if zone.key == key),
        "part": iter((f"part line {key}",)),
    }
    plain = f"{family} {key}" if key else "the whole build"
    return next(names.get(family, iter(())), plain)
