"""
What the diodes of isolators lose, on the way from the source behind a circuit to it.

A diode takes much the same voltage whatever flows, so it is a step in the source's voltage and no resistance; it is open where
an isolator with contacts would be, and lets nothing back. (At small currents it loses less: the step is the more careful
figure.)
"""

from collections.abc import Iterable, Mapping

from builds.engineering.design import PowerNode
from builds.engineering.electrical.battery import source_default
from builds.engineering.vocabulary import IsolatorKind, NodeKind

__all__ = ["diodes_of", "forward_v_of", "lost_on_way_v"]


def forward_v_of(node: PowerNode) -> float:
    """Return what an isolator takes of the voltage: nothing where it is contacts; the tables' figure where it does not say [V]."""
    if node.kind is not NodeKind.ISOLATOR or node.isolator is not IsolatorKind.DIODE:
        return 0.0
    return source_default("isolator_diode_v") if node.forward_v is None else node.forward_v


def diodes_of(nodes: Iterable[PowerNode]) -> dict[str, float]:
    """Return what each diode isolator among some nodes loses, by its key [V]."""
    isolators = (node for node in nodes if node.kind is NodeKind.ISOLATOR)
    return {node.key: lost_v for node in isolators if (lost_v := forward_v_of(node))}


def lost_on_way_v(diodes_v: Mapping[str, float], way: Iterable[str]) -> float:
    """Return what the diodes among the nodes of a way lose together [V]."""
    return sum(diodes_v.get(key, 0.0) for key in way)
