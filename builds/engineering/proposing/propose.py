"""
Every circuit and feed of a design proposed at once, so that all of them hold together when all are applied.

What is chosen for one changes what is asked of others: a thicker feed leaves the circuits more of their drop, a thinner wire
lets a constant-power load take more. So the choice is made in the design with all of the last choice in it, until it is the
same again. The proposals are then judged in the design that they make, and proposing there proposes nothing.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from builds.engineering.assessing.at_limit import currents_of
from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.devices import breaks_a, strained
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Change
from builds.engineering.functions.coupling import coupled
from builds.engineering.proposing.circuits import circuit_unmet, circuits_asked, circuits_standing, starved_circuits
from builds.engineering.proposing.feeds import Held, feed_unmet, feeds_chosen, limited_faults
from builds.engineering.proposing.pair import (
    AS_IT_STANDS,
    KEPT,
    NO_SIZE,
    Asked,
    Kept,
    Made,
    Pair,
    made_of,
    pair_for,
    proposal_for,
    stands_of,
)
from builds.engineering.proposing.solved import Solved, solve
from builds.engineering.proposing.values import RuleCheck, SizingProposal, SizingRule

__all__ = ["changes_of", "propose"]

_MOST_ROUNDS = 10  # of one settling; most builds take three
_MOST_SETTLINGS = 5  # each starts from what the last one left
_MOST_AFRESH = 3  # new starts from what was made, where the rounds ran out on the way there
_OVER_DEVICES = "kept: over a thicker cable a short would draw more than the devices behind it break"
_FREE_ROUNDS = 6  # after these a choice only grows


def propose(design: Design) -> tuple[SizingProposal, ...]:
    """
    Return what every feed and every circuit ought to be: feeds first, each in the design's order.

    Parameters
    ----------
    design : Design
        A build as it stands.

    Returns
    -------
    tuple of SizingProposal
        Runs that loads decide, then circuits that are fed. Links between sources, charging cables and straps are left out:
        what they carry is not set by loads.

    Notes
    -----
    Load, then device, then conductor, each judged in the design that all of them make. Where two choices push each other up
    in turn, the larger is kept and said to be kept for its neighbours.
    """
    design = coupled(design)  # once: sizes light nothing
    settling = _settled(design, solve(design))
    for _ in range(_MOST_AFRESH):
        if not settling.ran_out:  # what came to rest by itself does so again
            break
        afresh = _settled(settling.made, settling.here).applied
        if not afresh:
            break
        settling.take(afresh)
    return settling.proposals()


def _settled(design: Design, solved: Solved) -> "_Settling":
    settling = _Settling(design, solved)
    for _ in range(_MOST_SETTLINGS):
        at_rest = settling.settle()
        if (at_rest and not settling.binds()) or settling.same_as_last():
            break
    return settling


@dataclass(slots=True)
class _Choice:
    """What one round chose: runs then circuits, each with what was asked of it."""

    feeds: list[tuple[RunFacts, Asked, Pair]]
    circuits: list[tuple[CircuitFacts, Asked, Pair]]

    def pairs(self) -> Iterable[tuple[Asked, Pair]]:
        yield from ((asked, pair) for _, asked, pair in self.feeds)
        yield from ((asked, pair) for _, asked, pair in self.circuits)

    def made(self) -> dict[str, Made]:
        """What is made of each part that does not stay as it stands, by subject."""
        found = ((asked.subject, made_of(asked, pair)) for asked, pair in self.pairs())
        return {subject: made for subject, made in found if made != AS_IT_STANDS}

    def sizes(self) -> dict[str, Kept]:
        """Row and rating by subject; of those without either the least there is."""
        return {
            asked.subject: Kept(-1 if pair.row is None else pair.row, pair.device.rating_a if pair.device else 0.0)
            for asked, pair in self.pairs()
        }


@dataclass(slots=True)
class _Settling:
    """
    The rounds: ``made`` is the design with ``applied`` in it, ``here`` that solved, ``choice`` the last choice, made there.

    ``stood`` has what stands of every part that was ever chosen for, by subject. ``ran_out`` tells that some settling ended
    before it came to rest: from where it was stopped a new start may find another rest.
    """

    design: Design
    before: Solved
    here: Solved = field(init=False)
    standing: Mapping[str, Asked] = field(init=False)
    overstrained: frozenset[str] = field(init=False)
    made: Design = field(init=False)
    applied: dict[str, Made] = field(default_factory=dict)
    stood: dict[str, Made] = field(default_factory=dict)
    choice: _Choice = field(init=False)
    capped: dict[str, str] = field(default_factory=dict)
    stuck: dict[str, RuleCheck] = field(default_factory=dict)
    kept: dict[str, Kept] = field(default_factory=dict)
    ends: list[dict[str, Made]] = field(default_factory=list)
    ran_out: bool = False

    def __post_init__(self) -> None:
        self.here, self.made, self.standing = self.before, self.design, circuits_standing(self.before)
        self.overstrained = frozenset(_overstrained(self.before))

    def settle(self) -> bool:
        """
        Choose until the choice is what it was made in; what falls and then rises is kept from falling again.

        False where the rounds ran out before that: the next settling goes on from there, and leaves alone what no size mends.
        """
        self.kept = {}
        last: dict[str, Kept] = {}
        fell: set[str] = set()
        for turn in range(_MOST_ROUNDS):
            self.choice = self._chosen(first=not self.ends and not turn)
            sizes = self.choice.sizes()
            if last:
                self._keep(last, sizes, fell, growing=turn >= _FREE_ROUNDS)
            last = sizes
            made = self.choice.made()
            if made == self.applied:
                self.ends.append(self.applied)
                return True
            self._apply(made)
        self.ends.append(self.applied)
        self.ran_out = True
        return False

    def _apply(self, made: dict[str, Made]) -> None:
        """Solve the design with this made of its parts: of the last one only what differs is made anew."""
        self.stood |= {asked.subject: stands_of(asked) for asked, _ in self.choice.pairs()}
        changes = []
        for subject in self.applied | made:
            now, was = made.get(subject, AS_IT_STANDS), self.applied.get(subject, AS_IT_STANDS)
            for place, name in enumerate(Made._fields):
                if now[place] != was[place]:
                    value: Any = self.stood[subject][place] if now[place] is None else now[place]
                    changes.append(Change(subject=subject, field=name, value=value))
        self.made, self.applied = apply_changes(self.made, changes), made
        self.here = solve(self.made, self.here) if made else self.before
        self._spare_devices_behind()

    def take(self, afresh: Mapping[str, Made]) -> None:
        """Go on from what a new start in the design as made chose there, and settle once more."""
        applied = dict(self.applied)
        for subject, made in afresh.items():
            was = applied.get(subject, AS_IT_STANDS)
            changed = {name: value for name, value in made._asdict().items() if value is not None}
            applied[subject] = was._replace(**changed)
        self._apply(applied)
        self.settle()

    def binds(self) -> bool:
        """Whether anything would be less if nothing were kept for its neighbours."""
        return bool(self.kept) and any(KEPT in pair.policy for _, pair in self.choice.pairs())

    def same_as_last(self) -> bool:
        return len(self.ends) > 1 and self.ends[-1] == self.ends[-2]

    def _keep(self, last: Mapping[str, Kept], sizes: Mapping[str, Kept], fell: set[str], *, growing: bool) -> None:
        for subject, size in sizes.items():
            was = last.get(subject, size)
            row_up, rating_up = size.row > was.row, size.rating_a > was.rating_a
            if (row_up or rating_up) and (subject in fell or growing):
                kept = self.kept.get(subject, Kept(-1, 0.0))
                self.kept[subject] = Kept(max(kept.row, size.row), max(kept.rating_a, size.rating_a))
            if size.row < was.row or size.rating_a < was.rating_a:
                fell.add(subject)
            elif row_up or rating_up:
                fell.discard(subject)

    def _chosen(self, *, first: bool) -> _Choice:
        here = self.here
        currents = currents_of(here.index, here.network) if starved_circuits(here) else None
        circuits = [
            (facts, asked, pair_for(here.index, asked))
            for facts, asked in circuits_asked(here, currents, self.standing, self.kept, first=first)
        ]
        ratings_a = {
            facts.circuit.number: pair.device.rating_a for facts, _, pair in circuits if pair.device is not None
        }
        held = Held(capped=self.capped, stuck=self.stuck, kept=self.kept)
        feeds = feeds_chosen(here, self.before, ratings_a, currents, held)
        if not first:  # what no size mends is not chased from size to size
            self.capped |= {facts.run.key: NO_SIZE for facts, _, pair in feeds if NO_SIZE in pair.policy}
        return _Choice(feeds, circuits)

    def _spare_devices_behind(self) -> None:
        """
        Hold back the runs made thicker on the way to a device that broke what a short draws there and no longer does.

        Those that only the circuits' drop asked to be thicker first; then those that something else did, whole.
        """
        thicker = {
            facts.run.key
            for facts, was in zip(self.here.runs, self.before.runs, strict=True)
            if facts.wire.ohm < was.wire.ohm * (1 - 1e-9)
        }
        for node, check in _overstrained(self.here).items() if thicker else ():
            if node in self.overstrained:
                continue
            on_the_way = _runs_to(self.here, node) & thicker
            if on_the_way - self.capped.keys():
                self.capped |= dict.fromkeys(on_the_way, _OVER_DEVICES)
            else:
                self.stuck |= dict.fromkeys(on_the_way, check)

    def proposals(self) -> tuple[SizingProposal, ...]:
        index, here, limited_a = self.here.index, self.here, limited_faults(self.here)
        return (
            *(
                proposal_for(
                    index, asked, pair, tuple(feed_unmet(here, facts, pair.device if asked.owns else None, limited_a))
                )
                for facts, asked, pair in self.choice.feeds
            ),
            *(
                proposal_for(index, asked, pair, tuple(circuit_unmet(here, facts)))
                for facts, asked, pair in self.choice.circuits
            ),
        )


def _runs_to(solved: Solved, node: str) -> frozenset[str]:
    """The runs on the walked ways to a node."""
    found: set[str] = set()
    for state in solved.network.states:
        tree = state.feeding.supply_tree
        if node in tree.root_of:
            passed = (solved.feeders.run_of.get(key) for key in tree.nodes_to(node))
            found.update(run.key for run in passed if run is not None)
    return frozenset(found)


def _overstrained(solved: Solved) -> dict[str, RuleCheck]:
    """Nodes at which a device sits that breaks less than a short behind it draws, with what it breaks."""
    sits = [(f.circuit.panel, f.device, f.nominal_v, f.prospective_a) for f in solved.circuits]
    sits += [
        (battery_end(solved.index, f.run), f.device, f.nominal_v, f.result.prospective_a or 0.0)
        for f in solved.runs
        if f.device
    ]
    return {
        node: RuleCheck(rule=SizingRule.BREAKING, value=breaks_a(device.name, nominal_v) or 0.0, limit=most_a, unit="A")
        for node, device, nominal_v, most_a in sits
        if strained(device, nominal_v, most_a)
    }


def changes_of(proposals: Iterable[SizingProposal], chosen: Collection[str] | None = None) -> tuple[Change, ...]:
    """Return the changes of the proposals that stand: all of them, or those whose subjects are ``chosen``."""
    return tuple(
        change
        for proposal in proposals
        if proposal.stands and (chosen is None or proposal.subject in chosen)
        for change in proposal.changes
    )
