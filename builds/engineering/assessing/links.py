"""
The two graphs of the power tree as links: what a tree walked and what closes its rings, each with the elements in it.

A node's own resistance lies in the link that a walk from the battery enters it by, so it is passed on the way in and shared
by everything behind it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.assessing.trees import Elements, Tree

__all__ = ["Link", "links_of"]


@dataclass(frozen=True, slots=True)
class Link:
    """Two nodes joined, the one nearer to the battery first, and the rows of the elements between them, which may be none."""

    one: str
    other: str
    rows: tuple[int, ...]


def links_of(tree: Tree, elements: Elements, *, without_own: frozenset[str] = frozenset()) -> Iterator[Link]:
    """
    Yield the links of a side of the power tree.

    Parameters
    ----------
    tree : Tree
        What was walked, with its closers.
    elements : Elements
        Rows of runs and nodes.
    without_own : set of str
        Nodes whose own resistance is not in the way on this side: a battery's, which belongs to its source.
    """
    for node, parent in tree.parent_of.items():
        rows = _passed(tree, elements, tree.step_to[node].element)
        own = elements.node_row.get(node)
        if own is not None and own not in rows and node not in without_own and tree.step_to[node].element != own:
            rows = (*rows, own)
        yield Link(parent, node, rows)
    for closer in tree.closers:
        if closer.from_node != closer.way.to_node:
            yield Link(closer.from_node, closer.way.to_node, _passed(tree, elements, closer.way.element))


def _passed(tree: Tree, elements: Elements, element: int) -> tuple[int, ...]:
    """The element, unless it is the joint of a stud that was reached otherwise and has it in its own link already."""
    stud = elements.names[element]
    if element == elements.node_row.get(stud) and stud in tree.step_to and tree.step_to[stud].element != element:
        return ()
    return (element,)
