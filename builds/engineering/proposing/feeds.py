"""
Proposals for runs: feeds with their devices, far ones first so that each device exceeds those behind it, and ways back.

What drop may take of them is found in :mod:`feed_drops`. Whatever is rounded up to a size, the circuits are left the rest.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.at_limit import Currents
from builds.engineering.assessing.circuit_results import Needs
from builds.engineering.assessing.devices import Device, breaks_a, device_at
from builds.engineering.assessing.fault_heat import fault_temp_ratio
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.assessing.wires import Wire
from builds.engineering.design import Run
from builds.engineering.electrical.protection import DeviceFamily, device_families
from builds.engineering.proposing.feed_drops import most_drop_ohm
from builds.engineering.proposing.pair import Asked, Kept, Pair, pair_for
from builds.engineering.proposing.solved import Solved
from builds.engineering.proposing.values import RuleCheck, SizingRule
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["Held", "feed_unmet", "feeds_chosen", "limited_faults"]

_FITTED = ("MRBF", "MEGA", "class-T")  # at a battery's post, in the order a shop tries them


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """
    What earlier rounds found about runs, by key.

    ``capped`` are not to be made thicker for the circuits' drop, each with the words that say why;
    ``stuck`` have the rule that is broken behind them whatever else they are. ``kept`` is by subject.
    """

    capped: Mapping[str, str]
    stuck: Mapping[str, RuleCheck]
    kept: Mapping[str, Kept]


def feeds_chosen(
    here: Solved, before: Solved, ratings_a: Mapping[str, float], currents: Currents | None, held: Held
) -> list[tuple[RunFacts, Asked, Pair]]:
    """
    Return what is asked of and chosen for every run that loads decide, in the design's order.

    Parameters
    ----------
    here, before : Solved
        The design in which they are judged, and the design as it stands.
    ratings_a : mapping of str to float
        The device chosen for each circuit, by number. [A]
    currents : Currents or None
        What runs carry once starved circuits have their voltage; None where none is starved here.
    held : Held
        What earlier rounds found.
    """
    setting = _Setting.of(here, before, currents, held)
    largest_a: dict[str, float] = {}
    for number, rating_a in ratings_a.items():
        guards = here.feeders.guards(setting.panel_of[number])
        if len(guards) == 1:
            largest_a[guards[0].key] = max(largest_a.get(guards[0].key, 0.0), rating_a)
    found: dict[str, tuple[RunFacts, Asked, Pair]] = {}
    devices: dict[str, Device] = {}
    for facts in sorted(here.runs, key=lambda facts: -setting.depth_of.get(facts.run.key, 0)):
        key = facts.run.key
        if key in setting.runs_kept or not facts.sizing_a:
            continue
        device = setting.device_of(facts, largest_a.get(key, 0.0))
        asked = setting.asked(facts, device, largest_a.get(key, 0.0))
        pair = pair_for(here.index, asked)
        if asked.owns and pair.device is not None:
            asked = _with_survivors(asked, pair.device.rating_a)
            pair = pair_for(here.index, asked)
            devices[key] = pair.device or device_at("", 0.0, 30.0)
            if facts.guard is not None:
                largest_a[facts.guard.key] = max(largest_a.get(facts.guard.key, 0.0), devices[key].rating_a)
        found[key] = facts, asked, pair
    for facts in here.runs:  # behind the device as it is chosen, which is known only now
        guarding = setting.device_before(facts, devices)
        if facts.run.key in found and not found[facts.run.key][1].owns and guarding is not None:
            asked = _with_survivors(setting.asked(facts, guarding, 0.0, owns=False), guarding.rating_a)
            found[facts.run.key] = facts, asked, pair_for(here.index, asked)
    return [found[facts.run.key] for facts in here.runs if facts.run.key in found]


def limited_faults(here: Solved) -> Mapping[str, float]:
    """Return what a converter gives into the weakest short behind a run's device, by run; no cable makes it more [A]."""
    found: dict[str, float] = {}
    if here.feeders.closing or not any(node.converter for node in here.index.design.nodes):
        return found
    for node, guard in here.feeders.guard_of.items():
        if node in here.faults_a and _behind_converter(here, node):
            found[guard.key] = min(found.get(guard.key, np.inf), here.faults_a[node])
    return found


def feed_unmet(
    here: Solved, facts: RunFacts, device: Device | None, limited_a: Mapping[str, float]
) -> Iterator[RuleCheck]:
    """
    Yield what another size of a run cannot mend: what its device breaks, and what a converter gives to open it.

    Parameters
    ----------
    here : Solved
        The design solved with what was chosen.
    facts : RunFacts
        The run.
    device : Device or None
        Its device as chosen.
    limited_a : mapping of str to float
        What converters give into a short at the run's end, by key of those they limit. [A]
    """
    prospective_a = facts.result.prospective_a
    if device is None or prospective_a is None:
        return
    needed_a = device.family.far_end_multiple_ratio * device.rating_a if device.family is not None else 0.0
    if limited_a.get(facts.run.key, np.inf) < needed_a * (1 - 1e-9):
        yield RuleCheck(rule=SizingRule.FAR_END, value=limited_a[facts.run.key], limit=needed_a, unit="A")
    capacity_a = breaks_a(device.name, facts.nominal_v)
    if capacity_a is not None and capacity_a < prospective_a and not _backed_up(here, facts, prospective_a):
        yield RuleCheck(rule=SizingRule.BREAKING, value=capacity_a, limit=prospective_a, unit="A")


def _backed_up(here: Solved, facts: RunFacts, prospective_a: float) -> bool:
    guard = facts.guard
    if guard is None or here.index.texts["backup-device"] != "cited":
        return False
    return (breaks_a(guard.device_family, facts.nominal_v) or 0.0) >= prospective_a


@dataclass(frozen=True, slots=True)
class _Setting:
    """What the proposals of all runs have in common."""

    solved: Solved
    stood: Mapping[str, RunFacts]
    panel_of: Mapping[str, str]
    depth_of: Mapping[str, int]
    runs_kept: frozenset[str]
    held: Held
    at_limit_a: Mapping[str, float] | None
    most_drop_ohm: Mapping[str, float]
    farthest: Mapping[str, str]

    @classmethod
    def of(cls, solved: Solved, before: Solved, currents: Currents | None, held: Held) -> "_Setting":
        index = solved.index
        depth_of: dict[str, int] = {}
        for state in solved.network.states:
            tree = state.feeding.supply_tree
            for node, run in solved.feeders.run_of.items():
                if node in tree.root_of:
                    depth_of.setdefault(run.key, len(tree.nodes_to(node)))
        farthest: dict[str, str] = {}
        for node, guard in solved.feeders.guard_of.items():
            if _behind_converter(solved, node):
                continue  # a short there draws what the converter gives, whatever the cable
            fault_a = solved.faults_a.get(node, np.inf)
            if fault_a < solved.faults_a.get(farthest.get(guard.key, ""), np.inf):
                farthest[guard.key] = node
        return cls(
            solved,
            {facts.run.key: facts for facts in before.runs},
            {circuit.number: circuit.panel for circuit in index.design.circuits},
            depth_of,
            _kept(solved),
            held,
            currents.of_runs_a if currents is not None else None,
            most_drop_ohm(solved),
            {} if solved.feeders.closing else farthest,
        )

    def own_device(self, run: Run) -> Device | None:
        if not run.device_rating_a:
            return None
        return device_at(run.device_family, run.device_rating_a, self._ambient_c(run))

    def device_before(self, facts: RunFacts, proposed: Mapping[str, Device]) -> Device | None:
        """What bounds the current in a run without a device: the one device before it as it is proposed, else as it is."""
        guard, held = facts.guard, facts.held
        if guard is None or (held is not None and held.name != f"run {guard.key}"):
            return held.device if held is not None else None
        return proposed.get(guard.key) or self.own_device(guard)

    def _ambient_c(self, run: Run) -> float:
        nodes, end = self.solved.index.nodes, battery_end(self.solved.index, run)
        return self.solved.index.ambient_c((nodes[end].zone,) if end in nodes else ())

    def device_of(self, facts: RunFacts, least_a: float) -> Device | None:
        """Its own device, in a family that breaks a short there; one to be fitted where it leaves a battery without."""
        if facts.run.side is not RunSide.SUPPLY:
            return None
        own = self.own_device(self.stood[facts.run.key].run)
        ends = (facts.run.from_node, facts.run.to_node)
        at_battery = any(key in self.solved.index.nodes and self.solved.index.nodes[key].battery for key in ends)
        if own is None and not at_battery:
            return None
        ambient_c, nominal_v = self._ambient_c(facts.run), facts.nominal_v
        prospective_a = facts.result.prospective_a or 0.0
        if own is not None and (breaks_a(own.name, nominal_v) or np.inf) >= prospective_a:
            return own
        if own is not None and _backed_up(self.solved, facts, prospective_a):
            return own
        for family in _others(own):
            device = device_at(family.key, own.rating_a if own else family.ratings_a[0], ambient_c)
            enough_a = device.smallest_a(facts.continuous_a, max(facts.sizing_a, least_a), 1.0)
            if enough_a is not None and (breaks_a(family.key, nominal_v) or 0.0) >= prospective_a:
                return device
        return own

    def asked(self, facts: RunFacts, device: Device | None, least_a: float, *, owns: bool = True) -> Asked:
        was = self.stood[facts.run.key]
        run, wire = was.run, was.wire
        returns = run.side is not RunSide.SUPPLY
        kept_row, survivor_row = (wire.row or 0) if returns else 0, _survivor_row(wire, facts.sizing_a)
        needs = self._needs(facts, owns=owns)
        return Asked(
            subject=f"run:{run.key}",
            gauge=run.gauge,
            family_now=run.device_family,
            rating_now_a=run.device_rating_a,
            wire=wire,
            needs=needs,
            needs_now=needs._replace(current_a=was.sizing_a, continuous_a=was.continuous_a, most_drop_ohm=np.inf),
            drop_now=None,
            device=device,
            owns=owns and device is not None,
            least_a=least_a,
            least_row=max(kept_row, survivor_row),
            least_policy="kept: ways back also carry what is not among the loads (starter, charging)"
            if kept_row >= survivor_row
            else "larger: should one of its conductors open, the rest must carry the whole",
            most_row=wire.row if run.key in self.held.capped else None,
            most_policy=self.held.capped.get(run.key, ""),
            soft_drop=True,
            kept=self.held.kept.get(f"run:{run.key}"),
            stuck=self.held.stuck.get(run.key),
        )

    def _needs(self, facts: RunFacts, *, owns: bool) -> Needs:
        key = facts.run.key
        # what charges flows here too, which limits of loads say nothing of
        at_limit_a = facts.sizing_a if self.at_limit_a is None else self.at_limit_a.get(key, facts.sizing_a)
        current_a = max(at_limit_a, facts.sizing_a - facts.of_loads_a) or facts.sizing_a
        node = self.farthest.get(key) if owns and facts.run.device_rating_a else None
        needs = Needs(
            current_a=current_a,
            continuous_a=facts.continuous_a * current_a / facts.sizing_a,
            most_drop_ohm=self.most_drop_ohm.get(key, np.inf),
        )
        if node is None:
            return needs
        fault_v = facts.nominal_v
        hot = fault_temp_ratio(facts.run.insulation_c)
        loop_ohm = fault_v / self.solved.faults_a[node] - facts.wire.ohm * hot
        return Needs(needs.current_a, needs.continuous_a, needs.most_drop_ohm, max(loop_ohm, 0.0), fault_v, hot)


def _behind_converter(solved: Solved, node: str) -> bool:
    roots = {state.feeding.supply_tree.root_of.get(node) for state in solved.network.states}
    return any(root is not None and solved.index.nodes[root].converter is not None for root in roots)


def _survivor_row(wire: Wire, whole_a: float) -> int:
    """The smallest row at which all conductors in parallel but one carry the whole; 0 for a single one."""
    if wire.parallel < 2:
        return 0
    each_a = whole_a / (wire.parallel - 1)
    enough = (row for row, carried_a in enumerate(wire.choice.ampacity_a) if carried_a >= each_a * (1 - 1e-9))
    return next(enough, max(len(wire.choice.ampacity_a) - 1, 0))


def _with_survivors(asked: Asked, rating_a: float) -> Asked:
    """What is left of conductors in parallel stands behind their common device too."""
    row = _survivor_row(asked.wire, rating_a)
    if row <= asked.least_row:
        return asked
    return asked._replace(
        least_row=row,
        least_policy="larger: should one of its conductors open, the rest must stand behind its device",
    )


def _others(own: Device | None) -> Iterator[DeviceFamily]:
    """Families to try: a breaker for a breaker, else fuses, those at a battery's post first."""
    breaker = own is not None and own.family is not None and own.family.is_breaker
    families = {
        family.key: family for family in device_families() if family.is_breaker == breaker and not family.cycles
    }
    if not breaker:
        yield from (families[key] for key in _FITTED)
        return
    yield from families.values()


def _kept(solved: Solved) -> frozenset[str]:
    """Runs that no load decides: links between sources, charging cables, the vehicle maker's own, straps of a given resistance."""
    index = solved.index
    links = {run.key for run in solved.feeders.graph.on_rings()[0]}
    isolators = {node.key for node in index.design.nodes if node.kind is NodeKind.ISOLATOR}
    return frozenset(
        facts.run.key
        for facts in solved.runs
        if facts.charges
        or facts.run.makers_own
        or facts.run.resistance_mohm is not None
        or facts.run.key in links
        or {facts.run.from_node, facts.run.to_node} & isolators
    )
