"""
Whether a distribution has an operating point at all, and where it is when sweeps do not settle.

A constant-power load draws more current the lower its voltage, so past a largest power no voltage satisfies it. Newton's
method decides. It starts from the voltages that stand with every constant power left out, which are the highest there can
be. What a constant power takes behind its open voltage is convex and only falls with it, so while no load raises another's
voltage the iterates can only fall, and they stop at the highest solution; the moment one would rise, or a load's quadratic
has no root left, there is none. A load *can* raise another's voltage where two sources or two ways back are shared in
opposite senses. Then that moment proves nothing, and the constant powers are raised from nothing step by step instead,
which is how a vehicle comes to its operating point too.
"""

from dataclasses import dataclass

import numpy as np

from builds.engineering.electrical.network_grid import Grid
from builds.engineering.electrical.network_laws import Bools, Laws
from builds.engineering.electrical.network_rings import Floats, Ints
from builds.engineering.electrical.network_sources import Feeding

__all__ = ["Fallen", "Folded", "fall", "fold"]

_MOST_STEPS, _MOST_STEPS_NEAR = 60, 12
_SAME = 1e-9
# Each step squares what is left: after one this small (parts of the source's voltage), one more leaves nothing.
_CLOSE = 1e-8
# A terminal voltage below this is none.
LEAST_V = 1e-6
# Steps of the constant powers on the way from nothing: the first, and the least that still counts as getting on.
_FIRST_RISE, _LEAST_RISE = 0.25, 1e-4
# No voltage moves by more than this part of the highest source's in such a step, or it is another solution that was met.
_MOST_MOVE_RATIO = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Fallen:
    """The highest solutions, node, source or tree × conditions, and in which conditions there is one."""

    node_v: Floats
    source_a: Floats
    tree_v: Floats
    found: Bools


@dataclass(frozen=True, slots=True, eq=False)
class Folded:
    """
    One condition with everything linear folded together: each point's open voltage, and what an ampere costs.

    ``lost_ohm`` is by pairs of nodes (``core.pairs``), row lost at and column taken at. Both are NaN where nothing linear
    settles the voltages.
    """

    open_v: Floats
    lost_ohm: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Equations:
    """
    The equations of node voltages, source currents and tree voltages, in that order, conditions × unknowns.

    ``fixed`` is the part of their derivative that no load changes.
    """

    core: Grid
    feeding: Feeding
    fixed: Floats
    trees: Floats

    @classmethod
    def of(cls, core: Grid, feeding: Feeding) -> "_Equations":
        nodes, sources = core.trees.size, len(feeding.held)
        trees = np.zeros((len(feeding.posts.ground), nodes))
        trees[core.trees.tree_of, np.arange(nodes)] = ~feeding.posts.ground[core.trees.tree_of]
        system, held = feeding.system(), feeding.is_held.T
        fixed = np.zeros((held.shape[0], nodes + system.shape[1], nodes + system.shape[1]))
        fixed[:, :nodes, :nodes] = np.eye(nodes)
        fixed[:, :nodes, nodes : nodes + sources] = -core.lift
        fixed[:, np.arange(nodes), nodes + sources + core.trees.tree_of] = -1.0
        fixed[:, nodes + sources :, nodes:] = system[:, sources:]
        fixed[:, nodes + sources :, nodes : nodes + sources] *= -1.0
        for source, (one, other) in enumerate(zip(core.positive_at, core.negative_at, strict=True)):
            fixed[:, nodes + source, nodes + source] = np.where(held[:, source], 1.0, feeding.ohm[source])
            fixed[:, nodes + source, one] += ~held[:, source]
            fixed[:, nodes + source, other] -= ~held[:, source]
        return cls(core, feeding, fixed, trees)

    def columns(self, at: Ints) -> "_Equations":
        return _Equations(self.core, self.feeding.columns(at), self.fixed[at], self.trees)

    def derivative(self, siemens: Floats) -> Floats:
        """By the unknowns, where the points' currents follow their open voltages by ``siemens``."""
        nodes = self.core.trees.size
        loads = self.core.conductances(siemens)
        whole = self.fixed.copy()
        whole[:, :nodes, :nodes] += self.core.transfer @ loads
        whole[:, nodes + len(self.feeding.held) :, :nodes] = self.trees @ loads
        return whole

    def errors(self, unknowns: Floats, point_a: Floats) -> Floats:
        """By how much the equations miss, at these unknowns and with the points taking these currents."""
        core, feeding = self.core, self.feeding
        node_v, source_a, tree_v = self.parted(unknowns)
        drawn, drop, _ = core.trees.sweep(core.drawn(point_a))
        away = node_v + drop - core.lift @ source_a - tree_v[core.trees.tree_of]
        free = core.across_posts(node_v) + feeding.ohm * source_a - feeding.emf_v
        posts = np.where(feeding.is_held, source_a - feeding.held_a, free)
        sums = drawn[: len(tree_v)] - feeding.posts.incidence @ source_a
        ground = feeding.posts.ground[:, None]
        return np.concatenate([away, posts, np.where(ground, tree_v, sums)]).T

    def parted(self, unknowns: Floats) -> tuple[Floats, Floats, Floats]:
        """Node voltages, source currents and tree voltages, each × conditions."""
        nodes = self.core.trees.size
        sources = nodes + len(self.feeding.held)
        return unknowns.T[:nodes], unknowns.T[nodes:sources], unknowns.T[sources:]

    def upright(self, laws: Laws, unknowns: Floats) -> Floats:
        """The sign of the derivative's determinant: it turns where two solutions meet, so it tells the upper from the lower."""
        open_v = self.open_of(unknowns)
        volts = laws.taken(open_v, np.full((1, open_v.shape[1]), LEAST_V)).volts
        return np.asarray(np.linalg.slogdet(self.derivative(laws.slopes(open_v, volts)))[0])

    def open_of(self, unknowns: Floats) -> Floats:
        """The points' open voltages, points × conditions."""
        return self.core.across_points(unknowns.T[: self.core.trees.size])


def _solved(matrix: Floats, right: Floats) -> Floats:
    """``matrix⁻¹ right`` condition by condition; NaN where there is no such thing."""
    try:
        return np.asarray(np.linalg.solve(matrix, right[:, :, None])[:, :, 0])
    except np.linalg.LinAlgError:
        if len(matrix) == 1:
            return np.full(right.shape, np.nan)
        return np.concatenate([_solved(matrix[[c]], right[[c]]) for c in range(len(matrix))])


def fall(core: Grid, laws: Laws, feeding: Feeding) -> Fallen:
    """
    Return the operating points of conditions that sweeps did not settle.

    Parameters
    ----------
    core : Grid
        The distribution without the points' own ways.
    laws : Laws
        What its points take.
    feeding : Feeding
        Its sources, free or held as they are; they are not switched here.

    Returns
    -------
    Fallen
        Voltages and source currents, and in which conditions there is an operating point.
    """
    equations = _Equations.of(core, feeding)
    start = _without_power(equations, laws)
    unknowns, found = _newton(equations, laws, start, only_falls=True)
    lost = np.flatnonzero(~found & np.isfinite(start).all(axis=1))
    doubtful = np.array([c for c in lost if not _only_falls(core, laws, feeding, int(c))], dtype=np.int64)
    if doubtful.size:
        part = equations.columns(doubtful)
        unknowns[doubtful], found[doubtful] = _raised(part, laws.columns(doubtful), start[doubtful])
    node_v, source_a, tree_v = equations.parted(unknowns)
    return Fallen(node_v, source_a, tree_v, found)


def _without_power(equations: _Equations, laws: Laws) -> Floats:
    """The unknowns with every constant power left out: everything is linear, so one step is exact."""
    point_a, siemens = laws.linear()
    nothing = np.zeros(equations.fixed.shape[:2])
    return -_solved(equations.derivative(siemens), equations.errors(nothing, point_a))


def _newton(equations: _Equations, laws: Laws, start: Floats, *, only_falls: bool) -> tuple[Floats, Bools]:
    """Return where Newton's method comes to from ``start``, and in which conditions that is a solution."""
    unknowns, found = start.copy(), np.zeros(len(start), dtype=np.bool_)
    near = found.copy()
    active = np.flatnonzero(np.isfinite(start).all(axis=1))
    close_v = _CLOSE * equations.feeding.emf_v.max(axis=0)
    for _ in range(_MOST_STEPS if only_falls else _MOST_STEPS_NEAR):
        if not active.size:
            break
        part, law = equations.columns(active), laws.columns(active)
        open_v = part.open_of(unknowns[active])
        taken = law.taken(open_v, np.full((1, active.size), LEAST_V))
        step = _solved(part.derivative(law.slopes(open_v, taken.volts)), part.errors(unknowns[active], taken.amps))
        fell_v = part.open_of(step)
        going = taken.sound & np.isfinite(step).all(axis=1)
        with np.errstate(invalid="ignore"):
            if only_falls:
                # Rounding alone may lift a voltage by some 1e-12 of itself.
                going &= ~((fell_v < -_SAME * np.abs(open_v)) & (law.power_w > 0)).any(axis=0)
            close = (np.abs(fell_v) <= close_v[active]).all(axis=0)
        unknowns[active[going]] -= step[going]
        done = going & near[active]
        near[active], found[active[done]] = close, True
        active = active[going & ~done]
    return unknowns, found


def _only_falls(core: Grid, laws: Laws, feeding: Feeding, condition: int) -> bool:
    """Whether no constant power raises another's voltage in this condition, everything linear counted."""
    at = np.array([condition])
    power = np.unique(core.pairs[1][laws.power_w[:, condition] > 0])
    lost = fold(core, laws.columns(at), feeding.columns(at)).lost_ohm[np.ix_(power, power)]
    return bool((lost >= -_SAME * np.abs(lost).max(initial=0.0)).all())


def fold(core: Grid, laws: Laws, feeding: Feeding) -> Folded:
    """Return one condition's open voltages and what an ampere more at each pair of nodes would cost the others."""
    equations = _Equations.of(core, feeding)
    start = _without_power(equations, laws)
    first, _ = core.pairs
    if not np.isfinite(start).all():
        return Folded(np.full(len(laws.own_ohm), np.nan), np.full((first.size, first.size), np.nan))
    nodes, ampere = core.trees.size, np.zeros((core.trees.size, first.size))
    ampere[core.supply_at[first], np.arange(first.size)] += 1.0
    ampere[core.return_at[first], np.arange(first.size)] -= 1.0
    right = np.zeros((start.shape[1], first.size))
    right[:nodes] = core.transfer @ ampere
    right[nodes + len(feeding.held) :] = equations.trees @ ampere
    lost = np.linalg.solve(equations.derivative(laws.linear()[1])[0], right)[:nodes]
    return Folded(equations.open_of(start)[:, 0], lost[core.supply_at[first]] - lost[core.return_at[first]])


def _raised(equations: _Equations, laws: Laws, start: Floats) -> tuple[Floats, Bools]:
    """Raise the constant powers from nothing to all of them, as far as each step finds its solution near the last."""
    unknowns, conditions = start.copy(), len(start)
    reached, rise = np.zeros(conditions), np.full(conditions, _FIRST_RISE)
    while (active := np.flatnonzero((reached < 1.0) & (rise >= _LEAST_RISE))).size:
        target = np.minimum(reached[active] + rise[active], 1.0)
        law, part = laws.columns(active).with_power(target), equations.columns(active)
        found, solved = _newton(part, law, unknowns[active], only_falls=False)
        moved_v = np.abs(part.open_of(found) - part.open_of(unknowns[active])).max(axis=0, initial=0.0)
        solved &= moved_v <= _MOST_MOVE_RATIO * part.feeding.emf_v.max(axis=0)
        solved &= part.upright(law, found) == part.upright(law.with_power(np.zeros(active.size)), found)
        unknowns[active[solved]] = found[solved]
        reached[active[solved]] = target[solved]
        rise[active[~solved]] /= 4.0
    return unknowns, reached >= 1.0
