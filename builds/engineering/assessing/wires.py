"""Each circuit's and run's conductor where it lies: what it carries, its resistance, the sizes it could be instead."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from builds.engineering.assessing.gauges import gauge_ohm_per_m
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.design import Circuit, Run
from builds.engineering.electrical.ampacity import ampacity
from builds.engineering.electrical.conductors import area_mm2, resistance_ohm_per_m, sizes
from builds.engineering.errors import EngineeringError
from builds.engineering.vocabulary import GaugeBasis

__all__ = ["Choice", "Wire", "wire_of_circuit", "wire_of_run", "wires_of_circuits"]

_CHOICES_KEPT = 4096  # distinct surroundings over many builds; a design has a few dozen


@dataclass(frozen=True, slots=True)
class Choice:
    """Sizes of a basis that can lie somewhere, smallest first, with what each carries there and its resistance at 20 °C, negative."""

    gauges: tuple[str, ...]
    ampacity_a: tuple[float, ...]
    minus_ohm_per_m: tuple[float, ...]  # rising, so that it can be searched like the others
    area_mm2: tuple[float, ...]
    row_of: dict[str, int]


@dataclass(frozen=True, slots=True)
class Wire:
    """
    One conductor as it lies. ``ampacity_a`` counts the conductors in parallel; None where no table has the size.

    ``ohm`` is its own resistance at 20 °C, out (and, for a circuit, back); ``follows_temperature`` is False for a
    resistance that was given.
    """

    choice: Choice
    row: int | None
    ambient_c: float
    parallel: int
    length_m: float
    ohm: float
    follows_temperature: bool

    @property
    def known(self) -> bool:
        """Whether its resistance rests on a table or was given."""
        return self.row is not None or not self.follows_temperature

    @property
    def ampacity_a(self) -> float | None:
        """What it may carry, all parallel conductors together [A]."""
        return None if self.row is None else self.choice.ampacity_a[self.row] * self.parallel


@lru_cache(maxsize=_CHOICES_KEPT)
def _choice(basis: GaugeBasis, insulation_c: float, ambient_c: float, bundle: int) -> Choice:
    carried: list[tuple[str, float, float, float]] = []
    for size in sizes(basis):
        try:
            found = ampacity(size=size, insulation_c=insulation_c, ambient_c=ambient_c, bundle_count=bundle)
        except EngineeringError:
            continue  # smaller than the table begins, or an insulation below it: no candidate
        carried.append((size.gauge, found.value_a, resistance_ohm_per_m(size=size), area_mm2(size)))
    gauges = tuple(row[0] for row in carried)
    return Choice(
        gauges=gauges,
        ampacity_a=tuple(row[1] for row in carried),
        minus_ohm_per_m=tuple(-row[2] for row in carried),
        area_mm2=tuple(row[3] for row in carried),
        row_of={gauge: row for row, gauge in enumerate(gauges)},
    )


def wires_of_circuits(index: IndexedDesign, known: Mapping[int, Wire]) -> dict[str, Wire]:
    """Return the wires of all circuits by number, those that are ``known`` by the identity of their circuit taken over."""
    return {
        circuit.number: known.get(id(circuit)) or wire_of_circuit(index, circuit) for circuit in index.design.circuits
    }


def wire_of_circuit(index: IndexedDesign, circuit: Circuit) -> Wire:
    """Return a circuit's conductor, out and back, in the hottest of its zones (the panel's and its loads' if it names none)."""
    zones = circuit.zones or _end_zones(index, circuit)
    return _wire(
        index,
        circuit.gauge,
        circuit.insulation_c,
        index.bundle_of(circuit),
        zones,
        circuit.length_m + circuit.return_length_m,
        1,
        None,
    )


def wire_of_run(index: IndexedDesign, run: Run) -> Wire:
    """Return a run's conductor in the hottest of its zones (those of its two ends if it names none)."""
    ends = tuple(index.nodes[key].zone for key in (run.from_node, run.to_node) if key in index.nodes)
    return _wire(
        index,
        run.gauge,
        run.insulation_c,
        index.bundle_of(run),
        run.zones or ends,
        run.length_m,
        run.parallel,
        run.resistance_mohm,
    )


def _end_zones(index: IndexedDesign, circuit: Circuit) -> tuple[str, ...]:
    panel = index.nodes.get(circuit.panel)
    return ((panel.zone,) if panel else ()) + tuple(load.zone for load in index.loads_of.get(circuit.number, ()))


def _wire(
    index: IndexedDesign,
    gauge: str,
    insulation_c: float,
    bundle: int,
    zones: tuple[str, ...],
    length_m: float,
    parallel: int,
    given_mohm: float | None,
) -> Wire:
    basis = index.design.conventions.gauge_basis
    return _laid(basis, gauge, insulation_c, bundle, index.ambient_c(zones), length_m, parallel, given_mohm)


@lru_cache(maxsize=8192)
def _laid(
    basis: GaugeBasis,
    gauge: str,
    insulation_c: float,
    bundle: int,
    ambient_c: float,
    length_m: float,
    parallel: int,
    given_mohm: float | None,
) -> Wire:
    """A conductor as it lies; most of a build's are the same from one edit to the next."""
    choice = _choice(basis, insulation_c, ambient_c, bundle)
    per_m = gauge_ohm_per_m(basis, gauge)
    given = given_mohm is not None
    ohm = given_mohm / 1000 if given_mohm is not None else (per_m or 0.0) * length_m / parallel
    row = choice.row_of.get(gauge) if per_m is not None else None
    return Wire(choice, row, ambient_c, parallel, length_m, ohm, not given)
