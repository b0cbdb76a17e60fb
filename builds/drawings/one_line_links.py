"""
The runs of a one-line diagram that its tree has no place for: a second conductor beside another, and what closes a ring.

A conductor between the same two nodes as a run of the tree is drawn beside that run. Anything else goes out on a row of
its own, up or down a lane at the right of all boxes, and in again where it ends.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from builds.drawings.power_tree import Branch, PowerTree
from builds.engineering.design import PowerNode, Run

__all__ = ["Extras", "extras_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """
    Where each run goes that the tree left out.

    ``beside`` are those beside the run of a row and ``loops`` the one beside a run of the spine, by the node that run leads
    to; ``rows`` the rows that links go out on, by the node they hang on; ``targets`` where each comes in again; ``undrawn``
    what ends in no node of the drawing.
    """

    beside: Mapping[str, tuple[Run, ...]]
    loops: Mapping[str, Run]
    rows: Mapping[str, tuple[Branch, ...]]
    targets: Mapping[str, str]
    undrawn: tuple[Run, ...]


def extras_of(tree: PowerTree) -> Extras:
    """Return where the left-out runs of a tree go."""
    steps = [*tree.spine, *([tree.bus] if tree.bus else [])]
    spine = {step.node.key: step.node for step in steps}
    boxes: dict[str, PowerNode] = {}
    of_row: dict[frozenset[str], str] = {}
    for branch in (branch for step in steps for top in step.branches for _, branch in top.walk()):
        if branch.node is not None and branch.run is not None:
            boxes[branch.node.key] = branch.node
            of_row[_ends(branch.run)] = branch.node.key
    of_spine = {_ends(step.run): step.node.key for step in steps if step.run is not None}
    beside: dict[str, tuple[Run, ...]] = {}
    loops: dict[str, Run] = {}
    links: list[Run] = []
    undrawn: list[Run] = []
    for run in tree.left_out:
        ends = _ends(run)
        if ends in of_row:
            beside[of_row[ends]] = (*beside.get(of_row[ends], ()), run)
        elif ends in of_spine and of_spine[ends] not in loops:
            loops[of_spine[ends]] = run
        elif len(ends) == 2 and ends <= (spine.keys() | boxes.keys()):
            links.append(run)
        else:
            undrawn.append(run)
    rows, targets = _rows_of_links(links, spine, spine | boxes)
    return Extras(beside=beside, loops=loops, rows=rows, targets=targets, undrawn=tuple(undrawn))


def _rows_of_links(
    links: list[Run], spine: Mapping[str, PowerNode], nodes: Mapping[str, PowerNode]
) -> tuple[dict[str, tuple[Branch, ...]], dict[str, str]]:
    """Each link's rows: one at its start, and one more at its end where that is on the spine, which has no free side."""
    rows: dict[str, tuple[Branch, ...]] = {}
    targets: dict[str, str] = {}
    for run in links:
        start, end = (run.to_node, run.from_node) if run.to_node in spine else (run.from_node, run.to_node)
        rows[start] = (*rows.get(start, ()), Branch(run=run, link_to=nodes[end]))
        targets[run.key] = end
        if end in spine:
            rows[end] = (*rows.get(end, ()), Branch(run=run, link_to=nodes[start], link_ends=True))
    return rows, targets


def _ends(run: Run) -> frozenset[str]:
    return frozenset((run.from_node, run.to_node))
