"""A design solved for its workings, and the words and sources they have in common."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TypeVar

from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.states import State
from builds.engineering.assessment import Assessment
from builds.engineering.design import Circuit, Design, OperatingCondition, PowerNode, Run
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.shown_units import length_shown
from builds.engineering.functions.coupling import coupled
from builds.engineering.proposing import SizingProposal, propose
from builds.engineering.proposing.solved import Solved, solve
from builds.engineering.tables.loader import load_table
from builds.engineering.vocabulary import GaugeBasis

__all__ = ["Subject", "subject_of", "table_source"]

Part = TypeVar("Part")

_AREA_TABLES = {GaugeBasis.SAE: "sae_areas", GaugeBasis.AWG: "awg_areas", GaugeBasis.METRIC: "metric_sizes"}


@dataclass(frozen=True)
class Subject:
    """The design, its assessment, and the distribution that the figures came from."""

    design: Design
    assessment: Assessment
    solved: Solved

    def circuit(self, number: str) -> CircuitFacts:
        """Return the facts of a fed circuit. Raises UnknownTableEntry."""
        return _found(
            (facts for facts in self.solved.circuits if facts.circuit.number == number and facts.known), number
        )

    def run(self, key: str) -> RunFacts:
        """Return the facts of a run of known resistance. Raises UnknownTableEntry."""
        return _found((facts for facts in self.solved.runs if facts.run.key == key and facts.wire.known), key)

    def condition(self, key: str) -> tuple[OperatingCondition, State, int]:
        """Return a condition with the state and the column that hold it. Raises UnknownTableEntry."""
        conditions = self.design.conditions
        return _found(
            (
                (conditions[place], state, column)
                for state in self.solved.network.states
                for column, place in enumerate(state.chosen)
                if conditions[place].key == key and state.works[column]
            ),
            key,
        )

    def node(self, key: str) -> PowerNode:
        """Return a node. Raises UnknownTableEntry."""
        return _found((node for node in self.design.nodes if node.key == key), key)

    @cached_property
    def proposals(self) -> Mapping[str, SizingProposal]:
        """What every circuit and run ought to be, by its address: proposed once, where a working asks for it."""
        return {proposal.subject: proposal for proposal in propose(self.design)}

    @property
    def area_source(self) -> str:
        """The table that the build's gauges are read in."""
        return table_source(_AREA_TABLES[self.design.conventions.gauge_basis])

    def wire_words(self, part: Circuit | Run) -> str:
        """Say a conductor in the build's own units: "4 SAE, 2.5 m"."""
        if isinstance(part, Run) and not part.gauge and part.resistance_mohm is not None:
            return f"the maker's way, {part.resistance_mohm:g} mΩ"
        basis = self.design.conventions.gauge_basis
        size = f"{part.gauge} mm²" if basis is GaugeBasis.METRIC else f"{part.gauge} {basis.upper()}"
        return f"{size}, {length_shown(part.length_m, self.design.conventions.units)}"


def _found(parts: Iterable[Part], key: str) -> Part:
    for part in parts:
        return part
    raise UnknownTableEntry("What can be explained in this build", key)


def subject_of(design: Design, assessment: Assessment) -> Subject:
    """Return a design ready to be explained; ``assessment`` is what the core says of it."""
    lit = coupled(design)
    return Subject(lit, assessment, solve(lit))


@cache
def table_source(name: str) -> str:
    """Return a table by its title, source, edition and standing."""
    table = load_table(name)
    return f"{table.title}: {table.source}; {table.edition}; {table.status}"
