"""Findings about names: legends, wire colours, loads that belong nowhere, the VIN."""

from collections.abc import Iterator

from builds.engineering.assessing.indexed import GENERAL_CLASS, IndexedDesign
from builds.engineering.assessing.words import listing, of_circuit, of_load
from builds.engineering.catalogue import found
from builds.engineering.design import Circuit, Load
from builds.engineering.findings import Change, Finding, ProposedFix
from builds.engineering.wire_colours import is_wire_colour

__all__ = ["identity_findings"]

_LEGEND_LENGTH = 60  # what a circuit's legend keeps
_ORDINARY_CLASS = "general"  # the class a load has when nobody chose one


def identity_findings(index: IndexedDesign) -> Iterator[Finding]:
    """Yield the findings about legends, colours, idle circuits and loads, drop classes."""
    yield from _legends(index)
    for circuit in index.design.circuits:
        if circuit.colour.strip() and not is_wire_colour(circuit.colour):
            yield found("colour-unknown", f"circuit:{circuit.number}", where=of_circuit(circuit), colour=circuit.colour)
        if circuit.number not in index.loads_of:
            yield found("circuit-without-load", f"circuit:{circuit.number}", where=of_circuit(circuit))
    for load in index.design.loads:
        yield from _idle_load(index, load)


def _legends(index: IndexedDesign) -> Iterator[Finding]:
    carrying: dict[str, list[Circuit]] = {}
    for circuit in index.design.circuits:
        carrying.setdefault(_plain(circuit.legend), []).append(circuit)
    for circuit in carrying.pop("", ()):
        yield found(
            "circuit-unlabelled",
            f"circuit:{circuit.number}",
            fix=_legend_from_load(index, circuit, carrying),
            where=of_circuit(circuit),
        )
    for legend, circuits in carrying.items():
        if len(circuits) > 1:
            numbers = listing(tuple(circuit.number for circuit in circuits))
            yield found("legend-doubled", f"circuit:{circuits[-1].number}", circuits=numbers, legend=legend)


def _plain(legend: str) -> str:
    """A legend as the eye reads it: capitals and single spaces."""
    return " ".join(legend.upper().split())


def _legend_from_load(index: IndexedDesign, circuit: Circuit, taken: dict[str, list[Circuit]]) -> ProposedFix | None:
    for load in index.loads_of.get(circuit.number, ()):
        legend = _plain(load.name)[:_LEGEND_LENGTH].strip()
        if legend and legend not in taken:
            change = Change(subject=f"circuit:{circuit.number}", field="legend", value=legend)
            return ProposedFix(label=f"Use legend {legend}", changes=(change,))
    return None


def _idle_load(index: IndexedDesign, load: Load) -> Iterator[Finding]:
    if load.key not in index.used_loads:
        yield found("load-unused", f"load:{load.key}", load=of_load(load))
    if load.drop_class not in index.drop_rules and load.drop_class not in (GENERAL_CLASS, _ORDINARY_CLASS):
        change = Change(subject=f"load:{load.key}", field="drop_class", value=_ORDINARY_CLASS)
        yield found(
            "drop-class-without-rule", f"load:{load.key}",
            fix=ProposedFix(label="Use the general class", changes=(change,)),
            load=of_load(load), drop_class=load.drop_class,
        )  # fmt: skip
