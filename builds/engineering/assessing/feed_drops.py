"""What each run on a circuit's way out and back takes of its drop, and the gauge that would keep it."""

from dataclasses import dataclass

from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network, case_of
from builds.engineering.assessing.words import gauge_words
from builds.engineering.design import Run
from builds.engineering.findings import Change, ProposedFix

__all__ = ["RunShare", "run_shares", "thicker_feed"]

_IN_HAND = 0.98  # a load that sees more volts may take more current


@dataclass(frozen=True, slots=True)
class RunShare:
    """A run on the way and what it takes of the drop [V]."""

    run: Run
    drop_v: float


def run_shares(index: IndexedDesign, network: Network, facts: CircuitFacts) -> tuple[RunShare, ...]:
    """Return the runs on a circuit's way in the condition of its worst drop, the one that takes most first."""
    place = [condition.key for condition in index.design.conditions].index(facts.drop.condition)
    for state in network.states:
        row = state.feeding.column_of.get(facts.circuit.number)
        if row is None or place not in state.chosen:
            continue
        case = case_of(facts.drop.rule)
        element_ohm, _ = state.resistances.at(case.conductor_temp_c)
        lost_v = state.feeding.losses_v(element_ohm, state.drops[case].current_a[:, [facts.drop.column]], row)
        shares = (RunShare(run, float(lost_v[network.elements.run_row[run.key], 0])) for run in index.design.runs)
        return tuple(sorted((share for share in shares if share.drop_v > 0), key=lambda share: -share.drop_v))
    return ()


def thicker_feed(
    index: IndexedDesign, network: Network, shares: tuple[RunShare, ...], *, drop_v: float, limit_v: float
) -> ProposedFix | None:
    """The first gauge of the run that takes most, or of the next, with which the drop is kept; None where no one run does it."""
    for share in shares:
        wire = network.run_wires[share.run.key]
        if wire.row is None or not wire.follows_temperature or share.run.makers_own:
            continue
        now = wire.choice.minus_ohm_per_m[wire.row]
        least_a = index.numbers["conductor-margin"] * (share.run.device_rating_a or 0.0) / wire.parallel
        sizes = zip(wire.choice.gauges, wire.choice.minus_ohm_per_m, wire.choice.ampacity_a, strict=True)
        for gauge, ohm, carried_a in sizes:
            spared_v = share.drop_v * (1 - ohm / now)
            offered = carried_a >= least_a and (index.stocked_gauges is None or gauge in index.stocked_gauges)
            if offered and spared_v > 0 and drop_v - spared_v <= limit_v * _IN_HAND:
                words = gauge_words(gauge, index.design.conventions)
                change = Change(subject=f"run:{share.run.key}", field="gauge", value=gauge)
                return ProposedFix(label=f"Use {words} in run {share.run.key}", changes=(change,))
    return None
