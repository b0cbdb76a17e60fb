"""
The one entry point of the core: a frozen design in, a frozen assessment out.

Nothing here reads a clock, a file of the build or the environment: equal designs give equal assessments.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from builds.engineering.assessing.circuit_results import CircuitFacts, circuit_facts
from builds.engineering.assessing.condition_results import BatteryUse, battery_uses, condition_results
from builds.engineering.assessing.duty_results import ProfileRun, profile_result, profile_runs
from builds.engineering.assessing.feed_fault_fixes import Cures
from builds.engineering.assessing.findings_access import access_findings, leaving_makers_devices
from builds.engineering.assessing.findings_bundles import bundle_findings
from builds.engineering.assessing.findings_circuits import circuit_findings
from builds.engineering.assessing.findings_duty import profile_findings, reserve_findings, shedding_findings
from builds.engineering.assessing.findings_equalising import diode_findings, equalising_findings
from builds.engineering.assessing.findings_feeding import feeding_findings
from builds.engineering.assessing.findings_functions import function_findings
from builds.engineering.assessing.findings_identity import identity_findings
from builds.engineering.assessing.findings_inrush import inrush_findings, opening_findings
from builds.engineering.assessing.findings_links import link_findings
from builds.engineering.assessing.findings_parts import part_findings
from builds.engineering.assessing.findings_places import place_findings
from builds.engineering.assessing.findings_power import condition_findings, tree_findings
from builds.engineering.assessing.findings_protection import protection_findings
from builds.engineering.assessing.findings_returns import return_findings
from builds.engineering.assessing.findings_runs import ground_findings, node_findings, run_findings
from builds.engineering.assessing.findings_sections import section_findings, section_results
from builds.engineering.assessing.findings_sources import source_findings
from builds.engineering.assessing.findings_surges import surge_findings
from builds.engineering.assessing.findings_totals import total_findings
from builds.engineering.assessing.indexed import IndexedDesign, index_design
from builds.engineering.assessing.reserve import reserve_results
from builds.engineering.assessing.run_results import (
    ElementCurrents,
    Feeders,
    RunFacts,
    element_currents,
    feeders_of,
    ground_results,
    panel_results,
    run_facts,
)
from builds.engineering.assessing.section_drops import SectionDrop, section_drops
from builds.engineering.assessing.shorts import shorts_of
from builds.engineering.assessing.states import Network, solve_states
from builds.engineering.assessing.totals import energy_result, labour_result, price_result
from builds.engineering.assessing.weights import weight_result
from builds.engineering.assessment import (
    Assessment,
    ConditionResult,
    EnergyResult,
    GroundResult,
    PanelResult,
    ProfileResult,
    ReserveResult,
    WeightResult,
)
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Finding, ProposedFix, Severity
from builds.engineering.functions.coupling import coupled
from builds.engineering.functions.loaded_files import LoadedFile
from builds.engineering.tables.loader import load_table, table_names

__all__ = ["ENGINE_VERSION", "assess"]

ENGINE_VERSION = "1.1"


def assess(design: Design, loaded_files: tuple[LoadedFile, ...] | None = None) -> Assessment:
    """
    Return everything the core says of a design.

    Parameters
    ----------
    design : Design
        A build; what is named in it is expected to exist, as a document's reader and the database see to. A condition that
        sets inputs of its function schedule has on what the rules light there.
    loaded_files : tuple of LoadedFile, optional
        The latest loading of each programmable device, which are records of the vehicle and no part of its design; left out
        where only the design is known.

    Returns
    -------
    Assessment
        Results in the order of the design's own parts, findings worst first. What cannot be computed has no result rather
        than a guess, and a blocking finding says why: a circuit that no battery feeds, that has no way back or that runs
        over a conductor no table has; and a condition without an operating point.
    """
    index = index_design(coupled(design))
    network = solve_states(index)
    power = _power(index, network)
    energy, weight, labour = energy_result(index, network), weight_result(index), labour_result(index)
    duty = _duty(index, network)
    findings = (
        *leaving_makers_devices(index, _power_findings(index, network, power, _Trial(index.design).cures)),
        *_duty_findings(index, network, duty),
        *_other_findings(index, energy, weight),
        *function_findings(design, loaded_files),
    )
    return Assessment(
        engine_version=ENGINE_VERSION,
        tables=_tables(),
        conditions=power.conditions,
        circuits=tuple(facts.result for facts in power.circuits if facts.known),
        runs=tuple(facts.result for facts in power.runs if facts.wire.known),
        panels=power.panels,
        energy=energy,
        labour=labour,
        weight=weight,
        price=price_result(index, labour),
        findings=tuple(sorted(findings, key=lambda finding: finding.sort_key)),
        grounds=power.grounds,
        profiles=duty.profiles,
        reserves=duty.reserves,
        sections=section_results(power.sections),
    )


@dataclass(frozen=True, slots=True)
class _Duty:
    """Duty profiles simulated, and the engine-off tests."""

    runs: tuple[ProfileRun, ...]
    profiles: tuple[ProfileResult, ...]
    reserves: tuple[ReserveResult, ...]


def _duty(index: IndexedDesign, network: Network) -> _Duty:
    runs = profile_runs(index, network)
    return _Duty(runs, tuple(profile_result(index, done) for done in runs), reserve_results(index, network))


def _duty_findings(index: IndexedDesign, network: Network, duty: _Duty) -> Iterator[Finding]:
    yield from profile_findings(index, duty.runs, duty.profiles)
    yield from shedding_findings(index, network)
    yield from reserve_findings(index, network, duty.reserves)


@dataclass(frozen=True, slots=True)
class _Power:
    """Figures of the solved distribution."""

    currents: ElementCurrents
    feeders: Feeders
    circuits: tuple[CircuitFacts, ...]
    runs: tuple[RunFacts, ...]
    panels: tuple[PanelResult, ...]
    grounds: tuple[GroundResult, ...]
    uses: tuple[BatteryUse, ...]
    conditions: tuple[ConditionResult, ...]
    sections: tuple[SectionDrop, ...]


def _power(index: IndexedDesign, network: Network) -> _Power:
    shorts, feeders = shorts_of(index, network), feeders_of(index, network)
    currents, uses = element_currents(index, network), battery_uses(index, network)
    return _Power(
        currents=currents,
        feeders=feeders,
        circuits=circuit_facts(index, network, shorts),
        runs=run_facts(index, network, shorts, currents, feeders),
        panels=panel_results(index, network, currents),
        grounds=ground_results(index, network),
        uses=uses,
        conditions=condition_results(index, network, uses),
        sections=section_drops(index, network),
    )


class _Trial:
    """Repairs tried before they are offered: what blocks in the power tree with them and without."""

    def __init__(self, design: Design) -> None:
        self.design = design
        self.before: set[tuple[str, str]] | None = None

    def cures(self, id_: str, subject: str, fix: ProposedFix) -> bool:
        """Whether a repair takes its finding away and brings no other that blocks."""
        if self.before is None:
            self.before = self._blocking(self.design)
        after = self._blocking(apply_changes(self.design, fix.changes))
        return (id_, subject) not in after and after <= self.before

    @staticmethod
    def _blocking(design: Design) -> set[tuple[str, str]]:
        index = index_design(design)
        network = solve_states(index)
        findings = _power_findings(index, network, _power(index, network), lambda *_: False)
        return {(item.id, item.subject) for item in findings if item.severity is Severity.BLOCKING}


def _power_findings(index: IndexedDesign, network: Network, power: _Power, cures: Cures) -> Iterator[Finding]:
    yield from tree_findings(index, network)
    yield from circuit_findings(index, network, power.circuits, power.feeders)
    yield from section_findings(index, network, power.circuits, power.sections)
    yield from run_findings(index, power.runs)
    yield from protection_findings(index, power.circuits, power.runs, power.feeders, network, cures)
    yield from link_findings(index, network, power.runs)
    yield from return_findings(index, network, power.runs)
    yield from node_findings(index, network, power.currents, power.feeders)
    yield from ground_findings(index, power.grounds)
    yield from condition_findings(index, network, power.conditions, power.uses)
    yield from access_findings(index, network)
    yield from feeding_findings(index, network)
    yield from source_findings(index, network)
    yield from equalising_findings(power.currents.closings)
    yield from diode_findings(index, network)
    yield from inrush_findings(index, network)
    yield from opening_findings(index)


def _other_findings(index: IndexedDesign, energy: EnergyResult, weight: WeightResult) -> Iterator[Finding]:
    yield from place_findings(index)
    yield from bundle_findings(index)
    yield from part_findings(index.design)
    yield from identity_findings(index)
    yield from surge_findings(index)
    yield from total_findings(index, energy, weight)


@cache
@cache
def _tables() -> tuple[str, ...]:
    """What the figures rest on: each table by name, with its source and edition."""
    tables = (load_table(name) for name in table_names())
    return tuple(f"{table.title} ({table.source}; {table.edition})" for table in tables)
