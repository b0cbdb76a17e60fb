"""
The two graphs of the power tree as links: what a tree walked and what closes its rings, each with the elements in it.

A node's own resistance lies in the link that a walk from the battery enters it by, so it is passed on the way in and shared
by everything behind it. A node on a ring is come to by more ways than one: it has an inner end, where those land, and an outer
one, where what it feeds is connected, with its own resistance between the two. On the way out a run that closes a ring lands on
the inner end of the node that it is drawn to.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.assessing.trees import Closer, Elements, Tree, Way

__all__ = ["Link", "links_of", "node_of"]


_INNER = "<"  # the end of a node that its feeds land on; no key of a design begins like this


@dataclass(frozen=True, slots=True)
class Link:
    """Two nodes joined, the one nearer to the battery first, and the rows of the elements between them, which may be none."""

    one: str
    other: str
    rows: tuple[int, ...]


def links_of(
    tree: Tree, elements: Elements, *, without_own: frozenset[str] = frozenset(), home: bool = False
) -> Iterator[Link]:
    """
    Yield the links of a side of the power tree.

    Parameters
    ----------
    tree : Tree
        What was walked, with its closers.
    elements : Elements
        Rows of runs and nodes.
    without_own : set of str
        Nodes whose own resistance is not in the way: a battery's, where it belongs to its source.
    home : bool
        Whether this is the way home, on which the directions that runs are drawn in count for nothing.
    """
    rings = _rings_of(tree, elements, without_own, home=home) if tree.closers else None
    for node, parent in tree.parent_of.items():
        step, own = tree.step_to[node], elements.node_row.get(node)
        rows = _passed(tree, elements, step.element)
        if own is None or not _has_own(tree, elements, node, without_own):
            own = None
        if rings is None:
            yield Link(parent, node, rows if own is None else (*rows, own))
            continue
        two_ended = own is not None and node in rings.two_ended
        yield Link(*rings.step_ends(parent, node, step), rows if own is None or two_ended else (*rows, own))
        if two_ended and own is not None:
            yield Link(_INNER + node, node, (own,))
    for closer in tree.closers:
        if closer.from_node != closer.way.to_node and rings is not None:
            yield Link(*rings.closer_ends(closer), _passed(tree, elements, closer.way.element))


def node_of(end: str) -> str:
    """Return the node that an end of a link belongs to."""
    return end.removeprefix(_INNER)


@dataclass(frozen=True, slots=True)
class _Rings:
    """
    What lies on rings: nodes whose own step is part of one, and those with two ends.

    ``landed`` are the nodes that something else than their own step lands on; ``as_walked`` where runs' directions count for
    nothing, as on the way home.
    """

    on_ring: frozenset[str]
    landed: frozenset[str]
    two_ended: frozenset[str]
    roots: frozenset[str]
    as_walked: bool

    def inner(self, node: str) -> str:
        return _INNER + node if node in self.two_ended else node

    def step_ends(self, parent: str, node: str, step: Way) -> tuple[str, str]:
        """The ends of a walked step; a run on a ring that is drawn against it lands where it is drawn to."""
        if self.as_walked or step.sign > 0 or node not in self.on_ring:
            return parent, self.inner(node)
        return self.inner(parent), node if node in self.landed else self.inner(node)

    def lands_on(self, closer: Closer) -> str:
        """The node that a step which closes a ring lands on: the one its run is drawn to, never what feeds the walk."""
        drawn_back = closer.way.sign < 0 and not self.as_walked and closer.from_node not in self.roots
        return closer.from_node if drawn_back else closer.way.to_node

    def closer_ends(self, closer: Closer) -> tuple[str, str]:
        """The ends of a step that closes a ring."""
        start, end = closer.from_node, closer.way.to_node
        return (start, self.inner(end)) if self.lands_on(closer) == end else (self.inner(start), end)


def _rings_of(tree: Tree, elements: Elements, without_own: frozenset[str], *, home: bool) -> _Rings:
    on_ring: set[str] = set()
    for closer in tree.closers:
        one, other = (tree.nodes_to(end) for end in (closer.from_node, closer.way.to_node))
        on_ring |= {node for node in set(one) ^ set(other) if node in tree.parent_of}
    roots, none = frozenset(tree.root_of.values()), frozenset[str]()
    walked = _Rings(frozenset(on_ring), none, none, roots, as_walked=home)
    landed = {walked.lands_on(closer) for closer in tree.closers}
    if not home:
        landed |= {tree.parent_of[node] for node in on_ring if tree.step_to[node].sign < 0}
    two_ended = {node for node in landed if node in tree.parent_of and _has_own(tree, elements, node, without_own)}
    return _Rings(frozenset(on_ring), frozenset(landed), frozenset(two_ended), roots, as_walked=home)


def _has_own(tree: Tree, elements: Elements, node: str, without_own: frozenset[str]) -> bool:
    """Whether a node's own resistance is in its links: not where the step to it is its joint already, or it is a source's."""
    own = elements.node_row.get(node)
    return own is not None and node not in without_own and tree.step_to[node].element != own


def _passed(tree: Tree, elements: Elements, element: int) -> tuple[int, ...]:
    """The element, unless it is the joint of a stud that was reached otherwise and has it in its own link already."""
    stud = elements.names[element]
    if element == elements.node_row.get(stud) and stud in tree.step_to and tree.step_to[stud].element != element:
        return ()
    return (element,)
