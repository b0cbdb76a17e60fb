"""Which figures can be explained, by key, and the working of each."""

from collections.abc import Callable, Iterator

from builds.engineering.assess import assess
from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.conductors import ampacity_working, margin_working
from builds.engineering.explaining.currents import (
    circuit_current_working,
    condition_current_working,
    panel_current_working,
    run_current_working,
)
from builds.engineering.explaining.devices import far_end_working, loading_working, short_working
from builds.engineering.explaining.drops import circuit_drop_working, lowest_working, run_drop_working
from builds.engineering.explaining.duty import duty_lowest_working, duty_start_working, reserve_working
from builds.engineering.explaining.equalising import equalising_working
from builds.engineering.explaining.feeds import alternator_hot_working, feed_drop_working
from builds.engineering.explaining.gauges import proposal_working
from builds.engineering.explaining.sections import section_drop_working
from builds.engineering.explaining.sources import (
    battery_working,
    key_off_days_working,
    key_off_working,
    source_working,
)
from builds.engineering.explaining.subject import Subject, subject_of
from builds.engineering.explaining.totals import (
    added_working,
    axle_working,
    elapsed_working,
    hours_working,
    payload_working,
    price_working,
)
from builds.engineering.explaining.values import Working
from builds.engineering.explaining.weights import case_working, crew_payload_working, zone_working
from builds.engineering.makers_wires import with_makers_wires

__all__ = ["explain", "keys_of", "workings_of"]

_OF_CIRCUIT: dict[str, Callable[[Subject, str], Working]] = {
    "circuit-mean": lambda subject, key: circuit_current_working(subject, "mean", key),
    "circuit-continuous": lambda subject, key: circuit_current_working(subject, "continuous", key),
    "circuit-peak": lambda subject, key: circuit_current_working(subject, "peak", key),
    "circuit-drop": circuit_drop_working,
    "circuit-ampacity": lambda subject, key: _ampacity(subject, subject.circuit(key), f"circuit-ampacity:{key}"),
    "circuit-loading": lambda subject, key: loading_working(subject, subject.circuit(key), f"circuit-loading:{key}"),
    "circuit-margin": lambda subject, key: _margin(subject, subject.circuit(key), f"circuit-margin:{key}"),
    "circuit-short": lambda subject, key: short_working(subject, subject.circuit(key), f"circuit-short:{key}"),
    "circuit-far-end": far_end_working,
    "circuit-gauge": lambda subject, key: proposal_working(subject, f"circuit:{key}"),
}
_OF_RUN: dict[str, Callable[[Subject, str], Working]] = {
    "run-continuous": lambda subject, key: run_current_working(subject, "continuous", key),
    "run-peak": lambda subject, key: run_current_working(subject, "peak", key),
    "run-drop": run_drop_working,
    "run-ampacity": lambda subject, key: _ampacity(subject, subject.run(key), f"run-ampacity:{key}"),
    "run-loading": lambda subject, key: loading_working(subject, subject.run(key), f"run-loading:{key}"),
    "run-margin": lambda subject, key: _margin(subject, subject.run(key), f"run-margin:{key}"),
    "run-short": lambda subject, key: short_working(subject, subject.run(key), f"run-short:{key}"),
    "run-gauge": lambda subject, key: proposal_working(subject, f"run:{key}"),
}
_OF_PANEL: dict[str, Callable[[Subject, str], Working]] = {
    "panel-continuous": panel_current_working,
    "panel-feed-drop": feed_drop_working,
}
_OF_ALTERNATOR: dict[str, Callable[[Subject, str], Working]] = {
    "alternator-idle": lambda subject, key: alternator_hot_working(subject, key, idle=True),
    "alternator-speed": lambda subject, key: alternator_hot_working(subject, key, idle=False),
}
_OF_CONDITION: dict[str, Callable[[Subject, str], Working]] = {
    "condition-mean": lambda subject, key: condition_current_working(subject, "mean", key),
    "condition-rms": lambda subject, key: condition_current_working(subject, "rms", key),
    "condition-peak": lambda subject, key: condition_current_working(subject, "peak", key),
    "condition-lowest": lowest_working,
    "condition-source": source_working,
    "condition-battery": battery_working,
    "condition-reserve": reserve_working,
}
_OF_BATTERY: dict[str, Callable[[Subject, str], Working]] = {"battery-equalising": equalising_working}
_OF_PROFILE: dict[str, Callable[[Subject, str], Working]] = {
    "duty-lowest": duty_lowest_working,
    "duty-start": duty_start_working,
}
_OF_ZONE: dict[str, Callable[[Subject, str], Working]] = {"zone-added": zone_working}
_OF_CASE: dict[str, Callable[[Subject, str], Working]] = {
    "case-front": lambda subject, place: case_working(subject, "front", place),
    "case-rear": lambda subject, place: case_working(subject, "rear", place),
    "case-left": lambda subject, place: case_working(subject, "left", place),
    "case-right": lambda subject, place: case_working(subject, "right", place),
    "case-together": lambda subject, place: case_working(subject, "together", place),
}
_MOST_CASES = (
    5  # as built, nearly out of fuel, with the regulation's people, with the buyer's crew, that nearly out of fuel
)
_OF_RULE: dict[str, Callable[[Subject, str], Working]] = {"section-drop": section_drop_working}
_OF_BUILD: dict[str, Callable[[Subject], Working]] = {
    "key-off": key_off_working,
    "key-off-days": key_off_days_working,
    "added-mass": added_working,
    "payload": payload_working,
    "payload-crew": crew_payload_working,
    "front-axle": lambda subject: axle_working(subject, rear=False),
    "rear-axle": lambda subject: axle_working(subject, rear=True),
    "hours": hours_working,
    "hours-elapsed": elapsed_working,
    "price": price_working,
}


def _ampacity(subject: Subject, facts: CircuitFacts | RunFacts, key: str) -> Working:
    part = facts.circuit if isinstance(facts, CircuitFacts) else facts.run
    return ampacity_working(subject, part, facts.wire, key)


def _margin(subject: Subject, facts: CircuitFacts | RunFacts, key: str) -> Working:
    part = facts.circuit if isinstance(facts, CircuitFacts) else facts.run
    if facts.device is not None:
        rating_a, words = facts.device.rating_a, f"rating of its own {facts.device.name}"
    elif isinstance(facts, RunFacts) and facts.held is not None:
        rating_a, words = facts.held.device.rating_a, f"what bounds its current: {facts.held.name}"
    else:
        raise UnknownTableEntry("The devices before this conductor", key)
    return margin_working(subject, part, facts.wire, rating_a=rating_a, device_words=words, key=key)


def explain(design: Design, key: str, assessment: Assessment | None = None) -> Working:
    """
    Return how one figure came about.

    Parameters
    ----------
    design : Design
        The build as it stands.
    key : str
        What the figure is and whose: "circuit-drop:203", "run-short:R4", "condition-mean:scene", "payload".
    assessment : Assessment, optional
        What the core says of the design, where it is at hand.

    Returns
    -------
    Working
        Its result is the figure of the assessment.

    Raises
    ------
    UnknownTableEntry
        If there is no such kind of figure, no such circuit, run or condition, or nothing to compute it from.
    """
    return _explain(subject_of(design, assess(design) if assessment is None else assessment), key)


def _explain(subject: Subject, key: str) -> Working:
    kind, _, name = key.partition(":")
    if kind in _OF_BUILD and not name:
        return _OF_BUILD[kind](subject)
    of_rows = {**_OF_CIRCUIT, **_OF_RUN, **_OF_PANEL, **_OF_CONDITION, **_OF_BATTERY, **_OF_ALTERNATOR, **_OF_RULE}
    made = {**of_rows, **_OF_PROFILE, **_OF_ZONE, **_OF_CASE}.get(kind)
    if made is None:
        raise UnknownTableEntry("What can be explained", kind)
    return made(subject, name)


def keys_of(design: Design) -> Iterator[str]:
    """Yield every key that might have a working, in the order of the sheet."""
    yield from (f"{kind}:{circuit.number}" for circuit in design.circuits for kind in _OF_CIRCUIT)
    yield from (f"{kind}:{run.key}" for run in with_makers_wires(design).runs for kind in _OF_RUN)
    yield from (f"{kind}:{node.key}" for node in design.nodes if node.panel is not None for kind in _OF_PANEL)
    yield from (f"{kind}:{condition.key}" for condition in design.conditions for kind in _OF_CONDITION)
    yield from (f"{kind}:{node.key}" for node in design.nodes if node.battery is not None for kind in _OF_BATTERY)
    yield from (f"{kind}:{node.key}" for node in design.nodes if node.alternator is not None for kind in _OF_ALTERNATOR)
    yield from (f"{kind}:{profile.key}" for profile in design.duty_profiles for kind in _OF_PROFILE)
    yield from (f"{kind}:{zone.key}" for zone in design.platform.zones for kind in _OF_ZONE)
    yield from (f"{kind}:{place}" for place in range(1, _MOST_CASES + 1) for kind in _OF_CASE)
    yield from (f"{kind}:{rule.key}" for rule in design.buyer.drop_rules if rule.holds_beside for kind in _OF_RULE)
    yield from _OF_BUILD


def workings_of(
    design: Design,
    assessment: Assessment | None = None,
    *,
    proposals: bool = True,
    kinds: frozenset[str] | None = None,
) -> Iterator[Working]:
    """Yield the working of every figure that has one, or of some kinds, the design solved once; proposed pairs only where asked for."""
    subject = subject_of(design, assess(design) if assessment is None else assessment)
    for key in keys_of(design):
        kind = key.partition(":")[0]
        if (not proposals and kind.endswith("-gauge")) or (kinds is not None and kind not in kinds):
            continue
        try:
            yield _explain(subject, key)
        except UnknownTableEntry:
            continue
