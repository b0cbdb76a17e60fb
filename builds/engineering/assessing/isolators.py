"""
What the diodes of isolators lose, on the way from the source behind a circuit to it.

A diode takes much the same voltage whatever flows, so it is a step in the source's voltage and no resistance; it is open where
an isolator with contacts would be. (It lets a little less be lost at small currents: the step is the more careful figure.)
"""

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.trees import Tree
from builds.engineering.design import PowerNode
from builds.engineering.electrical.battery import source_default
from builds.engineering.vocabulary import IsolatorKind, NodeKind

__all__ = ["diodes_of", "forward_v_of", "lost_in_diodes_v"]


def forward_v_of(node: PowerNode) -> float:
    """Return what an isolator takes of the voltage: nothing where it is contacts; the tables' figure where it does not say [V]."""
    if node.kind is not NodeKind.ISOLATOR or node.isolator is not IsolatorKind.DIODE:
        return 0.0
    return source_default("isolator_diode_v") if node.forward_v is None else node.forward_v


def diodes_of(index: IndexedDesign) -> dict[str, float]:
    """Return what each diode isolator of a design loses, by its node [V]."""
    isolators = [node for node in index.design.nodes if node.kind is NodeKind.ISOLATOR]
    return {node.key: lost_v for node in isolators if (lost_v := forward_v_of(node))}


def lost_in_diodes_v(diodes_v: dict[str, float], tree: Tree, node: str) -> float:
    """Return what the diodes between a node of the supply side and the root that feeds it lose [V]."""
    return sum(diodes_v.get(key, 0.0) for key in tree.nodes_to(node)) if diodes_v else 0.0
