"""
The one entry point of the core: a frozen design in, a frozen assessment out.

Nothing here reads a clock, a file of the build or the environment: equal designs give equal assessments.
"""

from collections.abc import Iterator

from builds.engineering.assessing.circuit_results import circuit_facts
from builds.engineering.assessing.condition_results import battery_uses, condition_results
from builds.engineering.assessing.findings_identity import identity_findings
from builds.engineering.assessing.findings_places import place_findings
from builds.engineering.assessing.indexed import IndexedDesign, index_design
from builds.engineering.assessing.run_results import element_currents, feeders_of, ground_results, panel_results, run_facts
from builds.engineering.assessing.shorts import shorts_of
from builds.engineering.assessing.states import solve_states
from builds.engineering.assessing.totals import energy_result, labour_result, price_result, weight_result
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.engineering.findings import Finding
from builds.engineering.tables.loader import load_table, table_names

__all__ = ["ENGINE_VERSION", "assess"]

ENGINE_VERSION = "1.0"


def assess(design: Design) -> Assessment:
    """
    Return everything the core says of a design.

    Parameters
    ----------
    design : Design
        A build; what is named in it is expected to exist, as a document's reader and the database see to.

    Returns
    -------
    Assessment
        Results in the order of the design's own parts, findings worst first. A circuit that no battery feeds or that has
        no way back, and a condition without an operating point, have no result: a blocking finding names them. Where a
        ring makes the distribution unsolvable there are no circuits, runs, panels, grounds and conditions at all.
    """
    index = index_design(design)
    network = solve_states(index)
    if network.states:
        shorts = shorts_of(index, network)
        currents = element_currents(index, network)
        circuits = circuit_facts(index, network, shorts)
        runs = run_facts(index, network, shorts, currents, feeders_of(index, network))
        panels, grounds = panel_results(index, network, currents), ground_results(index, network)
        uses = battery_uses(index, network)
        conditions = condition_results(index, network, uses)
    return Assessment(
        engine_version=ENGINE_VERSION,
        tables=_tables(),
        conditions=conditions,
        circuits=tuple(facts.result for facts in circuits),
        runs=tuple(facts.result for facts in runs),
        panels=panels,
        energy=energy_result(index),
        labour=labour_result(index),
        weight=weight_result(index),
        price=price_result(index),
        findings=tuple(sorted(_findings(index), key=lambda finding: finding.sort_key)),
        grounds=grounds,
    )


def _findings(index: IndexedDesign) -> Iterator[Finding]:
    yield from place_findings(index)
    yield from identity_findings(index)


def _tables() -> tuple[str, ...]:
    return tuple(f"{load_table(name).title}: {load_table(name).source}" for name in table_names())
