"""Findings about devices in ways back: a device that opens there stops nothing that finds another way."""

from collections.abc import Iterator

import numpy as np

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.trees import grow_tree, neighbours
from builds.engineering.assessing.words import amperes, listing, of_run
from builds.engineering.catalogue import found
from builds.engineering.findings import Finding
from builds.engineering.vocabulary import RunSide

__all__ = ["return_findings"]

_HAS_AERIAL = ("radio",)  # drop classes of what has an antenna lead or a data shield besides its own return


def return_findings(index: IndexedDesign, network: Network, runs: tuple[RunFacts, ...]) -> Iterator[Finding]:
    """Yield the returns with a device that something behind can pass by."""
    for facts in runs:
        if facts.run.side is not RunSide.RETURN or facts.device is None:
            continue
        row = network.elements.run_row[facts.run.key]
        steps = {
            node: [way for way in ways if way.element != row]
            for node, ways in neighbours(index.design, network.elements, RunSide.RETURN).items()
        }
        tree = grow_tree(steps, network.elements.batteries)
        grounds = _grounds_over(network, row)
        for way, nodes in (
            ("another way", [node for node in grounds if node in tree.root_of]),
            ("an antenna lead or data shield", [node for node in grounds if node not in tree.root_of]),
        ):
            loads = [
                load.key
                for circuit in index.design.circuits
                if circuit.return_node in nodes
                for load in index.loads_of.get(circuit.number, ())
                if way == "another way" or load.drop_class in _HAS_AERIAL
            ]
            if loads:
                over = (
                    [network.elements.names[element] for element, _ in tree.elements_to(nodes[0])]
                    if way == "another way"
                    else []
                )
                taken = [key for key in over if key in index.runs]
                yield found(
                    "return-device-bypassed", f"run:{facts.run.key}", where=of_run(facts.run), device=amperes(facts.device.rating_a),
                    loads=listing(tuple(loads)), way=f"run {taken[0]}" if taken else way,
                )  # fmt: skip
                break


def _grounds_over(network: Network, row: int) -> list[str]:
    """The grounds whose circuits return over an element."""
    nodes: dict[str, None] = {}
    for state in network.states:
        for column in np.flatnonzero(state.feeding.return_ways[row]).tolist():
            nodes.setdefault(state.feeding.returns.names[column][0])
    return list(nodes)
