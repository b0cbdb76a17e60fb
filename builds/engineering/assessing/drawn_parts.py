"""
One setting of switches and sources as the parts that a network is drawn with, each with what it stands for.

Nodes on the supply side are named with a plus before their key, those of the return side with a minus, and where a
circuit's loads hang ``c`` and its row. Loads stand in this order: the demand's, one for what sleeps on each circuit, and
converters that feed no bus of their own.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.assessing.conversion import Conversion, input_node
from builds.engineering.assessing.demand import Demand
from builds.engineering.assessing.links import links_of, node_of
from builds.engineering.assessing.sharing import joined_roots
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.topology import Feeding
from builds.engineering.assessing.trees import Elements
from builds.engineering.electrical.network import NetworkBranch, NetworkConverter, NetworkLoad
from builds.engineering.vocabulary import LoadModel

__all__ = ["INPUT", "DrawnBranch", "DrawnParts", "drawn_parts"]

INPUT = "input "  # of a converter
_ASLEEP = "asleep "  # a circuit's sleeping loads together, as one load


@dataclass(frozen=True, slots=True)
class DrawnBranch:
    """A branch with what is in it: the rows of its elements, or the circuit whose own wire it is."""

    branch: NetworkBranch
    rows: tuple[int, ...] = ()
    circuit: str = ""


@dataclass(frozen=True, slots=True)
class DrawnParts:
    """The parts of a setting; ``batteries`` are those that feed something, ``fed`` the rows of the demand that are fed."""

    batteries: tuple[str, ...]
    branches: tuple[DrawnBranch, ...]
    fed: tuple[int, ...]
    loads: tuple[NetworkLoad, ...]
    sleepers: tuple[str, ...]
    converters: tuple[NetworkConverter, ...]


def drawn_parts(
    feeding: Feeding,
    elements: Elements,
    element_ohm: Floats,
    own_ohm: Floats,
    demand: Demand,
    *,
    with_lockouts: bool,
) -> DrawnParts:
    """Return the parts of one setting with their resistances [Ω]; loads and converters lock out only where asked."""
    fed_by = set(feeding.root)
    roots = [root for group in joined_roots(feeding.supply_tree) if fed_by & set(group) for root in group]
    made = [part for part in feeding.conversions if part.key in roots]
    fed = tuple(row for row, load in enumerate(demand.loads) if load.circuit in feeding.column_of)
    sleepers = tuple(_sleepers(feeding))
    return DrawnParts(
        batteries=tuple(root for root in roots if root in elements.batteries),
        branches=tuple(_branches(feeding, elements, element_ohm, own_ohm, set(roots))),
        fed=fed,
        loads=(
            *(_load(demand, row, feeding, with_lockouts=with_lockouts) for row in fed),
            *sleepers,
            *(_taker(part) for part in feeding.conversions if part not in made),
        ),
        sleepers=tuple(load.key for load in sleepers),
        converters=tuple(_converter(part, with_lockouts=with_lockouts) for part in made),
    )


def _branches(
    feeding: Feeding, elements: Elements, element_ohm: Floats, own_ohm: Floats, roots: set[str]
) -> Iterator[DrawnBranch]:
    """One branch a link, of those that hang on what feeds something; the others carry nothing."""
    out = (
        link
        for link in links_of(feeding.supply_tree, elements)
        if feeding.supply_tree.root_of[node_of(link.one)] in roots
    )
    back = feeding.return_tree.root_of
    ends = {back.get(feeding.negative_of[root]) for root in roots}
    home = links_of(feeding.return_tree, elements, without_own=frozenset(elements.batteries), home=True)
    home = (link for link in home if back[node_of(link.one)] in ends)
    for mark, links in (("+", out), ("-", home)):
        for number, link in enumerate(links):
            branch = NetworkBranch(
                key=f"{mark}{number}",
                from_node=f"{mark}{link.one}",
                to_node=f"{mark}{link.other}",
                resistance_ohm=float(sum(element_ohm[row] for row in link.rows)),
            )
            yield DrawnBranch(branch, link.rows)
    for column, circuit in enumerate(feeding.circuits):
        branch = NetworkBranch(
            key=f"c{column}",
            from_node=f"+{circuit.panel}",
            to_node=f"c{column}",
            resistance_ohm=float(own_ohm[column]),
        )
        yield DrawnBranch(branch, circuit=circuit.number)


def _load(demand: Demand, row: int, feeding: Feeding, *, with_lockouts: bool) -> NetworkLoad:
    load = demand.loads[row]
    column = feeding.column_of[load.circuit]
    return NetworkLoad(
        key=load.key,
        supply_node=f"c{column}",
        return_node=f"-{feeding.circuits[column].return_node}",
        model=load.model,
        current_a=load.current_a * load.quantity,
        at_v=load.at_v,
        min_v=load.min_v if with_lockouts else 0.0,
    )


def _sleepers(feeding: Feeding) -> Iterator[NetworkLoad]:
    """One load of 1 A a circuit, scaled to what its sleeping loads take."""
    for column, circuit in enumerate(feeding.circuits):
        yield NetworkLoad(
            key=f"{_ASLEEP}{circuit.number}",
            supply_node=f"c{column}",
            return_node=f"-{circuit.return_node}",
            model=LoadModel.CONSTANT_CURRENT,
            current_a=1.0,
            at_v=12.0,
        )


def _converter(part: Conversion, *, with_lockouts: bool) -> NetworkConverter:
    spec = part.spec
    return NetworkConverter(
        key=INPUT + part.key,
        supply_node=f"+{input_node(part.key)}",
        return_node=f"-{spec.return_node}",
        positive_node=f"+{part.key}",
        negative_node=f"-{spec.return_node}",
        output_v=spec.output_v,
        limit_a=spec.limit_a,
        efficiency_ratio=spec.efficiency_ratio,
        idle_w=spec.idle_w,
        min_v=spec.min_v if with_lockouts else 0.0,
    )


def _taker(part: Conversion) -> NetworkLoad:
    """A converter that feeds no bus of its own: it takes for the battery that it charges, else for itself."""
    spec = part.spec
    power_w = spec.output_v * (spec.limit_a if part.charges else 0.0) / spec.efficiency_ratio + spec.idle_w
    return NetworkLoad(
        key=INPUT + part.key,
        supply_node=f"+{input_node(part.key)}",
        return_node=f"-{spec.return_node}",
        model=LoadModel.CONSTANT_POWER,
        current_a=power_w / spec.output_v,
        at_v=spec.output_v,
    )
