"""Every circuit and feed of a design proposed at once, so that all of them hold together when all are applied."""

from collections.abc import Collection, Iterable, Mapping

from builds.engineering.assessing.devices import strained
from builds.engineering.assessing.shorts import battery_end
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Change
from builds.engineering.functions.coupling import coupled
from builds.engineering.proposing.circuits import circuit_proposals, circuit_ratings_a
from builds.engineering.proposing.currents import Currents, currents_of
from builds.engineering.proposing.feeds import feed_proposals
from builds.engineering.proposing.solved import Solved, over_limit, solve
from builds.engineering.proposing.values import SizingProposal

__all__ = ["changes_of", "propose"]


_ROUNDS = 4  # each takes at least one run out of those that may grow


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
    Load, then device, then conductor. The circuits' devices follow from their loads; the feeds' must exceed them, and take
    no more than the buyer's part of each drop limit; the circuits' conductors are then judged with the feeds as proposed.
    """
    design = coupled(design)  # once: sizes light nothing
    before = solve(design)
    currents = _currents(before)
    ratings_a = circuit_ratings_a(before, currents)
    feeds, after = _feeds(design, before, ratings_a, currents)
    return (*feeds, *_circuits(design, before, after, feeds))


def _circuits(design: Design, before: Solved, after: Solved, feeds: list[SizingProposal]) -> tuple[SizingProposal, ...]:
    """
    The circuits' proposals with the feeds as proposed, judged once more with all of them applied.

    Thinner wires leave constant-power loads less voltage, and what those take more is lost in the feeds of others.
    """
    found = {proposal.subject: proposal for proposal in circuit_proposals(after, _currents(after), before)}
    for _ in range(_ROUNDS):
        applied = apply_changes(design, changes_of((*feeds, *found.values())))
        over = over_limit(applied) & {subject.partition(":")[2] for subject, one in found.items() if one.changes}
        if not over:
            break
        solved = solve(applied)
        again = circuit_proposals(solved, _currents(solved), before, over)
        found.update((proposal.subject, proposal) for proposal in again)
    return tuple(found.values())


def _currents(solved: Solved) -> Currents:
    return currents_of(solved.index, solved.network)


def _feeds(
    design: Design, before: Solved, ratings_a: Mapping[str, float], currents: Currents
) -> tuple[list[SizingProposal], Solved]:
    """The feeds' proposals, and the design solved with them: not so thick that devices behind cannot break a short."""
    capped: frozenset[str] = frozenset()
    for _ in range(_ROUNDS):
        feeds = feed_proposals(before, ratings_a, currents, capped)
        changes = changes_of(feeds)
        after = solve(apply_changes(design, changes)) if changes else before
        more = _too_thick(before, after, feeds) - capped
        if not more:
            break
        capped |= more
    return feeds, after


def _too_thick(before: Solved, after: Solved, feeds: list[SizingProposal]) -> frozenset[str]:
    """Runs made thicker on the way to a device that broke what a short draws there and no longer does."""
    thicker = {feed.subject.partition(":")[2] for feed in feeds if feed.own_mohm < feed.own_mohm_now * (1 - 1e-9)}
    found: set[str] = set()
    for node in _overstrained(after) - _overstrained(before):
        for state in after.network.states:
            tree = state.feeding.supply_tree
            if node in tree.root_of:
                passed = (after.feeders.run_of.get(key) for key in tree.nodes_to(node))
                found.update(run.key for run in passed if run is not None and run.key in thicker)
    return frozenset(found)


def _overstrained(solved: Solved) -> set[str]:
    """Nodes at which a device sits that breaks less than a short behind it draws."""
    at_panels = {
        facts.circuit.panel
        for facts in solved.circuits
        if strained(facts.device, facts.nominal_v, facts.result.prospective_a)
    }
    at_runs = {
        battery_end(solved.index, facts.run)
        for facts in solved.runs
        if facts.device and strained(facts.device, facts.nominal_v, facts.result.prospective_a or 0.0)
    }
    return at_panels | at_runs


def changes_of(proposals: Iterable[SizingProposal], chosen: Collection[str] | None = None) -> tuple[Change, ...]:
    """Return the changes of the proposals that stand: all of them, or those whose subjects are ``chosen``."""
    return tuple(
        change
        for proposal in proposals
        if proposal.stands and (chosen is None or proposal.subject in chosen)
        for change in proposal.changes
    )
