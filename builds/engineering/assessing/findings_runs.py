"""Findings about runs and the nodes between them: conductor, device, protection at the source, ratings, disconnects, studs."""

from collections.abc import Iterator

from builds.engineering.assessing.circuit_results import Needs
from builds.engineering.assessing.devices import Device, breaks_a
from builds.engineering.assessing.findings_circuits import interrupting_finding
from builds.engineering.assessing.findings_wires import Guarded, conductor_findings, device_findings
from builds.engineering.assessing.fitting import fitted_device
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.run_results import ElementCurrents, Feeders, RunFacts
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.words import (
    amperes,
    device_word,
    length,
    listing,
    of_condition,
    of_node,
    of_run,
    volts,
)
from builds.engineering.assessment import GroundResult
from builds.engineering.catalogue import found
from builds.engineering.design import PowerNode, Run
from builds.engineering.electrical.protection import DeviceFamily, device_families
from builds.engineering.findings import Change, Finding, Number, ProposedFix
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["ground_findings", "node_findings", "run_findings"]

_SAME = 1e-9


def run_findings(index: IndexedDesign, runs: tuple[RunFacts, ...]) -> Iterator[Finding]:
    """Yield the findings about runs."""
    for facts in runs:
        if facts.run.makers_own:
            yield from _makers_own(index, facts)
            continue
        guarded = _guarded(index, facts)
        yield from conductor_findings(index, guarded)
        yield from device_findings(index, guarded)
        if facts.run.side is RunSide.SUPPLY:
            yield from _at_source(index, runs, facts)
            yield from _breaking(index, facts)
            if facts.feeds_loads:
                yield from _against_feed(index, facts)


def _makers_own(index: IndexedDesign, facts: RunFacts) -> Iterator[Finding]:
    """What this build puts on a cable that came with the vehicle; how its maker sized and protected it is not judged."""
    run, carried_a = facts.run, facts.wire.ampacity_a
    if carried_a is None and (run.gauge or run not in index.makers_wires):
        yield from conductor_findings(index, _guarded(index, facts))  # a size that no table has leaves figures out
    limits = [(carried_a, "its conductor as drawn")] if carried_a is not None else []
    if facts.device is not None:
        limits.append((facts.device.carries_a, f"its {amperes(facts.device.rating_a)} device as drawn"))
    for limit_a, name in limits:
        if facts.of_loads_a > limit_a * (1 + _SAME):
            yield found(
                "makers-cable-overloaded", f"run:{run.key}",
                numbers=(Number(name="current", value=facts.of_loads_a, unit="A"), Number(name="carries", value=limit_a, unit="A")),
                where=of_run(run), current=amperes(facts.of_loads_a), name=name, carries=amperes(limit_a),
            )  # fmt: skip
            return


def _guarded(index: IndexedDesign, facts: RunFacts) -> Guarded:
    device, held = facts.device, facts.held
    return Guarded(
        part=facts.run,
        wire=facts.wire,
        device=held.device if device is None and held is not None else device,
        device_of=held.name if device is None and held is not None else "",
        sizing_a=facts.sizing_a,
        continuous_a=facts.continuous_a,
        nominal_v=facts.nominal_v,
        needs=Needs(current_a=facts.sizing_a, continuous_a=facts.continuous_a),
        prospective_a=facts.result.prospective_a or 0.0,
        keeps_device=any(
            key in index.nodes and index.nodes[key].kind is NodeKind.ACCESS_POINT
            for key in (facts.run.from_node, facts.run.to_node)
        ),
    )


def _at_source(index: IndexedDesign, runs: tuple[RunFacts, ...], facts: RunFacts) -> Iterator[Finding]:
    """Protection where a battery feeds a run; a charging cable without it may be the vehicle maker's own."""
    run = facts.run
    at_battery = any(
        key in index.nodes and index.nodes[key].battery is not None for key in (run.from_node, run.to_node)
    )
    if facts.device is None:
        if at_battery and not _from_makers_converter(index, facts):
            id_ = "charging-cable-unprotected" if facts.charges else "run-unprotected"
            yield found(id_, f"run:{run.key}", fix=fitted_device(index, runs, facts), where=of_run(run))
        return
    limit_m = index.numbers["device-distance"]
    if run.device_distance_m > run.length_m > 0.0:
        yield _beyond_cable(index, run)
    elif run.device_distance_m > limit_m * (1 + _SAME) and not _guarded_before(index, facts):
        conventions = index.design.conventions
        yield found(
            "device-too-far", f"run:{run.key}",
            numbers=(Number(name="distance", value=run.device_distance_m, unit="m"), Number(name="limit", value=limit_m, unit="m")),
            fix=_nearer_fix(index, facts, facts.device, limit_m),
            where=of_run(run), distance=length(run.device_distance_m, conventions), limit=length(limit_m, conventions),
        )  # fmt: skip


def _beyond_cable(index: IndexedDesign, run: Run) -> Finding:
    conventions = index.design.conventions
    return found(
        "device-beyond-cable", f"run:{run.key}",
        numbers=(Number(name="distance", value=run.device_distance_m, unit="m"), Number(name="length", value=run.length_m, unit="m")),
        where=of_run(run), distance=length(run.device_distance_m, conventions), length=length(run.length_m, conventions),
    )  # fmt: skip


def _from_makers_converter(index: IndexedDesign, facts: RunFacts) -> bool:
    """Whether the cable comes from an electric vehicle's own converter, which its maker protects."""
    ends = (facts.run.from_node, facts.run.to_node)
    return facts.charges and any(key in index.nodes and index.nodes[key].kind is NodeKind.DCDC for key in ends)


def _nearer_fix(index: IndexedDesign, facts: RunFacts, device: Device, limit_m: float) -> ProposedFix:
    """The device nearer its source, where a short draws more: with it, where need be, a family that breaks that."""
    subject = f"run:{facts.run.key}"
    changes = [Change(subject=subject, field="device_distance_m", value=limit_m)]
    label = f"Move it to {length(limit_m, index.design.conventions)}"
    prospective_a, capacity_a = facts.moved_prospective_a, breaks_a(device.name, facts.nominal_v)
    if prospective_a is not None and capacity_a is not None and capacity_a < prospective_a:
        family = (
            None
            if _backed_up(index, facts, prospective_a)
            else _breaking_family(device, facts.nominal_v, prospective_a)
        )
        if family is not None:
            changes.append(Change(subject=subject, field="device_family", value=family))
            label += f" and use a {device_word(family)}"
    return ProposedFix(label=label, changes=tuple(changes))


def _guarded_before(index: IndexedDesign, facts: RunFacts) -> bool:
    """Whether a device further up already protects this run's conductor, so that the distance of its own does not matter."""
    feed_a, carried_a = sum(guard.device_rating_a or 0.0 for guard in facts.guards), facts.wire.ampacity_a
    if not feed_a or carried_a is None:
        return False
    return carried_a >= min(1.0, index.numbers["conductor-margin"]) * feed_a


def _breaking(index: IndexedDesign, facts: RunFacts) -> Iterator[Finding]:
    device, prospective_a = facts.device, facts.result.prospective_a
    if device is None or prospective_a is None:
        return
    capacity_a = breaks_a(device.name, facts.nominal_v)
    if capacity_a is not None and prospective_a > capacity_a and not _backed_up(index, facts, prospective_a):
        yield interrupting_finding(
            f"run:{facts.run.key}", of_run(facts.run), device.name, prospective_a, capacity_a,
            fix=_breaking_fix(index, facts, device, prospective_a),
        )  # fmt: skip


def _backed_up(index: IndexedDesign, facts: RunFacts, prospective_a: float) -> bool:
    """Whether the buyer cites back-up, and the device before it breaks this short by itself."""
    if not facts.guards or index.texts["backup-device"] != "cited":
        return False
    return min(breaks_a(guard.device_family, facts.nominal_v) or 0.0 for guard in facts.guards) >= prospective_a


def _breaking_family(device: Device, nominal_v: float, prospective_a: float) -> str | None:
    """The family that breaks just enough of those made in this rating; None where there is none."""
    enough = [
        (capacity_a, family.key)
        for capacity_a, family in _breaking_families(device, nominal_v, prospective_a)
        if device.rating_a in family.ratings_a
    ]
    return min(enough)[1] if enough else None


def _breaking_families(device: Device, nominal_v: float, prospective_a: float) -> Iterator[tuple[float, DeviceFamily]]:
    """The families that break a short, each with what it breaks: a breaker for a breaker."""
    for family in device_families():
        capacity_a = breaks_a(family.key, nominal_v)
        alike = device.family is None or (family.is_breaker == device.family.is_breaker and not family.cycles)
        if alike and capacity_a is not None and capacity_a >= prospective_a:
            yield capacity_a, family


def _breaking_fix(index: IndexedDesign, facts: RunFacts, device: Device, prospective_a: float) -> ProposedFix | None:
    """Another family in the same rating; else in the next one, where the conductor stands behind that."""
    family, rating_a = _breaking_family(device, facts.nominal_v, prospective_a), device.rating_a
    if family is None:
        larger = _next_larger(index, facts, device, prospective_a)
        if larger is None:
            return None
        rating_a, family = larger
    changes = [Change(subject=f"run:{facts.run.key}", field="device_family", value=family)]
    if rating_a != device.rating_a:
        changes.append(Change(subject=f"run:{facts.run.key}", field="device_rating_a", value=rating_a))
    return ProposedFix(label=f"Use a {amperes(rating_a)} {device_word(family)}", changes=tuple(changes))


def _next_larger(
    index: IndexedDesign, facts: RunFacts, device: Device, prospective_a: float
) -> tuple[float, str] | None:
    """The nearest larger rating, and its family, that breaks a short, below what stands before it and within the wire."""
    carried_a, feed_a = facts.wire.ampacity_a, sum(guard.device_rating_a or 0.0 for guard in facts.guards)
    if carried_a is None:
        return None
    most_a = carried_a / index.numbers["conductor-margin"]
    fitting = [
        (rating_a, capacity_a, family.key)
        for capacity_a, family in _breaking_families(device, facts.nominal_v, prospective_a)
        for rating_a in index.on_shelf(family.ratings_a, device.rating_a, most_a)
        if not feed_a or rating_a < feed_a
    ]
    return (min(fitting)[0], min(fitting)[2]) if fitting else None


def _against_feed(index: IndexedDesign, facts: RunFacts) -> Iterator[Finding]:
    """A device at a battery's own post has nothing before it, whatever else charges that battery."""
    run = facts.run
    end, feed_a = battery_end(index, run), sum(guard.device_rating_a or 0.0 for guard in facts.guards)
    if run.device_rating_a is None or not feed_a or (end in index.nodes and index.nodes[end].battery is not None):
        return
    if run.device_rating_a >= feed_a:
        yield found(
            "device-above-feed", f"run:{run.key}",
            numbers=(Number(name="device", value=run.device_rating_a, unit="A"), Number(name="feed", value=feed_a, unit="A")),
            where=of_run(run), device=amperes(run.device_rating_a), feed=amperes(feed_a),
            run=listing(tuple(guard.key for guard in facts.guards)),
        )  # fmt: skip


def node_findings(
    index: IndexedDesign, network: Network, currents: ElementCurrents, feeders: Feeders
) -> Iterator[Finding]:
    """Yield the findings about ratings of nodes and about panels that no disconnect makes dead."""
    for node in index.design.nodes:
        if node.rating_a is not None:
            yield from _rating(index, network, currents, feeders.guards(node.key), node)
    alive = feeders.graph.alive_without_disconnects()
    for node in index.design.nodes:
        if node.panel is not None and node.key in alive and index.circuits_of.get(node.key):
            yield found("disconnect-missing", f"node:{node.key}", node=node.key)


def _rating(
    index: IndexedDesign, network: Network, currents: ElementCurrents, guards: tuple[Run, ...], node: PowerNode
) -> Iterator[Finding]:
    assert node.rating_a is not None
    row = network.elements.node_row[node.key]
    current_a, name = float(currents.sizing_a[row]), of_node(node)
    let_a = [guard.device_rating_a or 0.0 for guard in guards]
    # what passes through contacts comes from one side; a bus is fed from all
    passed = node.kind in (NodeKind.DISCONNECT, NodeKind.ISOLATOR)
    let_through_a = max(let_a, default=0.0) if passed else sum(let_a)
    if current_a > node.rating_a * (1 + _SAME):
        key = currents.condition[row]
        when = f"in {of_condition(index.conditions[key])}" if key else "while a flat battery is charged"
        yield found(
            "node-over-rating", f"node:{node.key}",
            numbers=(Number(name="current", value=current_a, unit="A"), Number(name="rating", value=node.rating_a, unit="A")),
            name=name, current=amperes(current_a), when=when, rating=amperes(node.rating_a),
        )  # fmt: skip
    elif let_through_a > node.rating_a * (1 + _SAME):
        keys = tuple(guard.key for guard in guards)
        yield found(
            "node-below-feed", f"node:{node.key}",
            numbers=(Number(name="device", value=let_through_a, unit="A"), Number(name="rating", value=node.rating_a, unit="A")),
            name=name, rating=amperes(node.rating_a), device=amperes(let_through_a),
            runs=f"run {keys[0]}" if len(keys) == 1 else f"runs {listing(keys)}",
        )  # fmt: skip


def ground_findings(index: IndexedDesign, grounds: tuple[GroundResult, ...]) -> Iterator[Finding]:
    """Yield the grounds that rise above the buyer's limit."""
    limit_v = index.numbers["stud-drop"]
    for ground in grounds:
        if ground.rise_v > limit_v * (1 + _SAME):
            condition = of_condition(index.conditions[ground.worst_condition])
            yield found(
                "stud-drop-over-limit", f"node:{ground.key}",
                numbers=(Number(name="rise", value=ground.rise_v, unit="V"), Number(name="limit", value=limit_v, unit="V")),
                node=ground.key, rise=volts(ground.rise_v), condition=condition, limit=volts(limit_v),
            )  # fmt: skip
