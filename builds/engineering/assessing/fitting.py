"""A device where a battery feeds a run without one: what the run and all that hangs on it unprotected can stand behind."""

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

from builds.engineering.assessing.devices import breaks_a, device_at
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.assessing.words import amperes, device_word
from builds.engineering.design import Run
from builds.engineering.findings import Change, ProposedFix
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["Behind", "behind_runs", "fitted_device"]

# what a repair proposes at a battery post, smallest breaking capacity last resort
_FITTED_FAMILIES = ("MRBF", "MEGA", "class-T")


@dataclass(frozen=True, slots=True)
class Behind:
    """
    What hangs on a run up to the next devices: the least that a conductor or node there bears, and the largest device.

    ``links`` tells that it leads to another source, so that what charges flows there too, which no load tells of.
    """

    bears_a: float
    largest_device_a: float
    links: bool


def behind_runs(index: IndexedDesign, runs: Iterable[RunFacts], bare: RunFacts) -> Behind:
    """Walk on from a run over all that has no device of its own, past no battery and no converter."""
    steps: dict[str, list[tuple[RunFacts, str]]] = {}
    for facts in runs:
        if facts.run.side is RunSide.SUPPLY and facts.run.key != bare.run.key:
            steps.setdefault(facts.run.from_node, []).append((facts, facts.run.to_node))
            steps.setdefault(facts.run.to_node, []).append((facts, facts.run.from_node))
    end = battery_end(index, bare.run)
    start = bare.run.to_node if end == bare.run.from_node else bare.run.from_node
    bears_a, largest_a, links = math.inf, 0.0, False
    met, waiting = {start}, deque([start])
    while waiting:
        here = waiting.popleft()
        node = index.nodes.get(here)
        links = links or (node is not None and (node.battery is not None or node.kind is NodeKind.ISOLATOR))
        if node is None or node.battery is not None or node.converter is not None:
            continue
        bears_a = min(bears_a, node.rating_a or math.inf)
        largest_a = max((circuit.device_rating_a for circuit in index.circuits_of.get(here, ())), default=largest_a)
        for facts, there in steps.get(here, ()):
            if facts.device is not None:
                largest_a = max(largest_a, facts.device.rating_a)
            elif there not in met:
                bears_a = min(bears_a, facts.wire.ampacity_a or 0.0)
                met.add(there)
                waiting.append(there)
    return Behind(bears_a, largest_a, links)


def fitted_device(index: IndexedDesign, runs: Iterable[RunFacts], facts: RunFacts) -> ProposedFix | None:
    """
    The smallest device that carries the load and is larger than those behind it; the largest in a link between sources.

    Its family breaks what a short there draws; this cable and all that is unprotected behind it stand behind it. A cable from
    one battery to another gets one at both ends.
    """
    carried_a, prospective_a = facts.wire.ampacity_a, facts.result.prospective_a
    if carried_a is None or prospective_a is None:
        return None
    end = battery_end(index, facts.run)
    ambient_c = index.ambient_c((index.nodes[end].zone,)) if end in index.nodes else 30.0
    behind = behind_runs(index, runs, facts)
    most_a = min(carried_a, behind.bears_a) / index.numbers["conductor-margin"]
    for family in _FITTED_FAMILIES:
        device = device_at(family, 1.0, ambient_c)
        least_a = device.smallest_a(
            facts.continuous_a, facts.sizing_a, index.numbers["device-loading"], index.stocked_ratings_a
        )
        fitting = index.on_shelf(device.ratings_a, least_a, most_a)
        if fitting and (breaks_a(family, facts.nominal_v) or 0.0) >= prospective_a:
            near = next((rating_a for rating_a in fitting if rating_a > behind.largest_device_a), fitting[-1])
            rating_a = fitting[-1] if behind.links else near
            return _fix(facts.run, rating_a, family, both_ends=_joins_batteries(index, facts.run))
    return None


def _joins_batteries(index: IndexedDesign, run: Run) -> bool:
    return all(key in index.nodes and index.nodes[key].battery is not None for key in (run.from_node, run.to_node))


def _fix(run: Run, rating_a: float, family: str, *, both_ends: bool) -> ProposedFix:
    values: dict[str, str | float] = {"device_family": family, "device_rating_a": rating_a}
    if both_ends:
        values["device_at_both_ends"] = True
    changes = tuple(Change(subject=f"run:{run.key}", field=field, value=value) for field, value in values.items())
    where = " at both ends" if both_ends else ""
    return ProposedFix(label=f"Fit a {amperes(rating_a)} {device_word(family)}{where}", changes=changes)
