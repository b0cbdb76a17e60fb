"""The voltage of the source behind each circuit, at both ends of its range, in every condition of a setting."""

from collections.abc import Sequence

import numpy as np

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import set_volts
from builds.engineering.assessing.sharing import joined_roots
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.topology import Feeding
from builds.engineering.design import OperatingCondition, PowerNode

__all__ = ["source_volts"]


def source_volts(index: IndexedDesign, feeding: Feeding, chosen: Sequence[int]) -> tuple[Floats, Floats]:
    """
    Return the lowest and the highest voltage of the source behind each fed circuit, circuits × conditions [V].

    A battery that is charged stands at what charges it, at the highest set of several; batteries that are joined stand at
    one voltage, the lowest and the highest of all of them.
    """
    conditions = [index.design.conditions[place] for place in chosen]
    volts = {
        conversion.key: np.full((2, len(conditions)), conversion.spec.output_v) for conversion in feeding.conversions
    }
    for battery in index.batteries():
        pairs = [_post_volts(index, feeding, condition, battery) for condition in conditions]
        volts[battery.key] = np.array(pairs).reshape(-1, 2).T
    for roots in joined_roots(feeding.supply_tree):
        if len(roots) > 1:
            low_v, high_v = (
                np.min([volts[root][0] for root in roots], axis=0),
                np.max([volts[root][1] for root in roots], axis=0),
            )
            volts.update(dict.fromkeys(roots, np.array([low_v, high_v])))
    nothing = np.zeros((2, 0, len(chosen)))
    both = np.array([volts[root] for root in feeding.root]).swapaxes(0, 1) if feeding.root else nothing
    return both[0], both[1]


def _post_volts(
    index: IndexedDesign, feeding: Feeding, condition: OperatingCondition, battery: PowerNode
) -> tuple[float, float]:
    if battery.key not in feeding.chargers:
        return set_volts(condition, battery)
    found = [set_volts(condition, index.nodes[key]) for key in feeding.chargers[battery.key]]
    found = found or [(condition.source_low_v, condition.source_high_v)]
    return max(low for low, _ in found), max(high for _, high in found)
