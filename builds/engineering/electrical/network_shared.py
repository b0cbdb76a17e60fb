"""
What points lose by each other's currents, pair of nodes by pair: the sweep up and down the core as one matrix.

Hundreds of loads hang on a few dozen pairs of nodes (a panel, a stud), and for so few the matrix is quicker than the levels
of the trees. Where there are many pairs the sweep itself is taken.
"""

from dataclasses import dataclass

import numpy as np

from builds.engineering.electrical.network_grid import Grid
from builds.engineering.electrical.network_rings import Floats, Ints
from builds.engineering.electrical.network_sources import Feeding

__all__ = ["MOST_PAIRS", "Left", "Shared", "Swept", "shared_or_swept"]

MOST_PAIRS = 256


@dataclass(frozen=True, slots=True, eq=False)
class Left:
    """
    What currents leave: the voltage of each point before its own way and of each source's posts, the sources' currents and
    the trees' voltages, each × conditions.
    """

    open_v: Floats
    posts_v: Floats
    source_a: Floats
    tree_v: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """What is left, by sweeping the core."""

    core: Grid

    def left(self, feeding: Feeding, inverse: Floats, point_a: Floats) -> Left:
        """Return what is left where the points take ``point_a``, points × conditions."""
        core, trees = self.core, self.core.trees
        drawn, drop_v, _ = trees.sweep(core.drawn(point_a))
        found = feeding.found(inverse, core.across_posts(drop_v), drawn[: trees.roots])
        source_a, tree_v = found[: len(feeding.held)], found[len(feeding.held) :]
        node_v = tree_v[trees.tree_of] - drop_v + core.lift @ source_a
        return Left(core.across_points(node_v), core.across_posts(node_v), source_a, tree_v)


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """
    What is left, by one matrix.

    ``lost`` has a column for each pair of nodes that points stand between, for an ampere taken there: what every pair loses,
    what every source's posts lose, and what every tree draws. ``given`` is what pairs and posts get from source currents and
    tree voltages. ``order`` lists the points pair by pair, ``starts`` where each pair's begin, ``like`` each point's pair.
    """

    lost: Floats
    given: Floats
    order: Ints
    starts: Ints
    like: Ints

    @classmethod
    def of(cls, core: Grid) -> "Shared":
        """Return the matrices of a core."""
        first, like = core.pairs
        order = np.argsort(like, kind="stable")
        point_a = np.zeros((len(like), len(first)))
        point_a[first, np.arange(len(first))] = 1.0
        drawn, drop_v, _ = core.trees.sweep(core.drawn(point_a))
        trees = np.zeros((core.trees.size, core.trees.roots))
        trees[np.arange(core.trees.size), core.trees.tree_of] = 1.0
        lifted = np.concatenate([core.lift, trees], axis=1)
        return cls(
            lost=np.concatenate(
                [core.across_points(drop_v)[first], core.across_posts(drop_v), drawn[: core.trees.roots]]
            ),
            given=np.concatenate([core.across_points(lifted)[first], core.across_posts(lifted)]),
            order=order,
            starts=np.searchsorted(like[order], np.arange(len(first))),
            like=like,
        )

    def left(self, feeding: Feeding, inverse: Floats, point_a: Floats) -> Left:
        """Return what is left where the points take ``point_a``, points × conditions."""
        pairs, sources = len(self.starts), len(feeding.held)
        lost = self.lost @ np.add.reduceat(point_a[self.order], self.starts, axis=0)
        found = feeding.found(inverse, lost[pairs : pairs + sources], lost[pairs + sources :])
        left_v = self.given @ found
        left_v -= lost[: pairs + sources]
        return Left(left_v[self.like], left_v[pairs:], found[:sources], found[sources:])


def shared_or_swept(core: Grid) -> Shared | Swept:
    """Return what finds that soonest."""
    return Shared.of(core) if 0 < len(core.pairs[0]) <= MOST_PAIRS else Swept(core)
