"""
Findings where there is more than one way: conductors in parallel, links between two sources, sections that stay alive.

Whether a section is dead is asked with the engine off, as a person opens a disconnect or pulls a fuse: isolators are open then.
What feeds a short in a link is asked with them closed.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.assessing.held import Held
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.supply_graph import SupplyGraph
from builds.engineering.assessing.words import amperes, listing, of_run
from builds.engineering.catalogue import found
from builds.engineering.design import Run
from builds.engineering.findings import Change, Finding, Number, ProposedFix
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["link_findings"]

_SAME = 1e-9


def link_findings(index: IndexedDesign, network: Network, runs: tuple[RunFacts, ...]) -> Iterator[Finding]:
    """Yield the findings about parallel members, links between sources, and what opening a device or disconnect leaves alive."""
    yield from _survivors(runs)
    yield from _link_ends(index, runs)
    yield from _left_alive(index, network)


def _survivors(runs: tuple[RunFacts, ...]) -> Iterator[Finding]:
    """Each conductor in parallel may open: the others must carry the whole, and stand behind what then protects them."""
    beside: dict[tuple[RunSide, frozenset[str]], list[RunFacts]] = {}
    for facts in runs:
        beside.setdefault((facts.run.side, frozenset((facts.run.from_node, facts.run.to_node))), []).append(facts)
        carried_a, count = facts.wire.ampacity_a, facts.run.parallel
        if carried_a is not None and count > 1 and not facts.run.makers_own:
            opened = f"one of the {count} conductors of run {facts.run.key}"
            own = facts.device and Held(facts.device, "its own device")
            left = _Left(facts, opened, "the rest", facts.sizing_a, carried_a * (count - 1) / count, own or facts.held)
            yield from left.findings()
    for members in beside.values():
        if len(members) > 1 and not all(facts.run.makers_own for facts in members):
            yield from _beside(members)


def _beside(members: list[RunFacts]) -> Iterator[Finding]:
    """Runs between the same two nodes; said once, of the member whose opening leaves least."""
    carried = [facts.wire.ampacity_a for facts in members]
    known = [carried_a for carried_a in carried if carried_a is not None]
    if len(known) < len(carried):
        return
    largest = known.index(max(known))
    rest = [facts for at, facts in enumerate(members) if at != largest]
    common = None if any(facts.device for facts in members) else rest[0].held
    whole_a, carries_a = sum(facts.sizing_a for facts in members), sum(known) - known[largest]
    opened, left = f"run {members[largest].run.key}", _runs(facts.run.key for facts in rest)
    yield from _Left(rest[0], opened, left, whole_a, carries_a, common).findings()


@dataclass(frozen=True, slots=True)
class _Left:
    """What is left when one conductor of several side by side opens."""

    facts: RunFacts
    opened: str
    rest: str
    whole_a: float
    carries_a: float
    held: Held | None

    def findings(self) -> Iterator[Finding]:
        subject, carries = f"run:{self.facts.run.key}", Number(name="ampacity", value=self.carries_a, unit="A")
        if self.whole_a > self.carries_a * (1 + _SAME):
            yield found(
                "parallel-survivor", subject, numbers=(Number(name="current", value=self.whole_a, unit="A"), carries),
                opened=self.opened, rest=self.rest, current=amperes(self.whole_a), carries=amperes(self.carries_a),
            )  # fmt: skip
        elif self.held is not None and self.held.device.rating_a > self.carries_a * (1 + _SAME):
            let_a = self.held.device.rating_a
            yield found(
                "parallel-member-unprotected", subject, numbers=(Number(name="device", value=let_a, unit="A"), carries),
                opened=self.opened, rest=self.rest, device=amperes(let_a), name=self.held.name, carries=amperes(self.carries_a),
            )  # fmt: skip


def _runs(keys: Iterable[str]) -> str:
    named = tuple(keys)
    return f"run {named[0]}" if len(named) == 1 else f"runs {listing(named)}"


def _link_ends(index: IndexedDesign, runs: tuple[RunFacts, ...]) -> Iterator[Finding]:
    """A run that is alive from both sides needs a device towards each; one without any at a battery has its own finding."""
    supply = SupplyGraph.of(index, isolators_closed=True)
    facts_of = {facts.run.key: facts for facts in runs}
    for run in supply.on_rings()[0]:
        ends = (run.from_node, run.to_node)
        if (
            run.makers_own
            or facts_of[run.key].charges
            or (run.device_rating_a is not None and run.device_at_both_ends)
            or (run.device_rating_a is None and set(ends) & set(supply.batteries))
        ):
            continue
        if not set(ends) <= supply.alive(without=run):
            continue
        bare = supply.alive(without=run, past_devices=False)
        own_end = battery_end(index, run) if run.device_rating_a else None
        for end in ends:
            if end in bare and end != own_end:
                fix = _second_device(run) if run.device_rating_a else None
                yield found("link-unprotected-end", f"run:{run.key}", fix=fix, where=of_run(run), end=end)
                break


def _second_device(run: Run) -> ProposedFix:
    change = Change(subject=f"run:{run.key}", field="device_at_both_ends", value=True)
    return ProposedFix(
        label=f"Fit another {amperes(run.device_rating_a or 0.0)} device at the other end", changes=(change,)
    )


def _left_alive(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Said of the panels next behind; a panel that no disconnect makes dead has a finding of its own."""
    supply = SupplyGraph.of(index, isolators_closed=False)
    runs, nodes = supply.on_rings()
    if not runs:
        return
    panels = {node.key for node in index.design.nodes if node.panel is not None and index.circuits_of.get(node.key)}
    switched = panels - supply.alive_without_disconnects()
    for node in index.design.nodes:
        if node.kind is NodeKind.DISCONNECT and node.key in nodes:
            alive = supply.behind(node.key, switched) & supply.alive(without=node.key)
            if alive:
                yield found("disconnect-leaves-live", f"node:{node.key}", node=node.key, words=_stay(index, alive))
    tree = network.states[1].feeding.supply_tree  # with the isolator open
    for run in runs:
        far = max((run.from_node, run.to_node), key=lambda end: len(tree.nodes_to(end)))
        if run.device_rating_a and far not in supply.batteries:
            alive = supply.behind(far, panels, without=run) & supply.alive(without=run)
            if alive:
                yield found("device-leaves-live", f"run:{run.key}", run=run.key, words=_stay(index, alive))


def _stay(index: IndexedDesign, panels: set[str]) -> dict[str, str]:
    """The panels in the design's order, and the verb to them."""
    named = tuple(node.key for node in index.design.nodes if node.key in panels)
    return {"panels": listing(named), "stay": "stays" if len(named) == 1 else "stay"}
