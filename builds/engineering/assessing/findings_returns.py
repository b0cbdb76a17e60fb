"""Findings about devices in ways back: a device that opens there stops nothing that finds another way."""

from collections.abc import Callable, Iterator

import numpy as np

from builds.engineering.assessing.held import body_of
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.trees import grow_tree, neighbours
from builds.engineering.assessing.words import amperes, listing, of_run
from builds.engineering.catalogue import found
from builds.engineering.design import Load, Run
from builds.engineering.findings import Finding
from builds.engineering.vocabulary import RunSide

__all__ = ["return_findings"]

_HAS_AERIAL = ("radio",)  # drop classes of what always has an antenna lead besides its own return


def return_findings(index: IndexedDesign, network: Network, runs: tuple[RunFacts, ...]) -> Iterator[Finding]:
    """Yield the returns with a device that something behind can pass by."""
    for facts in runs:
        if facts.run.side is not RunSide.RETURN or facts.device is None:
            continue
        loads, way = _passed_by(index, network, facts.run)
        if loads:
            yield found(
                "return-device-bypassed", f"run:{facts.run.key}", where=of_run(facts.run),
                device=amperes(facts.device.rating_a), loads=listing(loads), way=way,
            )  # fmt: skip


def _passed_by(index: IndexedDesign, network: Network, run: Run) -> tuple[tuple[str, ...], str]:
    """The loads that still have a way back without a run, and which: one that is drawn, or one that seldom is."""
    row = network.elements.run_row[run.key]
    steps = {
        node: [way for way in ways if way.element != row]
        for node, ways in neighbours(index.design, network.elements, RunSide.RETURN).items()
    }
    tree, grounds = grow_tree(steps, network.elements.batteries), _grounds_over(network, row)
    drawn = [node for node in grounds if node in tree.root_of]
    if drawn:
        over = [network.elements.names[element] for element, _ in tree.elements_to(drawn[0])]
        run_key = next((key for key in over if key in index.runs), "")
        return _loads(index, drawn), f"run {run_key}" if run_key else f"the post of {tree.root_of[drawn[0]]}"
    if any(body_of(index, node) is not None for node in grounds):
        return _loads(index, grounds), "the vehicle's own bonds, which are not drawn"
    return _loads(index, grounds, only=_joined_otherwise), "an antenna lead, data shield or bracket"


def _joined_otherwise(load: Load) -> bool:
    return load.other_return or load.drop_class in _HAS_AERIAL


def _loads(index: IndexedDesign, grounds: list[str], only: Callable[[Load], bool] | None = None) -> tuple[str, ...]:
    """The loads that return to some grounds, or some of them."""
    return tuple(
        load.key
        for circuit in index.design.circuits
        if circuit.return_node in grounds
        for load in index.loads_of.get(circuit.number, ())
        if only is None or only(load)
    )


def _grounds_over(network: Network, row: int) -> list[str]:
    """The grounds whose circuits return over an element."""
    nodes: dict[str, None] = {}
    for state in network.states:
        for column in np.flatnonzero(state.feeding.return_ways[row]).tolist():
            nodes.setdefault(state.feeding.returns.names[column][0])
    return list(nodes)
