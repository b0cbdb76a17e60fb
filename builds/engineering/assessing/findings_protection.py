"""
Findings about devices in a row: breakers that reset by themselves, feeds whose device misses a short, what opens first.

A feed's device is judged at the far end of what it guards: every node up to the next device.
"""

from collections import Counter
from collections.abc import Iterator

from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.conversion import converter_of
from builds.engineering.assessing.devices import Device, device_at
from builds.engineering.assessing.feed_fault_fixes import Cures, noticing_fixes
from builds.engineering.assessing.feed_faults import node_faults_a
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.ring_faults import missed_in_rings
from builds.engineering.assessing.run_results import Feeders, RunFacts
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.words import amperes, of_circuit, of_node, of_run, share
from builds.engineering.catalogue import found
from builds.engineering.design import Run
from builds.engineering.electrical.coordination import selectivity
from builds.engineering.electrical.protection import Reset
from builds.engineering.findings import Change, Finding, Number, ProposedFix
from builds.engineering.vocabulary import RunSide

__all__ = ["protection_findings"]

_SAME = 1e-9


def protection_findings(
    index: IndexedDesign,
    circuits: tuple[CircuitFacts, ...],
    runs: tuple[RunFacts, ...],
    feeders: Feeders,
    network: Network,
    cures: Cures,
) -> Iterator[Finding]:
    """Yield the findings; ``cures`` tells of a repair whether it takes the finding away and brings no other that blocks."""
    supply = [facts for facts in runs if facts.run.side is RunSide.SUPPLY and not facts.run.makers_own]
    yield from _cycling(index, circuits, supply, feeders)
    yield from _missed_shorts(index, network, supply, feeders, cures)
    if index.texts["coordination"] == "by opening times":
        yield from _later_than_feed(circuits, supply, feeders)
    else:
        yield from _close_to_feed(index, circuits, supply, feeders)


def _cycling(
    index: IndexedDesign, circuits: tuple[CircuitFacts, ...], runs: list[RunFacts], feeders: Feeders
) -> Iterator[Finding]:
    for run in runs:
        if run.device is not None and _resets_alone(run.device) and not any(_stays_open(guard) for guard in run.guards):
            yield _at_source(f"run:{run.run.key}", of_run(run.run), run.device)
    for facts in circuits:
        if not _resets_alone(facts.device):
            continue
        subject, where = f"circuit:{facts.circuit.number}", of_circuit(facts.circuit)
        guards = feeders.guards(facts.circuit.panel)
        if not any(_stays_open(guard) for guard in guards):
            yield _at_source(subject, where, facts.device)
        elif facts.known and not any(_notices(guard, facts.result.far_end_fault_a) for guard in guards):
            yield found(
                "breaker-cycles-on", subject, fix=_other_type(subject, facts.device), where=where,
                numbers=(Number(name="fault", value=facts.result.far_end_fault_a, unit="A"),),
                device=amperes(facts.device.rating_a), current=amperes(facts.result.far_end_fault_a),
                run=guards[0].key, feed=amperes(guards[0].device_rating_a or 0.0),
            )  # fmt: skip


def _resets_alone(device: Device) -> bool:
    return device.family is not None and device.family.reset is Reset.ALONE


def _stays_open(guard: Run) -> bool:
    """Whether a feed has a device that, once open, stays so."""
    return bool(guard.device_rating_a) and not _resets_alone(_device_of(guard))


def _device_of(run: Run) -> Device:
    return device_at(run.device_family, run.device_rating_a or 0.0, 30.0)


def _notices(guard: Run, current_a: float) -> bool:
    """Whether a feed's device opens quickly at a current; one of no known family is taken at its word."""
    family = _device_of(guard).family
    return family is None or current_a >= family.far_end_multiple_ratio * (guard.device_rating_a or 0.0) * (1 - _SAME)


def _at_source(subject: str, where: str, device: Device) -> Finding:
    return found(
        "breaker-cycles-at-source", subject, fix=_other_type(subject, device), where=where, device=amperes(device.rating_a)
    )  # fmt: skip


def _other_type(subject: str, device: Device) -> ProposedFix | None:
    """The same rating in a type that stays open."""
    for family in ("breaker-3", "breaker-2"):
        other = device_at(family, device.rating_a, device.ambient_c)
        if other.family is not None and device.rating_a in other.ratings_a:
            change = Change(subject=subject, field="device_family", value=family)
            return ProposedFix(label=f"Use a {other.family.name}", changes=(change,))
    return None


def _missed_shorts(
    index: IndexedDesign, network: Network, runs: list[RunFacts], feeders: Feeders, cures: Cures
) -> Iterator[Finding]:
    """Said once a device, of the node at which a short draws least."""
    by_rings = _reached_by_rings(index, network, feeders)
    in_rings = missed_in_rings(index, network, by_rings) if by_rings else {}
    faults_a = node_faults_a(index, network)
    guarded: dict[str, str] = {}
    for node, guard in feeders.guard_of.items():
        if node in by_rings:
            continue  # a short there is fed by more than one way
        if node in faults_a and faults_a[node] < faults_a.get(guarded.get(guard.key, ""), float("inf")):
            guarded[guard.key] = node
    for facts in runs:
        device, key = facts.device, facts.run.key
        shorts = [(faults_a[guarded[key]], guarded[key], "")] if key in guarded else []
        if key in in_rings:
            shorts.append((in_rings[key].current_a, in_rings[key].node, " over it once what opens on it has opened"))
        if not shorts or device is None or device.family is None or not facts.wire.known:
            continue
        (fault_a, farthest, over), needed_a = min(shorts), device.family.far_end_multiple_ratio * device.rating_a
        if fault_a < needed_a * (1 - _SAME):
            subject = f"run:{facts.run.key}"
            offered = noticing_fixes(index, network, facts, farthest, fault_a, needed_a)
            yield found(
                "feed-fault-not-cleared", subject,
                numbers=(Number(name="fault", value=fault_a, unit="A"), Number(name="needed", value=needed_a, unit="A")),
                fix=next((fix for fix in offered if cures("feed-fault-not-cleared", subject, fix)), None),
                where=of_run(facts.run), node=_named(index, farthest),
                current=amperes(fault_a), device=amperes(device.rating_a), needed=amperes(needed_a),
                over=over,
            )  # fmt: skip


def _reached_by_rings(index: IndexedDesign, network: Network, feeders: Feeders) -> set[str]:
    """
    Nodes on a ring of the supply side and behind one, by the walked way; all of them where two batteries are joined.

    A battery that another one reaches feeds what is behind it by itself too.
    """
    found = set[str]()
    if not feeders.closing:
        return found
    if any(state.feeding.sharing is not None and state.feeding.sharing.joined for state in network.states):
        reached = {node for state in network.states for node in state.feeding.supply_tree.parent_of}
        return reached - set(feeders.graph.batteries)
    on_ring = {run.key for run in feeders.graph.on_rings()[0]}
    for state in network.states:
        for node, parent in state.feeding.supply_tree.parent_of.items():  # parents first
            is_battery = node in index.nodes and index.nodes[node].battery is not None
            if not is_battery and (parent in found or feeders.run_of[node].key in on_ring):
                found.add(node)
    return found


def _named(index: IndexedDesign, node: str) -> str:
    """A node of the graph as a sentence names it; the input of a converter through its converter."""
    if node in index.nodes:
        return of_node(index.nodes[node])
    converter = index.nodes[converter_of(node)]
    return f"the input of {of_node(converter)}"


def _close_to_feed(
    index: IndexedDesign, circuits: tuple[CircuitFacts, ...], runs: list[RunFacts], feeders: Feeders
) -> Iterator[Finding]:
    """
    Where nobody asks for opening times, ratings alone: as large as the feed's has a finding of its own.

    A feed of nothing else puts nothing else out; a device at a battery's own post has nothing before it, whatever else charges
    that battery.
    """
    ratio = index.numbers["feed-ratio"]
    behind = [(f"circuit:{one.circuit.number}", one.device, feeders.guards(one.circuit.panel)) for one in circuits]
    behind += [(f"run:{one.run.key}", one.device, one.guards) for one in runs if one.device is not None]
    feeds = Counter(guard.key for _, _, guards in behind for guard in guards)
    at_posts = {f"run:{one.run.key}" for one in runs if battery_end(index, one.run) in feeders.graph.batteries}
    where = {f"circuit:{one.circuit.number}": of_circuit(one.circuit) for one in circuits}
    where |= {f"run:{one.run.key}": of_run(one.run) for one in runs}
    for subject, device, guards in behind:
        if (
            len(guards) == 1
            and feeds[guards[0].key] > 1
            and subject not in at_posts
            and _is_close(device, guards[0], ratio)
        ):
            yield _close(subject, where[subject], device, guards[0], ratio)


def _is_close(device: Device, guard: Run, ratio: float) -> bool:
    feed_a = guard.device_rating_a or 0.0
    return device.rating_a < feed_a < ratio * device.rating_a * (1 - _SAME)


def _close(subject: str, where: str, device: Device, guard: Run, limit: float) -> Finding:
    feed_a = guard.device_rating_a or 0.0
    return found(
        "device-close-to-feed", subject,
        numbers=(Number(name="ratio", value=feed_a / device.rating_a, unit=""), Number(name="limit", value=limit, unit="")),
        where=where, device=amperes(device.rating_a), feed=amperes(feed_a), run=guard.key,
        ratio=share(feed_a / device.rating_a), limit=share(limit),
    )  # fmt: skip


def _later_than_feed(circuits: tuple[CircuitFacts, ...], runs: list[RunFacts], feeders: Feeders) -> Iterator[Finding]:
    """Against the nearest device before each; where the rating alone says it, that finding stands for this one."""
    for facts in circuits:
        guards = feeders.guards(facts.circuit.panel)
        if len(guards) == 1:
            yield from _later(
                f"circuit:{facts.circuit.number}", of_circuit(facts.circuit), facts.device, guards[0], facts.result.prospective_a
            )  # fmt: skip
    for run in runs:
        if run.device is not None and len(run.guards) == 1 and run.result.prospective_a is not None:
            yield from _later(
                f"run:{run.run.key}", of_run(run.run), run.device, run.guards[0], run.result.prospective_a
            )  # fmt: skip


def _later(subject: str, where: str, device: Device, guard: Run, fault_a: float) -> Iterator[Finding]:
    before, rating_a = _device_of(guard), guard.device_rating_a
    if device.family is None or before.family is None or not rating_a or device.rating_a >= rating_a or fault_a <= 0:
        return
    held = selectivity(
        family=device.name, rating_a=device.rating_a, before_family=before.name, before_rating_a=rating_a, fault_a=fault_a
    )  # fmt: skip
    if held is not None and not held.selective:
        yield found(
            "device-not-selective", subject,
            numbers=(Number(name="selective up to", value=held.upto_a, unit="A"), Number(name="prospective", value=fault_a, unit="A")),
            where=where, device=f"{amperes(device.rating_a)} {device.family.name}", feed=f"{amperes(rating_a)} {before.family.name}",
            run=guard.key, upto=amperes(held.upto_a), current=amperes(fault_a),
        )  # fmt: skip
