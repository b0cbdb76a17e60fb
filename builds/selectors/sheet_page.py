"""What stands on a build's sheet below its design: the buyer's rules, the checklist's progress, registers, revisions, edits."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Q
from django.urls import NoReverseMatch, reverse

from builds.drawings.progress import PhaseCount
from builds.engineering.assessment import SectionResult
from builds.engineering.buyer_rules import DEFAULT_DROP_RULES, RULES
from builds.engineering.design import Buyer, DropRule
from builds.engineering.functions.proof import Verdict
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.rewriting import statement_texts
from builds.engineering.vocabulary import Phase
from builds.models import Build, EditBatch, EditEntry, HoldReason, PacketIssue, Person, Revision, Stage
from builds.selectors.build_sheet import Sheet
from builds.selectors.edits import last_edit
from builds.selectors.figure_words import rule_value
from builds.selectors.profile_rules import stretch_words
from builds.selectors.registers import serial_count, serial_lines

__all__ = ["RuleLine", "below_design", "changes_of", "functions_of", "registers_of", "rule_lines"]

_HISTORY_LENGTH = 20
_STATEMENTS_NAMED = 4


@dataclass(frozen=True, slots=True)
class RuleLine:
    """A rule as it holds for this buyer."""

    name: str
    value: str
    source: str
    key: str = ""
    met: str = ""  # the worst that was met, of a rule held beside those of the loads' classes


@dataclass(frozen=True, slots=True)
class PacketState:
    """How the newest packet stands, as a shape and a word."""

    shape: str
    words: str


def below_design(sheet: Sheet) -> dict[str, Any]:
    """Return what the sheet prints beside the design; a fixed number of questions of the database."""
    build = sheet.build
    return {
        "rules": rule_lines(sheet.design.buyer, sheet.assessment.sections),
        "phases": _phases(build),
        "packet": _packet(build),
        "checklist_address": _address("checklist", build),
        "packet_address": _address("packet", build),
        **registers_of(build),
        "penetrations": [
            (hole, sheet.measures.diameter(float(hole.diameter_mm))) for hole in build.penetrations.select_related("by")
        ],
        **changes_of(build),
    }


def functions_of(sheet: Sheet) -> dict[str, Any] | None:
    """Return how large the function schedule is and how its claims stand; None where there is none."""
    if not sheet.design.function_schedule:
        return None
    report = report_of(sheet.design.function_schedule)
    if report.compiled is None:
        return {"inputs": 0, "channels": 0, "rules": 0, "claims": [("blocking", "The text has faults")]}
    schedule = report.compiled.schedule
    counts = Counter(result.verdict for result in report.claims)
    words = (
        ("pass", "proved", Verdict.PROVED),
        ("blocking", "refuted", Verdict.REFUTED),
        ("caution", "open", Verdict.OPEN),
    )
    return {
        "inputs": len(schedule.inputs),
        "channels": len(schedule.channels),
        "rules": len(schedule.rules),
        "claims": [(state, f"{counts[verdict]} claims {word}") for state, word, verdict in words if counts[verdict]],
    }


def _address(name: str, build: Build) -> str:
    try:
        return reverse(name, args=[build.number])
    except NoReverseMatch:
        return ""


def rule_lines(buyer: Buyer, sections: tuple[SectionResult, ...] = ()) -> list[RuleLine]:
    """Return the drop rules and the rules of the catalogue as they hold for a buyer."""
    own = {rule.key: rule for rule in buyer.rules}
    met = {item.rule: f"{100 * item.drop_v / item.base_v:.2f} %" for item in sections}
    drops = [
        RuleLine(
            _drop_name(rule), _drop_words(rule), rule.source, rule.key, met.get(rule.key, ""),
        )
        for rule in buyer.drop_rules or DEFAULT_DROP_RULES
    ]  # fmt: skip
    lines = []
    for key, kind in RULES.items():
        value = own[key].value if key in own else kind.default
        source = own[key].source if key in own else f"the shop's default: {kind.source}"
        lines.append(RuleLine(kind.name, rule_value(value, kind.unit), source))
    return drops + lines


def _drop_name(rule: DropRule) -> str:
    if not rule.holds_beside:
        who = "all loads without a rule of their own" if rule.drop_class == "*" else rule.drop_class
        return f"Drop, {who}, at {rule.current.value} current"
    who = "all loads" if rule.drop_class == "*" else rule.drop_class
    stretch = stretch_words(rule.from_node, rule.to_node, ", ".join(rule.conditions))
    return f"Drop, {who}, {stretch}, at {rule.current.value} current"


def _drop_words(rule: DropRule) -> str:
    base = "the load's own bus" if rule.follows_bus else f"{rule.base_v:g} V"
    return f"{rule.limit_ratio * 100:.3g} % of {base}"


def _phases(build: Build) -> list[PhaseCount]:
    done = Q(result__in=["pass", "not_applicable"])
    rows = build.steps.filter(retired=False).values("phase").annotate(total=Count("pk"), done=Count("pk", filter=done))
    counts = {row["phase"]: row for row in rows.order_by()}
    return [
        PhaseCount(name=phase.value, done=counts[phase]["done"], total=counts[phase]["total"])
        for phase in Phase
        if phase in counts
    ]


_PACKET_SHAPES = {
    PacketIssue.State.QUEUED: "waiting",
    PacketIssue.State.RENDERING: "in_work",
    PacketIssue.State.READY: "done",
    PacketIssue.State.FAILED: "failed",
    PacketIssue.State.CANCELLED: "not_applicable",
}


def _packet(build: Build) -> PacketState | None:
    last = build.packets.select_related("revision").order_by("-number").first()
    if last is None:
        return None
    state = PacketIssue.State(last.state)
    return PacketState(
        _PACKET_SHAPES[state], f"Packet {last.number} of revision {last.revision.letter}: {state.label.lower()}"
    )


def registers_of(build: Build) -> dict[str, Any]:
    """Return the registers kept of a build."""
    return {
        "serial_count": serial_count(serial_lines(build)),
        "serials": list(build.serials.select_related("part_line", "by", "replaced_by")),
        "splices": list(build.splices.select_related("by")),
        "gear": list(build.gear.select_related("by")),
        "removed_parts": list(build.removed_parts.select_related("by")),
    }


def changes_of(build: Build) -> dict[str, Any]:
    """Return revisions with their authorisations, the last moves and the last edits."""
    revisions: list[Revision] = list(
        build.revisions.select_related("released_by")
        .prefetch_related("authorisations__recorded_by")
        .order_by("-sequence")
    )
    batches = (
        build.edit_batches.select_related("by", "undone_by").prefetch_related("entries").order_by("-design_version")
    )
    batches = batches[:_HISTORY_LENGTH]
    return {
        "revisions": revisions,
        "moves": list(build.stage_changes.select_related("by").order_by("-at", "-pk")[:_HISTORY_LENGTH]),
        "batches": [_shown_batch(batch) for batch in batches],
        "last_edit": last_edit(build),
        "hold_reasons": HoldReason.choices,
        "stage_word": Stage(build.stage).label,
    }


@dataclass(frozen=True, slots=True)
class ShownBatch:
    """One edit: what it changed, line by line."""

    design_version: int
    lines: tuple[str, ...]
    by: Person
    at: datetime
    undone_by: EditBatch | None


def _shown_batch(batch: EditBatch) -> ShownBatch:
    entries = tuple(_entry_words(entry) for entry in batch.entries.all())
    more = (f"and {len(entries) - 4} more",) if len(entries) > 5 else entries[4:]
    undone = getattr(batch, "undone_by", None)
    first = () if batch.undoes_id is None else (batch.words,)
    return ShownBatch(
        batch.design_version, first or (*entries[:4], *more) or (batch.words,), batch.by, batch.at, undone
    )


def _entry_words(entry: EditEntry) -> str:
    """Return "circuit 203: gauge 16 → 12"."""
    if entry.family == "functions":
        return _functions_words(entry)
    name = f"{entry.family} {entry.key}"
    if entry.before is None:
        return f"{name} added"
    if entry.after is None:
        return f"{name} removed"
    before, after = entry.before["values"], entry.after["values"]
    fields = [field for field in {**before, **after} if before.get(field) != after.get(field)]
    return f"{name}: " + ", ".join(_field_words(field, before.get(field), after.get(field)) for field in fields)


def _functions_words(entry: EditEntry) -> str:
    """Return "functions: rule warn, rule cut": which statements an edit of the schedule touched."""
    before, after = (
        {subject: own for subject, (_, own) in statement_texts((kept or {}).get("text", "")).items()}
        for kept in (entry.before, entry.after)
    )
    touched = [one.replace(":", " ", 1) for one in {**before, **after} if before.get(one) != after.get(one)]
    more = f" and {len(touched) - _STATEMENTS_NAMED} more" if len(touched) > _STATEMENTS_NAMED else ""
    return f"functions: {', '.join(touched[:_STATEMENTS_NAMED]) or 'remarks'}{more}"


def _field_words(field: str, before: Any, after: Any) -> str:
    words = field.rsplit("_", 1)[0] if field.endswith(("_a", "_m", "_v", "_h", "_kg")) else field
    words = words.replace("_", " ")
    if isinstance(before, list | dict) or isinstance(after, list | dict):
        return words
    return f"{words} {'–' if before in (None, '') else before} → {'–' if after in (None, '') else after}"
