"""How batteries stand together in a condition, and what charges them there."""

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.isolators import lost_on_way_v
from builds.engineering.assessing.settings import set_volts
from builds.engineering.assessing.sharing import joined_roots
from builds.engineering.assessing.source_outputs import available_output
from builds.engineering.assessing.states import Network, State
from builds.engineering.design import OperatingCondition
from builds.engineering.electrical.energy.posts import Supply, Transfer
from builds.engineering.electrical.energy.stages import Post

__all__ = ["diode_v", "held_v_of", "link_ohm", "link_rows", "posts_of"]


def posts_of(index: IndexedDesign, network: Network, state: State, condition: OperatingCondition) -> tuple[Post, ...]:
    """Return the posts of all batteries, each battery at one; sources stand at the lowest voltage they are set to."""
    groups = _groups(index, state)
    return tuple(
        Post(
            banks=tuple(group),
            supplies=_supplies(index, state, condition, group, groups),
            link_ohm=tuple(link_ohm(index, network, state, bank) for bank in group),
            forward_v=tuple(diode_v(index, state, bank) for bank in group) if index.diodes_v else (),
        )
        for group in groups
    )


def held_v_of(posts: tuple[Post, ...], count: int) -> tuple[float, ...]:
    """Return for each battery the voltage it is held at while its sources can, 0 where it has none."""
    held = [0.0] * count
    for post in posts:
        for bank in post.banks:
            held[bank] = post.supplies[0].held_v if post.supplies else 0.0
    return tuple(held)


def _groups(index: IndexedDesign, state: State) -> list[list[int]]:
    """Batteries by what they stand beside: the one that feeds them comes first."""
    tree, keys = state.feeding.supply_tree, [node.key for node in index.batteries()]
    first = {key: roots[0] for roots in joined_roots(tree) for key in roots}
    groups: dict[str, list[int]] = {}
    for place, key in enumerate(keys):
        root = tree.root_of.get(key, key)
        groups.setdefault(first.get(root, root), []).append(place)
    return [sorted(group, key=lambda place, root=root: keys[place] != root) for root, group in groups.items()]  # type: ignore[misc]


def _supplies(
    index: IndexedDesign, state: State, condition: OperatingCondition, group: list[int], groups: list[list[int]]
) -> tuple[Supply, ...]:
    keys = [node.key for node in index.batteries()]
    found = []
    for bank in group:
        for source in state.feeding.chargers.get(keys[bank], ()):
            node = index.nodes[source]
            if node.converter is not None:
                behind = _post_behind(index, state, source, groups)
                if behind is not None:
                    transfer = Transfer(behind, node.converter.efficiency_ratio, node.converter.idle_w)
                    found.append(Supply(node.converter.output_v, node.converter.limit_a, transfer))
            elif (output := available_output(condition, node)) is not None:
                found.append(Supply(set_volts(condition, node)[0], output.available_a))
    return tuple(sorted(found, key=lambda supply: -supply.held_v))


def _post_behind(index: IndexedDesign, state: State, converter: str, groups: list[list[int]]) -> int | None:
    """The post that a converter takes from: that of the battery which feeds its input."""
    conversion = next(item for item in state.feeding.conversions if item.key == converter)
    feeds = state.feeding.battery[:, conversion.row]
    if not feeds.any():
        return None
    return next(at for at, group in enumerate(groups) if int(feeds.argmax()) in group)


def diode_v(index: IndexedDesign, state: State, bank: int) -> float:
    """Return what diodes between a battery and the one it hangs on take [V]."""
    return lost_on_way_v(index.diodes_v, state.feeding.supply_tree.nodes_to(index.batteries()[bank].key))


def link_ohm(index: IndexedDesign, network: Network, state: State, bank: int) -> float:
    """Return what lies between a battery and the one it hangs on, out and back; nothing for that one itself."""
    element_ohm = state.resistances.element_ohm
    return min(float(sum(element_ohm[row] for row in link_rows(index, network, state, bank))), 10.0)


def link_rows(index: IndexedDesign, network: Network, state: State, bank: int) -> set[int]:
    """Return the elements (rows) between a battery and the one it hangs on, out and back."""
    key, node_row = index.batteries()[bank].key, network.elements.node_row
    passed: set[int] = set()
    for tree in (state.feeding.supply_tree, state.feeding.return_tree):
        passed |= {element for element, _ in tree.elements_to(key)}
        passed |= {node_row[node] for node in tree.nodes_to(key)[1:-1] if node in node_row}
    return passed
