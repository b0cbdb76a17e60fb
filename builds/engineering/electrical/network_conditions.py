"""
Conditions on their way to being solved: sweeps, sources past their limits, converters, loads below their least voltage.

Each sweep adds up the currents, subtracts the drops, and lets every point answer with what it takes at the voltage it is
left with. A point's own way is solved exactly within the sweep (a quadratic, whose *upper* root is taken), rings and sources
are linear and solved exactly too, so only what loads share has to settle: a feeder that loses 4 % gains more than a digit a
sweep. A condition that has not settled after twelve sweeps is near collapse, past it, or has no like in a vehicle; it goes to
:mod:`~builds.engineering.electrical.network_collapse`, which decides. Then sources past their limits are switched,
converters told what they ask for, and loads below their least voltage switched off, until nothing changes.
"""

from dataclasses import dataclass

import numpy as np

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_collapse import LEAST_V, fall
from builds.engineering.electrical.network_laws import Bools, Columns, Laws
from builds.engineering.electrical.network_rings import Floats, Ints
from builds.engineering.electrical.network_sources import Feeding

__all__ = ["RESIDUAL_A", "Conditions", "Found", "Given"]

# A load's current agrees with what it takes at its solved voltage to this.
RESIDUAL_A = 1e-9
_MOST_SWEEPS = 24
# Amperes by which two sweeps must differ for their way to be told.
_TELLING_A, _TINY = 1e-7, 1e-300
# Below this part of the source's voltage a sweep's guess is held, so that a constant power stays finite on the way.
_LOWEST_GUESS_RATIO = 0.02
# What a converter asks for agrees with what it gives to this.
_SAME_W = 1e-9
# So many changes of sources, converters and loads, and none that changes nothing: there is no operating point.
_MOST_CHANGES = 60
# So many more for each load that goes off, each once: sources are free again then, and must find their ends anew.
_MORE_CHANGES = 3


@dataclass(frozen=True, slots=True, eq=False)
class Given:
    """What conditions are solved with, sources or loads × conditions; converters are the last rows of each."""

    emf_v: Floats
    ohm: Floats
    most_a: Floats
    least_a: Floats
    scale: Floats

    def repeated(self, condition: int, times: int) -> "Given":
        """Return one condition several times over."""
        arrays = (self.emf_v, self.ohm, self.most_a, self.least_a, self.scale)
        return Given(*(np.repeat(array[:, [condition]], times, axis=1) for array in arrays))


class Ahead:
    """
    Looks ahead along the way that sweeps take: each condition's next guess from its last two (Anderson mixing of depth one).

    Whatever loads share makes them fall together, so what is missed shrinks by nearly the same part each sweep and its end can
    be told from two of them. A part above one means the sweeps run away from what they are being led to: that is the lower
    of two solutions, and not for a sweep to decide.
    """

    def __init__(self, conditions: int) -> None:
        """Begin with nothing to look back on."""
        self.runs_away = np.zeros(conditions, dtype=np.bool_)
        self._last: tuple[Floats, Floats] | None = None

    def of(self, point_a: Floats, missed_a: Floats) -> Floats:
        """Return the next guess from what a sweep gave and by how much that differs from what it was given."""
        last, self._last = self._last, (point_a, missed_a)
        if last is None:
            return point_a
        change_a = missed_a - last[1]
        squares = np.einsum("pc,pc->c", change_a, change_a)
        part = np.einsum("pc,pc->c", missed_a, change_a) / np.maximum(squares, _TINY)
        # Below this it is rounding that is looked at.
        tells = squares > _TELLING_A**2
        self.runs_away = np.where(tells, part > 1.0, self.runs_away)
        beyond_a = point_a - last[0]
        beyond_a *= part
        return np.subtract(point_a, beyond_a, out=beyond_a)


@dataclass(slots=True, eq=False)
class Found:
    """What a solution of some conditions found: sources or trees or points × conditions."""

    source_a: Floats
    tree_v: Floats
    posts_v: Floats
    point_a: Floats
    point_v: Floats
    settled: Bools

    def put(self, at: Columns, part: "Found") -> None:
        """Take over what became of some conditions."""
        for name in self.__slots__:
            getattr(self, name)[..., at] = getattr(part, name)


class Conditions:
    """
    All conditions of a network: what is given, and what is known so far.

    ``scale`` is what is left of the loads given: 0 where one is cut out or unfed, a converter's watts where it is one.
    """

    def __init__(self, network: Network, given: Given) -> None:
        """Begin with every source free and every load on that something feeds."""
        self.network, self.given = network, given
        count = given.scale.shape[1]
        self.scale = given.scale.copy()
        self.feeding = Feeding.of(network.posts, given.emf_v, given.ohm, given.most_a, given.least_a)
        self.cut_out = np.zeros(given.scale.shape, dtype=np.bool_)
        self.unfed = self.cut_out.copy()
        self.sweeps = 0
        self.met: dict[int, set[bytes]] = {}
        self.limited = bool(np.isfinite(given.most_a).any() or np.isfinite(given.least_a).any())
        sources, trees, points = (
            np.zeros((rows, count)) for rows in (len(network.sources), network.core.trees.roots, network.points)
        )
        none = np.zeros(count, dtype=np.bool_)
        self.found = Found(sources, trees, sources.copy(), points, points.copy(), none)
        self._leave_unfed(np.arange(count))

    def run(self, *, fixed: bool = False) -> "Conditions":
        """Solve until nothing changes any more; ``fixed`` loads are neither cut out nor, as converters, told what to ask."""
        waiting, left = np.arange(self.scale.shape[1]), _MOST_CHANGES
        while waiting.size and left:
            left -= 1
            self._solve(waiting)
            again = self._switch(waiting)
            if not fixed:
                again |= self._convert(waiting, ~again)
                off = self._cut(waiting, ~again)
                again |= off
                left += _MORE_CHANGES * bool(off.any())
            waiting = waiting[again]
        self.found.settled[waiting] = False
        return self

    def _leave_unfed(self, at: Ints) -> None:
        """Take out the loads that stand between trees which no source with something to give joins."""
        if (self.feeding.fed_by == self.network.posts.islands[:, None]).all():
            return
        supply, back = self.network.load_trees
        self.unfed[:, at] = self.feeding.fed_by[supply][:, at] != self.feeding.fed_by[back][:, at]
        self.scale[:, at] = np.where(self.unfed[:, at], 0.0, self.scale[:, at])

    def _solve(self, at: Ints) -> None:
        """Solve conditions as their sources and loads stand: by sweeps, and by Newton's method where those do not settle."""
        everything = slice(None) if at.size == self.scale.shape[1] else at
        laws, feeding = self.network.laws(self.scale[:, everything]), self.feeding.columns(everything)
        rest = np.arange(at.size)
        if not (loose := feeding.loose()).all():
            firm = np.flatnonzero(~loose) if loose.any() else slice(None)
            start_a = self.found.point_a[:, everything][:, firm]
            part = self._swept(laws.columns(firm), feeding.columns(firm), start_a)
            self.found.put(everything if isinstance(firm, slice) else at[firm], part)
            rest = np.flatnonzero(~self.found.settled[at] | loose)
        if rest.size:
            self.found.put(at[rest], self._fallen(laws.columns(rest), feeding.columns(rest)))

    def _swept(self, laws: Laws, feeding: Feeding, point_a: Floats) -> Found:
        """Sweep from these currents until every condition has settled, or two dozen times."""
        shared, inverse = self.network.shared, feeding.inverse()
        lowest_v = _LOWEST_GUESS_RATIO * feeding.emf_v.max(axis=0, keepdims=True)
        ahead = Ahead(point_a.shape[1])
        settled, sweeps = np.zeros(point_a.shape[1], dtype=np.bool_), 0
        while sweeps < _MOST_SWEEPS and not settled.all():
            sweeps += 1
            taken = laws.taken(shared.left(feeding, inverse, point_a).open_v, lowest_v)
            missed_a = taken.amps - point_a
            settled = taken.sound & (np.abs(missed_a).max(axis=0, initial=0.0) <= RESIDUAL_A / 2)
            point_v, point_a = taken.volts, taken.amps
            if not settled.all():
                point_a = ahead.of(point_a, missed_a)
        self.sweeps = max(self.sweeps, sweeps)
        left = shared.left(feeding, inverse, point_a)
        return Found(left.source_a, left.tree_v, left.posts_v, point_a, point_v, settled & ~ahead.runs_away)

    def _fallen(self, laws: Laws, feeding: Feeding) -> Found:
        core = self.network.core
        fallen = fall(core, laws, feeding)
        node_v = np.where(fallen.found, fallen.node_v, 0.0)
        taken = laws.taken(core.across_points(node_v), np.full((1, len(fallen.found)), LEAST_V))
        found = fallen.found & taken.sound
        return Found(fallen.source_a, fallen.tree_v, core.across_posts(node_v), taken.amps, taken.volts, found)

    def _switch(self, at: Ints) -> Bools:
        """
        Hold or free a source where one is past its end; free one where none sets the voltage and it fell through.

        Where none sets the voltage, constant powers may settle far above every source or not at all. Freeing what gives all
        it can then leads back to the same place, and so may freeing what takes: whichever did is not done twice.
        """
        if not self.limited:
            return np.zeros(at.size, dtype=np.bool_)
        part, settled = self.feeding.columns(at), self.found.settled[at]
        again = {
            int(column): self._met_before(part, int(column), int(at[column])) for column in np.flatnonzero(part.loose())
        }
        turned = np.array([column for column, met in again.items() if met and settled[column]], dtype=np.int64)
        switched = settled.copy()
        switched[turned] = False
        changed = part.switch(self.found.source_a[:, at], self.found.posts_v[:, at], switched)
        for column in np.flatnonzero(part.loose() & ~switched).tolist():
            fell = settled[column] or not again.get(column)
            changed[column] = part.release(column) if fell else part.restrain(column)
        self.feeding.put(at, part)
        return changed

    def _met_before(self, feeding: Feeding, column: int, condition: int) -> bool:
        """Whether a condition's sources stood like this before; remembered from now on."""
        met, held = self.met.setdefault(condition, set()), feeding.held[:, column].tobytes()
        found = held in met
        met.add(held)
        return found

    def _convert(self, at: Ints, among: Bools) -> Bools:
        """Let each converter's input ask for what its output gives; return where one asks for something else than before."""
        changed = np.zeros(at.size, dtype=np.bool_)
        network, found = self.network, self.found
        among = among & found.settled[at]
        for place, part in enumerate(network.converters):
            source = len(network.sources) - len(network.converters) + place
            load = len(network.loads) - len(network.converters) + place
            given_w = np.maximum(found.source_a[source, at] * found.posts_v[source, at], 0.0)
            asks = np.where(
                self.cut_out[load, at] | self.unfed[load, at], 0.0, given_w / part.efficiency_ratio + part.idle_w
            )
            other = among & (np.abs(asks - self.scale[load, at]) > _SAME_W * (1.0 + asks))
            self.scale[load, at[other]] = asks[other]
            changed |= other
        return changed

    def _cut(self, at: Ints, among: Bools) -> Bools:
        """Switch off one load in each condition that needs it; return in which conditions something went off."""
        min_v = self.network.min_v
        if not min_v.any():
            return np.zeros(at.size, dtype=np.bool_)
        on = (self.scale[:, at] > 0) & (min_v > 0) & among
        short_v = np.where(on, min_v - self.found.point_v[:, at][self.network.point_of_load], -np.inf)
        for column in np.flatnonzero(~self.found.settled[at]):
            # Falling into collapse, the load with the highest cut-out goes off first.
            short_v[:, column] = np.where(on[:, column], min_v[:, 0], -np.inf)
        worst, columns = short_v.argmax(axis=0), np.arange(at.size)
        off: Bools = short_v[worst, columns] > RESIDUAL_A
        self.scale[worst[off], at[off]] = 0.0
        self.cut_out[worst[off], at[off]] = True
        self._switch_off_outputs(worst[off], at[off])
        self._free(at[off])
        return off

    def _free(self, at: Ints) -> None:
        """Let sources be free again: one held while a load was on would push its current into what is left."""
        held = at[self.feeding.columns(at).is_held.any(axis=0)] if self.limited else at[:0]
        for condition in at.tolist():
            self.met.pop(condition, None)
        if held.size:
            given = self.given
            arrays = (given.emf_v, given.ohm, given.most_a, given.least_a)
            self.feeding.put(held, Feeding.of(self.network.posts, *(array[:, held] for array in arrays)))

    def _switch_off_outputs(self, loads: Ints, at: Ints) -> None:
        """A converter that is cut out gives nothing, and what it alone fed gets nothing."""
        network, given = self.network, self.given
        first = len(network.loads) - len(network.converters)
        for load, condition in zip(loads[loads >= first], at[loads >= first], strict=True):
            source = len(network.sources) - len(network.converters) + load - first
            given.most_a[source, condition] = given.least_a[source, condition] = 0.0
            one = np.array([condition])
            arrays = (given.emf_v, given.ohm, given.most_a, given.least_a)
            self.feeding.put(one, Feeding.of(network.posts, *(array[:, one] for array in arrays)))
            self._leave_unfed(one)
