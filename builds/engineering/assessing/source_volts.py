"""The voltage of the source behind each circuit, at both ends of its range, in every condition of a setting."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.isolators import lost_on_way_v
from builds.engineering.assessing.settings import set_volts, source_uses
from builds.engineering.assessing.sharing import joined_roots
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.source_outputs import charged_rows, outputs_of
from builds.engineering.assessing.topology import Feeding
from builds.engineering.design import OperatingCondition, PowerNode

__all__ = ["LEAST_V", "Deficits", "deficits_of", "given_of", "lost_in_diodes_v", "source_volts"]

LEAST_V = 0.001  # what is asked for more than the batteries can give finds no operating point there


def source_volts(index: IndexedDesign, feeding: Feeding, chosen: Sequence[int]) -> tuple[Floats, Floats]:
    """
    Return the lowest and the highest voltage of the source behind each fed circuit, circuits × conditions [V].

    A battery that is charged is fed by what charges it, at the highest set of several, which holds that at its own terminals
    where its cable is drawn; batteries that are joined stand at one voltage, the lowest and the highest of all of them.
    What the diodes of an isolator on the way lose is taken off.
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
    lost_v = lost_in_diodes_v(index, feeding)
    return (both[0], both[1]) if lost_v is None else (both[0] - lost_v, both[1] - lost_v)


def lost_in_diodes_v(index: IndexedDesign, feeding: Feeding) -> Floats | None:
    """Return what diode isolators lose between each fed circuit and the source behind it, one column; None without any [V]."""
    if not index.diodes_v:
        return None
    ways = [least_way(index, feeding, panel) for panel, _ in feeding.panels.names]
    lost_v = np.array([lost_on_way_v(index.diodes_v, way) for way in ways])
    return lost_v[feeding.panels.column, None] if lost_v.any() else None


def least_way(index: IndexedDesign, feeding: Feeding, node: str) -> tuple[str, ...]:
    """
    Return the nodes on the way to a node from what charges its battery, of several the one past the fewest volts of diodes.

    From the battery where nothing that charges it is drawn: a source behind the same isolator loses on its way to either.
    """
    tree = feeding.supply_tree
    down = tree.nodes_to(node)
    ways = [down]
    if drawn := [key for key in feeding.chargers.get(down[0], ()) if key in tree.root_of]:
        ways = [_between(tree.nodes_to(key), down) for key in drawn]
    return min(ways, key=lambda way: lost_on_way_v(index.diodes_v, way))


def _between(up: tuple[str, ...], down: tuple[str, ...]) -> tuple[str, ...]:
    """The nodes between the ends of two ways from one root, the one where they part counted once."""
    shared = next((place for place, pair in enumerate(zip(up, down, strict=False)) if pair[0] != pair[1]), None)
    parts = min(len(up), len(down)) if shared is None else shared
    return (*up[: parts - 1 : -1], *down[parts - 1 :])


def _post_volts(
    index: IndexedDesign, feeding: Feeding, condition: OperatingCondition, battery: PowerNode
) -> tuple[float, float]:
    if battery.key not in feeding.chargers:
        return set_volts(condition, battery)
    found = [set_volts(condition, index.nodes[key]) for key in feeding.chargers[battery.key]]
    found = found or [(condition.source_low_v, condition.source_high_v)]
    return max(low for low, _ in found), max(high for _, high in found)


@dataclass(frozen=True, slots=True)
class Deficits:
    """
    Conditions (columns) in which what charges gives less than the loads take at some moment: the batteries make up the rest.

    ``rows`` (batteries) are those that are charged; ``available_a`` is what charges them gives at most. Per circuit and
    condition ``rest_v`` is the battery's own voltage at rest and ``inside_ohm`` what that stands behind, of all batteries on
    one post together; infinite and 0 where nothing is short.
    """

    rows: Floats
    available_a: Floats
    rest_v: Floats
    inside_ohm: Floats

    def short_a(self, battery_a: Floats) -> Floats:
        """What is asked of the batteries (rows) beyond what charges them gives, by condition [A]."""
        return np.asarray(np.maximum((self.rows * battery_a).sum(axis=0) - self.available_a, 0.0))

    def post_v(self, short_a: Floats) -> Floats:
        """Voltage of the battery's post behind each circuit when it makes up what is short: never nothing, infinite where nothing is short."""
        sunk_v = self.rest_v - np.where(self.inside_ohm > 0, self.inside_ohm * short_a, 0.0)
        return np.asarray(np.maximum(sunk_v, LEAST_V))


def given_of(index: IndexedDesign, feeding: Feeding, chosen: Sequence[int]) -> tuple[Floats, Floats]:
    """Return, by condition, 1 for each battery (row) that sources with figures charge, and what those give at most [A]."""
    rows, available_a = np.zeros((len(index.batteries()), len(chosen))), np.full(len(chosen), np.inf)
    for column, place in enumerate(chosen):
        found = outputs_of(index, feeding, index.design.conditions[place])
        outputs = [output.available_a for of_battery in found.values() for output in of_battery]
        if outputs:
            rows[:, column], available_a[column] = charged_rows(index, found), sum(outputs)
    return rows, available_a


def deficits_of(
    index: IndexedDesign, feeding: Feeding, chosen: Sequence[int], given: tuple[Floats, Floats], battery_a: Floats
) -> Deficits | None:
    """Return where sources give less than is asked of the batteries (rows) by condition; None where nothing is short."""
    conditions = [index.design.conditions[place] for place in chosen]
    rows, available_a = given
    short = (rows * battery_a).sum(axis=0) > available_a
    if not short.any():
        return None
    rest_v = np.full((len(feeding.root), len(conditions)), np.inf)
    inside_ohm = np.zeros_like(rest_v)
    charged = {battery.key: rows[row] > 0 for row, battery in enumerate(index.batteries())}
    roots = np.array(feeding.root)
    for root in charged.keys() & set(feeding.root):
        fed = roots == root
        for column in np.flatnonzero(short & charged[root]).tolist():
            rest_v[fed, column], inside_ohm[fed, column] = _at_rest(index, feeding, conditions[column], root)
    lost_v = lost_in_diodes_v(index, feeding)
    if lost_v is not None:
        rest_v -= lost_v
    return Deficits(rows, available_a, rest_v, inside_ohm)


def _at_rest(index: IndexedDesign, feeding: Feeding, condition: OperatingCondition, root: str) -> tuple[float, float]:
    """
    Voltage at rest and resistance of the batteries on one post, side by side; what joins them is left out.

    One behind a diode gives nothing back through it.
    """
    uses = source_uses(condition)
    siemens = amperes = 0.0
    for battery in index.batteries():
        behind = index.diodes_v and lost_on_way_v(index.diodes_v, feeding.supply_tree.nodes_to(battery.key))
        if battery.battery is not None and not behind and feeding.supply_tree.root_of.get(battery.key) == root:
            use, own = uses.get(battery.key), 1000 / max(battery.battery.internal_mohm, 1e-3)
            rest_v = battery.battery.open_circuit_v if use is None or use.low_v is None else use.low_v
            siemens, amperes = siemens + own, amperes + own * rest_v
    return (amperes / siemens, 1 / siemens) if siemens else (np.inf, 0.0)
