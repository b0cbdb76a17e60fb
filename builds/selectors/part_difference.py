"""A part's own figures in two sheets of one build: what a changed circuit, run, load, alternator or battery does itself."""

from collections.abc import Iterable
from dataclasses import dataclass

from builds.engineering.assessment import CircuitResult, ConditionResult, RunResult
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import ampere, hours, percent, volts

__all__ = ["OwnFigure", "PartDifference", "part_differences"]


@dataclass(frozen=True, slots=True)
class OwnFigure:
    """One figure now and as it would be, in words with its unit; ``working`` is the kind of its working, of ``key``."""

    label: str
    before: str
    after: str
    working: str = ""
    key: str = ""

    @property
    def moved(self) -> bool:
        """Whether it would read otherwise."""
        return self.before != self.after


@dataclass(frozen=True, slots=True)
class PartDifference:
    """A part by its address and words, and its own figures."""

    subject: str
    words: str
    figures: tuple[OwnFigure, ...]

    @property
    def moved(self) -> int:
        """How many of its figures would read otherwise."""
        return sum(figure.moved for figure in self.figures)


_Figures = dict[tuple[str, str, str], str]  # by label, kind of working and key of that
_NONE = "–"


def part_differences(before: Sheet, after: Sheet, subjects: Iterable[str]) -> tuple[PartDifference, ...]:
    """
    Return the own figures of each part named, a load's being those of its circuit; each part once.

    Parameters
    ----------
    before : Sheet
        As it is.
    after : Sheet
        As it would be.
    subjects : iterable of str
        Addresses: "circuit:203", "run:R4", "load:BAR", "node:ALT".
    """
    wanted = dict.fromkeys(_bearer(before, subject) for subject in subjects)
    found = (_difference(before, after, *bearer) for bearer in wanted)
    return tuple(part for part in found if part.figures)


def _bearer(sheet: Sheet, subject: str) -> tuple[str, str]:
    """The family and key of what has figures: a load's circuit, else the part itself."""
    family, _, key = subject.partition(":")
    if family == "load":
        return "circuit", next((load.circuit for load in sheet.design.loads if load.key == key), "")
    return family, key


def _difference(before: Sheet, after: Sheet, family: str, key: str) -> PartDifference:
    was, now = _figures(before, family, key), _figures(after, family, key)
    figures = tuple(
        OwnFigure(place[0], was.get(place, _NONE), now.get(place, _NONE), *place[1:])
        for place in dict.fromkeys((*was, *now))
    )
    return PartDifference(f"{family}:{key}", _words(before, family, key), figures)


def _words(sheet: Sheet, family: str, key: str) -> str:
    if family == "circuit":
        legend = next((circuit.legend for circuit in sheet.design.circuits if circuit.number == key), "")
        return f"Circuit {key} {legend}".strip()
    if family == "run":
        return f"Run {key}"
    return next((f"{node.key} {node.name}".strip() for node in sheet.design.nodes if node.key == key), key)


def _figures(sheet: Sheet, family: str, key: str) -> _Figures:
    assessment = sheet.assessment
    if family == "circuit":
        circuit = next((item for item in assessment.circuits if item.number == key), None)
        rating_a = next((item.device_rating_a for item in sheet.design.circuits if item.number == key), None)
        return {} if circuit is None else _of_circuit(circuit, rating_a)
    if family == "run":
        run = next((item for item in assessment.runs if item.key == key), None)
        rating_a = next((item.device_rating_a for item in sheet.design.runs if item.key == key), None)
        return {} if run is None else _of_run(run, rating_a)
    node = next((item for item in sheet.design.nodes if item.key == key), None)
    if node is None:
        return {}
    if node.alternator is not None:
        return {place: words for item in assessment.conditions for place, words in _of_source(item).items()}
    return _of_battery(sheet)


def _of_circuit(found: CircuitResult, rating_a: float | None) -> _Figures:
    key = found.number
    return {
        (
            "Drop",
            "circuit-drop",
            key,
        ): f"{percent(found.drop_ratio)} % of {percent(found.drop_limit_ratio)}",
        ("Drop in volts", "circuit-drop", key): f"{found.drop_v:.2f} V",
        ("Lowest at its loads", "", key): f"{volts(found.load_v)} V",
        ("Continuous", "circuit-continuous", key): f"{ampere(found.continuous_a)} A",
        **_of_wire("circuit", key, found.continuous_a, found.ampacity_a, rating_a),
        ("Short at its device", "circuit-short", key): f"{found.prospective_a:,.0f} A",
        ("Short at its far end", "circuit-far-end", key): f"{found.far_end_fault_a:,.0f} A",
    }


def _of_run(found: RunResult, rating_a: float | None) -> _Figures:
    key = found.key
    figures = {
        ("Drop", "run-drop", key): f"{found.drop_v:.3f} V",
        ("Continuous", "run-continuous", key): f"{ampere(found.continuous_a)} A",
        ("Peak", "run-peak", key): f"{ampere(found.peak_a)} A",
        **_of_wire("run", key, found.continuous_a, found.ampacity_a, rating_a),
    }
    if found.prospective_a is not None:
        figures["Short at its device", "run-short", key] = f"{found.prospective_a:,.0f} A"
    return figures


def _of_wire(family: str, key: str, load_a: float, carries_a: float, rating_a: float | None) -> _Figures:
    """What its wire carries, what of that is left over the load and the device, and the device."""
    figures = {
        ("Its wire carries", f"{family}-ampacity", key): f"{ampere(carries_a)} A",
        ("Left over its load", "", key): f"{ampere(carries_a - load_a)} A",
    }
    if rating_a:
        figures["Fuse or breaker", f"{family}-loading", key] = f"{rating_a:g} A"
        figures["Wire over device", f"{family}-margin", key] = f"{carries_a / rating_a:.2f} times"
    return figures


def _of_source(found: ConditionResult) -> _Figures:
    if found.source is None:
        return {}
    estimate = ", an estimate" if found.source.estimate else ""
    return {
        (f"Gives in {found.name}", "", found.key): f"{ampere(found.source.available_a)} A{estimate}",
        (f"Left in {found.name}", "condition-source", found.key): f"{ampere(found.source.margin_a)} A",
    }


def _of_battery(sheet: Sheet) -> _Figures:
    times: _Figures = {
        (f"Lasts in {item.name}", "condition-battery", item.key): f"{hours(item.battery_h)} h"
        for item in sheet.assessment.conditions
        if item.battery_h is not None
    }
    days = sheet.assessment.energy.key_off_days
    return times if days is None else {**times, ("Days with the key off", "key-off-days", ""): f"{days:.0f}"}
