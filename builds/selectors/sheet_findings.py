"""Findings of a sheet: where each belongs, what stands at a row's margin, and the index of sections with its marks."""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from builds.drawings.margin_bar import figure
from builds.engineering.design import Design
from builds.engineering.findings import Finding, Number, Severity
from builds.models import FindingOverride
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import Measures

__all__ = [
    "SECTIONS",
    "FindingCard",
    "IndexLine",
    "Margin",
    "cards_of",
    "index_of",
    "is_empty",
    "margins_of",
    "row_id",
    "section_of",
]

# Number, name and anchor of each section, in the order of the sheet.
SECTIONS: tuple[tuple[int, str, str], ...] = (
    (1, "Vehicle and buyer", "vehicle-and-buyer"),
    (2, "Parts bill", "parts-bill"),
    (3, "Circuits", "circuits"),
    (4, "Power", "power"),
    (5, "Conditions", "conditions"),
    (6, "Weight", "weight"),
    (7, "Hours", "hours"),
    (8, "Checklist", "checklist"),
    (9, "Registers", "registers"),
    (10, "Changes", "changes"),
    (11, "Packet", "packet"),
    (12, "Functions", "functions"),
)

_SECTION_OF_FAMILY = {
    "circuit": 3, "load": 3, "run": 4, "node": 4, "condition": 5, "zone": 6, "part": 2, "operation": 7,
    **dict.fromkeys(("functions", "rule", "claim", "given", "channel", "input", "head", "pattern", "set", "sync", "file"), 12),
    "duty": 5, "segment": 5, "shed": 5,
}  # fmt: skip
_FUNCTIONS = 12
_IDENTITY_IDS = frozenset({"vin-missing", "vin-check-digit", "model-year-differs"})
_ENERGY_WORDS = ("key-off", "source", "battery")


@dataclass(frozen=True, slots=True)
class Margin:
    """What stands at the left of a row: the worst finding about it, and whether it changed since the last revision."""

    worst: str = ""
    words: str = ""
    changed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingCard:
    """A finding as the side column shows it."""

    id: str
    subject: str
    severity: str
    subject_address: str
    subject_url: str
    message: str
    numbers_words: str
    hint: str
    source: str
    element_id: str
    fix_word: str
    overridden: FindingOverride | None
    may_override: bool


@dataclass(frozen=True, slots=True)
class IndexLine:
    """One line of the index: how many there are in the section and the worst that was found there."""

    number: int
    name: str
    anchor: str
    count: str
    worst: str


def row_id(subject: str) -> str:
    """
    Return the element id of a row; every address gives another, whatever characters it has.

    >>> row_id("circuit:203"), row_id("run:R 1/2")
    ('circuit-203', 'run-R_20_1_2f_2')
    """
    family, _, key = subject.partition(":")
    return f"{family}-" + re.sub(r"[^A-Za-z0-9-]", lambda found: f"_{ord(found.group()):x}_", key)


def section_of(finding: Finding) -> int:
    """Return the number of the section a finding belongs to."""
    family = finding.subject.partition(":")[0]
    if family in _SECTION_OF_FAMILY:
        return _SECTION_OF_FAMILY[family]
    if finding.id in _IDENTITY_IDS:
        return 1
    return 5 if finding.id.startswith(_ENERGY_WORDS) else 6


def margins_of(sheet: Sheet) -> dict[str, Margin]:
    """Return what stands at the margin of each row that has something there; a load's findings stand at its circuit."""
    found: dict[str, list[Finding]] = defaultdict(list)
    homes = _circuit_of_load(sheet.design)
    for finding in sheet.assessment.findings:
        found[finding.subject].append(finding)
        if finding.subject in homes:
            found[homes[finding.subject]].append(finding)
    changed = sheet.changed | {homes[subject] for subject in sheet.changed if subject in homes}
    return {subject: _margin(found.get(subject, []), subject in changed) for subject in found.keys() | changed}


def _margin(findings: list[Finding], changed: bool) -> Margin:
    if not findings:
        return Margin(changed=changed)
    worst = min(findings, key=lambda item: item.sort_key)
    return Margin(worst=worst.severity.value, words=worst.message, changed=changed)


def cards_of(sheet: Sheet) -> list[FindingCard]:
    """Return every finding of a sheet as its card, worst first."""
    homes = _circuit_of_load(sheet.design)
    given = {(item.finding_id, item.subject, item.message): item for item in sheet.overrides}
    ordered = sorted(sheet.assessment.findings, key=lambda item: item.sort_key)
    return [
        _card(sheet, finding, homes, given.get((finding.id, finding.subject, finding.message[:400])))
        for finding in ordered
    ]


def _card(sheet: Sheet, finding: Finding, homes: dict[str, str], override: FindingOverride | None) -> FindingCard:
    key = finding.subject.partition(":")[2]
    section = section_of(finding)
    has_row = bool(key) and section != _FUNCTIONS  # the functions have a page of their own
    anchor = row_id(homes.get(finding.subject, finding.subject)) if has_row else SECTIONS[section - 1][2]
    return FindingCard(
        id=finding.id,
        subject=finding.subject,
        severity=finding.severity.value,
        subject_address=f"{section} · {_called(sheet.design, finding.subject) or SECTIONS[section - 1][1]}",
        subject_url=f"#{anchor}",
        message=finding.message,
        numbers_words=_numbers(finding.numbers, sheet.measures),
        hint=finding.hint,
        source=finding.source,
        element_id=f"finding-{finding.id}-{row_id(finding.subject)}",
        fix_word=finding.fix.label if finding.fix else "",
        overridden=override,
        may_override=finding.severity is Severity.BLOCKING and override is None,
    )


def _called(design: Design, subject: str) -> str:
    """The address people use: what is printed has its own, a condition and a zone go by their names."""
    family, _, key = subject.partition(":")
    if family == "condition":
        return next((item.name for item in design.conditions if item.key == key and item.name), key)
    if family == "zone":
        return next((zone.name for zone in design.platform.zones if zone.key == key), key)
    return key


def is_empty(design: Design) -> bool:
    """Whether a design holds nothing yet that findings could be about."""
    return not (design.nodes or design.circuits or design.loads or design.parts or design.operations)


def _numbers(numbers: Iterable[Number], measures: Measures) -> str:
    return ", ".join(_number_words(item, *measures.shown(item.value, item.unit)) for item in numbers)


def _number_words(item: Number, value: float, unit: str) -> str:
    unit = "position" if unit == "positions" and value == 1 else unit
    return f"{item.name.replace('_', ' ')} {figure(value).replace('-', '−')}{' ' + unit if unit else ''}"


def _circuit_of_load(design: Design) -> dict[str, str]:
    return {f"load:{load.key}": f"circuit:{load.circuit}" for load in design.loads}


def index_of(sheet: Sheet, counts: dict[int, str]) -> list[IndexLine]:
    """Return the index; ``counts`` gives the words at the right of sections that are not of the design."""
    worst: dict[int, Severity] = {}
    for finding in sheet.assessment.findings:
        section = section_of(finding)
        if section not in worst or finding.severity.rank < worst[section].rank:
            worst[section] = finding.severity
    own = {2: len(sheet.design.parts), 3: len(sheet.design.circuits), 5: len(sheet.design.conditions)}
    words = {number: str(count) for number, count in own.items() if count} | counts
    if sheet.newest is not None and sheet.change_count:
        words[10] = str(sheet.change_count)
    return [
        IndexLine(number, name, anchor, words.get(number, ""), worst[number].value if number in worst else "")
        for number, name, anchor in SECTIONS
    ]
