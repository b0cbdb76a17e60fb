"""What would change if an edit were kept: the design with it, assessed and set beside the one without it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.changes import FAMILIES
from builds.engineering.design import Design
from builds.engineering.document.assemble import part_of
from builds.engineering.document.canonical import part_values
from builds.engineering.findings import Severity
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import ampere, hours, money, percent
from builds.selectors.live_strip import worst_condition
from builds.selectors.loaded_files import loaded_files_of

__all__ = ["PreviewWord", "design_with", "design_with_rows", "preview_words"]

_NO_CHANGE = "no change"


@dataclass(frozen=True, slots=True)
class PreviewWord:
    """One figure as it would go: "drop", "5.5 → 4.2 %"."""

    name: str
    text: str


def design_with(design: Design, family: str, key: str, changes: Mapping[str, Any]) -> Design:
    """
    Return the design with fields of one row changed, by the document's names.

    Raises
    ------
    EngineeringError
        If a value lies outside its range.
    """
    return design_with_rows(design, family, {key: changes})


def design_with_rows(
    design: Design, family: str, rows: Mapping[str, Mapping[str, Any]], added: Iterable[Any] = ()
) -> Design:
    """
    Return the design with fields of any rows of one family changed and new parts behind them.

    Raises EngineeringError as ``design_with`` does.
    """
    kind = FAMILIES[family]
    parts = getattr(design, kind.field)
    changed: dict[str, Any] = {
        kind.field: tuple(_with(part, rows[key]) if (key := kind.key_of(part)) in rows else part for part in parts)
        + tuple(added)
    }
    return replace(design, **changed)


def _with(part: Any, changes: Mapping[str, Any]) -> Any:
    values = part_values(part)
    for name, value in changes.items():
        outer, _, inner = name.partition(".")
        target = values.setdefault(outer, {}) if inner else values
        if value is None:
            target.pop(inner or outer, None)
        else:
            target[inner or outer] = value
    return part_of(type(part), values)


def preview_words(sheet: Sheet, changed: Design, *, family: str, key: str) -> list[PreviewWord]:
    """Return what would go where if ``changed`` were the design: the row's own figures first, then hours and price."""
    after = assess(changed, loaded_files_of(sheet.build) if changed.function_schedule else ())
    before = sheet.assessment
    words = _OWN_WORDS.get(family, _no_words)(sheet, changed, before, after, key)
    words += _shared_words(before, after)
    words.append(PreviewWord("hours", _moved(hours(before.labour.crew_h), hours(after.labour.crew_h), "h")))
    words.append(PreviewWord("price", _moved_money(before.price.total, after.price.total)))
    return words


def _moved(before: str, after: str, unit: str) -> str:
    return _NO_CHANGE if before == after else f"{before} → {after} {unit}".rstrip()


def _moved_money(before: Decimal, after: Decimal) -> str:
    return _NO_CHANGE if before == after else f"{money(before)} → {money(after)}"


def _shared_words(before: Assessment, after: Assessment) -> list[PreviewWord]:
    """Return the figures of the whole build that would move; those that stay are not worth a word."""
    words = []
    worst = worst_condition(before)
    now = next((item for item in after.conditions if worst and item.key == worst.key), None)
    if worst and now and ampere(worst.mean_a) != ampere(now.mean_a):
        words.append(PreviewWord(f"load, {worst.name.lower()}", _moved(ampere(worst.mean_a), ampere(now.mean_a), "A")))
    words += [
        PreviewWord(severity.value, f"{before.count(severity)} → {after.count(severity)}")
        for severity in (Severity.BLOCKING, Severity.CAUTION)
        if before.count(severity) != after.count(severity)
    ]
    return words


def _circuit_words(sheet: Sheet, changed: Design, before: Assessment, after: Assessment, key: str) -> list[PreviewWord]:
    was = next((item for item in before.circuits if item.number == key), None)
    now = next((item for item in after.circuits if item.number == key), None)
    if was is None or now is None:
        return [PreviewWord("circuit", "not computed: nothing feeds it")]
    old = next(item for item in sheet.design.circuits if item.number == key).device_rating_a
    new = next(item for item in changed.circuits if item.number == key).device_rating_a
    fuse = f"stays {old:g} A" if old == new else f"{old:g} → {new:g} A"
    return [
        PreviewWord("drop", _moved(percent(was.drop_ratio), percent(now.drop_ratio), "%")),
        PreviewWord("fuse", fuse),
    ]


def _load_words(sheet: Sheet, changed: Design, before: Assessment, after: Assessment, key: str) -> list[PreviewWord]:
    circuit = next(item.circuit for item in sheet.design.loads if item.key == key)
    words = _circuit_words(sheet, changed, before, after, circuit)
    return [PreviewWord(f"circuit {circuit} {words[0].name}", words[0].text)]


def _run_words(sheet: Sheet, changed: Design, before: Assessment, after: Assessment, key: str) -> list[PreviewWord]:
    was = next((item for item in before.runs if item.key == key), None)
    now = next((item for item in after.runs if item.key == key), None)
    if was is None or now is None:
        return [PreviewWord("run", "not computed: nothing feeds it")]
    return [PreviewWord("drop", _moved(f"{was.drop_v:.2f}", f"{now.drop_v:.2f}", "V"))]


def _condition_words(
    sheet: Sheet, changed: Design, before: Assessment, after: Assessment, key: str
) -> list[PreviewWord]:
    was = next((item for item in before.conditions if item.key == key), None)
    now = next((item for item in after.conditions if item.key == key), None)
    if was is None or now is None:
        return [PreviewWord("condition", "has no operating point")]
    return [PreviewWord("mean", _moved(ampere(was.mean_a), ampere(now.mean_a), "A"))]


def _part_words(sheet: Sheet, changed: Design, before: Assessment, after: Assessment, key: str) -> list[PreviewWord]:
    measures = sheet.measures
    was, now = (f"{measures.mass(item.weight.payload_left_kg):,.0f}" for item in (before, after))
    return [PreviewWord("payload left", _moved(was, now, measures.mass_unit))]


def _duty_words(sheet: Sheet, changed: Design, before: Assessment, after: Assessment, key: str) -> list[PreviewWord]:
    """The lowest charge of every battery in the profiles it changes, and how often steps shed there."""
    names = {item.key: len(after.profiles) > 1 for item in after.profiles}
    was = {(item.key, battery.key): battery for item in before.profiles for battery in item.batteries}
    words = []
    for profile in after.profiles:
        where = f" in {profile.key}" if names[profile.key] else ""
        for battery in profile.batteries:
            old = was.get((profile.key, battery.key))
            moved = _moved(percent(old.lowest_ratio), percent(battery.lowest_ratio), "%") if old else ""
            if old and moved != _NO_CHANGE:
                words.append(PreviewWord(f"lowest charge of {battery.key}{where}", moved))
    sheds = [sum(item.count for profile in one.profiles for item in profile.shedding) for one in (before, after)]
    if sheds[0] != sheds[1]:
        words.append(PreviewWord("times something sheds", f"{sheds[0]} → {sheds[1]}"))
    return words or [PreviewWord("lowest charge", _NO_CHANGE)]


def _no_words(sheet: Sheet, changed: Design, before: Assessment, after: Assessment, key: str) -> list[PreviewWord]:
    return []


_OWN_WORDS = {
    "circuit": _circuit_words,
    "load": _load_words,
    "run": _run_words,
    "condition": _condition_words,
    "part": _part_words,
    "duty": _duty_words,
    "segment": _duty_words,
    "shed": _duty_words,
}
