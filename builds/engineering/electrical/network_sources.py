"""
Sources with limits: which of them hold their voltage, which give or take all they can.

A source is free while its current lies between the most it takes and the most it gives; then its voltage is its open voltage
less what its own resistance loses. At either end it is *held*: its current is that end's and its voltage is what the rest
makes it, lower where it gives its most, higher where it takes its most. Batteries, alternators and chargers differ only in
those figures, and "the alternator gives its limit and the battery the rest" is nothing but one source held and one free.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from builds.engineering.electrical.network_grid import Grid
from builds.engineering.electrical.network_laws import Bools, Columns
from builds.engineering.electrical.network_rings import Floats, Ints
from builds.engineering.errors import NetworkError

__all__ = ["FREE", "GIVES_ALL", "TAKES_ALL", "Feeding", "Posts"]

FREE, GIVES_ALL, TAKES_ALL = 0, 1, -1
# A source past its end, or a held one that could be free, by less than this many amperes or volts is left as it is.
_SAME = 1e-9


@dataclass(frozen=True, eq=False)
class Posts:
    """How the sources join the trees of a grid."""

    grid: Grid

    @cached_property
    def ends(self) -> tuple[Ints, Ints]:
        """The tree of each source's positive and negative post."""
        tree_of = self.grid.trees.tree_of
        return np.asarray(tree_of[self.grid.positive_at]), np.asarray(tree_of[self.grid.negative_at])

    @cached_property
    def incidence(self) -> Floats:
        """+1 where a source's positive post is in a tree, -1 where its negative one is, trees × sources."""
        sources = np.arange(len(self.grid.positive_at))
        joined = np.zeros((self.grid.trees.roots, len(sources)))
        joined[self.ends[0], sources] += 1.0
        joined[self.ends[1], sources] -= 1.0
        return joined

    def joined(self, by: Bools) -> Ints:
        """Return a number for each tree that those share which the sources in ``by`` (sources × conditions) join."""
        label = np.repeat(np.arange(self.grid.trees.roots)[:, None], by.shape[1], axis=1)
        for joins, one, other in zip(by, *self.ends, strict=True):
            _merge(label, one, other, joins)
        return label

    @cached_property
    def islands(self) -> Ints:
        """A number for each tree that those share which any sources join."""
        return np.asarray(self.joined(np.ones((len(self.ends[0]), 1), dtype=np.bool_))[:, 0])

    @cached_property
    def ground(self) -> Bools:
        """Which trees voltages are counted from: of all that sources join, that of the first one's negative post."""
        ground = np.zeros(len(self.islands), dtype=np.bool_)
        _, first = np.unique(self.islands[self.ends[1]], return_index=True)
        ground[self.ends[1][first]] = True
        return ground


def _merge(label: Ints, one: int, other: int, where: Bools) -> Bools:
    """Give two trees and all that share their numbers the lower number, in the conditions of ``where``, in place."""
    low, high = np.minimum(label[one], label[other]), np.maximum(label[one], label[other])
    joins: Bools = where & (low < high)
    np.copyto(label, low, where=(label == high) & joins)
    return joins


@dataclass(slots=True, eq=False)
class Feeding:
    """
    The sources in the conditions being solved, sources × conditions each; ``held`` changes on the way.

    ``fed_by`` (trees × conditions) is a number that trees share which sources with something to give join: a load between two
    trees of different numbers gets nothing.
    """

    posts: Posts
    emf_v: Floats
    ohm: Floats
    most_a: Floats
    least_a: Floats
    held: NDArray[np.int8]
    fed_by: Ints

    @classmethod
    def of(cls, posts: Posts, emf_v: Floats, ohm: Floats, most_a: Floats, least_a: Floats) -> "Feeding":
        """Return the sources, all of them free but for those that can give nothing."""
        gives = most_a > 0.0
        if gives.all():
            fed_by = np.repeat(posts.islands[:, None], emf_v.shape[1], axis=1)
            free = np.zeros(emf_v.shape, dtype=np.int8)
            return cls(posts, emf_v.copy(), ohm.copy(), most_a.copy(), least_a.copy(), free, fed_by)
        fed_by = posts.joined(gives)
        # What joins trees that nothing else joins still says where they stand: at no voltage, and nothing flows.
        pins, label = np.zeros_like(gives), fed_by.copy()
        for source, (one, other) in enumerate(zip(*posts.ends, strict=True)):
            pins[source] = _merge(label, one, other, ~gives[source])
        return cls(
            posts,
            np.where(pins, 0.0, emf_v),
            np.where(pins, 1.0, ohm),
            np.where(pins, np.inf, most_a),
            np.where(pins, -np.inf, least_a),
            np.where(gives | pins, FREE, GIVES_ALL).astype(np.int8),
            fed_by,
        )

    def columns(self, at: Columns) -> "Feeding":
        """Return the sources in some conditions."""
        volts, ends = (self.emf_v[:, at], self.ohm[:, at]), (self.most_a[:, at], self.least_a[:, at])
        return Feeding(self.posts, *volts, *ends, self.held[:, at], self.fed_by[:, at])

    def put(self, at: Columns, part: "Feeding") -> None:
        """Take over what became of some conditions."""
        for name in ("emf_v", "ohm", "most_a", "least_a", "held", "fed_by"):
            getattr(self, name)[:, at] = getattr(part, name)

    @property
    def is_held(self) -> Bools:
        """Which sources are at one of their ends."""
        return np.asarray(self.held != FREE)

    @property
    def held_a(self) -> Floats:
        """What each source gives that is held; 0 for the others."""
        at_most = np.where(self.held == GIVES_ALL, self.most_a, 0.0)
        return np.where(self.held == TAKES_ALL, self.least_a, at_most)

    def loose(self) -> Bools:
        """Return in which conditions some tree's voltage is set by no free source."""
        if not self.is_held.any():
            return np.zeros(self.held.shape[1], dtype=np.bool_)
        return np.asarray((self.posts.joined(~self.is_held) != self.posts.islands[:, None]).any(axis=0))

    def system(self) -> Floats:
        """
        Return the equations of source currents and tree voltages, conditions × (sources + trees) squared.

        A free source: ``v_positive - v_negative + ohm i = emf``. A held one: ``i = held``. A tree: what its loads draw is
        what its sources give it; a ground stands at 0.
        """
        posts, held = self.posts, self.is_held.T
        sources, trees = self.held.shape[0], len(posts.ground)
        rows = np.zeros((held.shape[0], sources + trees, sources + trees))
        own = np.arange(sources)
        rows[:, :sources, :sources] = posts.grid.between
        rows[:, own, own] += self.ohm.T
        rows[:, :sources, sources:] = posts.incidence.T
        rows[:, sources:, :sources] = posts.incidence
        rows[:, :sources][held] = 0.0
        condition, source = np.nonzero(held)
        rows[condition, source, source] = 1.0
        grounds = sources + np.flatnonzero(posts.ground)
        rows[:, grounds] = 0.0
        rows[:, grounds, grounds] = 1.0
        return rows

    def inverse(self) -> Floats:
        """
        Return the inverse of the equations.

        Raises
        ------
        NetworkError
            If two sources without resistance hold one place at two voltages.
        """
        try:
            return np.asarray(np.linalg.inv(self.system()))
        except np.linalg.LinAlgError as error:
            raise NetworkError("Sources without resistance of their own stand side by side.", ()) from error

    def found(self, inverse: Floats, posts_drop_v: Floats, drawn_a: Floats) -> Floats:
        """
        Return the sources' currents and, below them, the trees' voltages, each × conditions.

        ``posts_drop_v`` is what the loads' currents take from between each source's posts, ``drawn_a`` what they draw from
        each tree in all.
        """
        asked, held = self.emf_v + posts_drop_v, self.is_held
        if held.any():
            asked = np.where(held, self.held_a, asked)
        drawn = np.where(self.posts.ground[:, None], 0.0, drawn_a)
        found: Floats = np.matmul(inverse, np.concatenate([asked, drawn]).T[:, :, None])[:, :, 0].T
        return found

    def switch(self, source_a: Floats, posts_v: Floats, solved: Bools) -> Bools:
        """
        Hold a source that is past its end, or free a held one that would not be, in each solved condition.

        The first source that is wrong is the one changed, which comes to an end where all that sources feed are resistances
        (least-index pivoting of a linear complementarity problem). Returns in which conditions one was changed.
        """
        held = self.held
        ends = [
            self.emf_v - self.ohm * np.where(np.isfinite(end_a), end_a, 0.0) for end_a in (self.most_a, self.least_a)
        ]
        can_move = self.most_a > self.least_a
        becomes = held.copy()
        becomes[(held == FREE) & (source_a > self.most_a + _SAME)] = GIVES_ALL
        becomes[(held == FREE) & (source_a < self.least_a - _SAME)] = TAKES_ALL
        becomes[(held == GIVES_ALL) & (posts_v > ends[0] + _SAME) & can_move] = FREE
        becomes[(held == TAKES_ALL) & (posts_v < ends[1] - _SAME) & can_move] = FREE
        wrong = (becomes != self.held) & solved
        columns = np.flatnonzero(wrong.any(axis=0))
        first = wrong[:, columns].argmax(axis=0)
        self.held[first, columns] = becomes[first, columns]
        changed = np.zeros(wrong.shape[1], dtype=np.bool_)
        changed[columns] = True
        return changed

    def restrain(self, column: int) -> bool:
        """Free, of the sources held giving, the one of the lowest open voltage; False if there is none."""
        giving = np.flatnonzero((self.held[:, column] == GIVES_ALL) & (self.most_a > self.least_a)[:, column])
        if not giving.size:
            return False
        self.held[giving[self.emf_v[giving, column].argmin()], column] = FREE
        return True

    def release(self, column: int) -> bool:
        """Free, of the sources held taking, the one of the highest open voltage; False if there is none."""
        taking = np.flatnonzero(self.held[:, column] == TAKES_ALL)
        if not taking.size:
            return False
        self.held[taking[self.emf_v[taking, column].argmax()], column] = FREE
        return True
