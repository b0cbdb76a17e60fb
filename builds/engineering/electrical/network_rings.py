"""
Rings of a distribution: what flows around each, found by compensation.

A tree reaches every node; each branch that is not in it closes one ring. The tree alone, with every load's current drawn
through it, leaves a voltage around each ring. The current that flows around the ring is the one that takes this voltage
away, so it is linear in the tree's currents: one small matrix, inverted once for a drawing, gives all of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Closer", "Floats", "Ints", "Rings"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Of links without resistance nobody can say how they share. In the sharing alone each counts as this much, so that those
# of one ring share equally; it is far below what any other figure could show.
_SHARING_OHM = 1e-15


@dataclass(frozen=True, slots=True)
class Closer:
    """A branch (or several side by side) that closes a ring; its current is counted from ``one`` to ``other``."""

    one: int
    other: int
    ohm: float
    shares: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """
    Which branches of the tree lie on which ring, and the map from the tree's currents to the rings'.

    ``rows`` are the nodes whose branch lies on some ring, ``sign`` (rows × rings) is +1 where the ring's current flows away
    from the root in it and -1 where it flows back, ``pull`` (rings × rows) gives the rings' currents.
    """

    closers: tuple[Closer, ...]
    rows: Ints
    sign: Floats
    pull: Floats

    @classmethod
    def of(cls, parent: Ints, ohm: Floats, closers: Sequence[Closer]) -> "Rings":
        """Return the rings that the closers make with a tree given by each node's parent and its branch's resistance."""
        ways = [_signs(parent, closer) for closer in closers]
        rows = sorted({node for way in ways for node in way})
        row_of = {node: row for row, node in enumerate(rows)}
        sign = np.zeros((len(rows), len(closers)))
        for ring, way in enumerate(ways):
            for node, direction in way.items():
                sign[row_of[node], ring] = direction
        at = np.array(rows, dtype=np.int64)
        return cls(tuple(closers), at, sign, _pull(sign, ohm[at], np.array([closer.ohm for closer in closers])))

    def renumbered(self, new: Ints) -> "Rings":
        """Return the same rings with node ``i`` called ``new[i]``."""
        closers = tuple(Closer(int(new[c.one]), int(new[c.other]), c.ohm, c.shares) for c in self.closers)
        return Rings(closers, new[self.rows], self.sign, self.pull)

    def compensate(self, down: Floats) -> Floats:
        """Add the rings' currents to those of the tree's branches, in place; return the rings', rings × conditions."""
        around: Floats = self.pull @ down[self.rows]
        if len(self.closers):
            down[self.rows] += self.sign @ around
        return around


def _signs(parent: Ints, closer: Closer) -> dict[int, float]:
    """Branches (by their lower node) between a closer's two ends, each with the direction the ring's current has there."""
    one, other = _way(parent, closer.one), _way(parent, closer.other)
    shared = set(one) & set(other)
    signs = {node: 1.0 for node in one if node not in shared}
    signs.update({node: -1.0 for node in other if node not in shared})
    return signs


def _way(parent: Ints, node: int) -> list[int]:
    steps = []
    while parent[node] >= 0:
        steps.append(node)
        node = int(parent[node])
    return steps


def _pull(sign: Floats, ohm: Floats, closer_ohm: Floats) -> Floats:
    """
    The rings' currents per ampere in the tree's branches.

    Around each ring ``Σ sign R (i + sign y) + r y = 0``, so ``y = -(signᵀ R sign + r)⁻¹ signᵀ R i``.
    """
    weighted = np.maximum(ohm, _SHARING_OHM)[:, None] * sign
    around = sign.T @ weighted + np.diag(np.maximum(closer_ohm, _SHARING_OHM))
    # Rings of microhms and rings of ohms in one matrix: brought to a like size before it is inverted.
    size = 1 / np.sqrt(np.diagonal(around))
    inverse = size[:, None] * np.linalg.inv(size[:, None] * around * size) * size
    return np.asarray(-inverse @ weighted.T)
