"""What the buyer asks: rules of the catalogue with their values, and limits on voltage lost."""

from dataclasses import dataclass

from builds.engineering.ranges import MAX_SYSTEM_V, check_key, check_within
from builds.engineering.vocabulary import DropCurrent

__all__ = ["Buyer", "BuyerRule", "DropRule"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyerRule:
    """One rule this buyer asks for: a key of the rule catalogue with its value and where it comes from."""

    key: str
    value: float | str
    source: str

    def __post_init__(self) -> None:
        check_key("key", self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class DropRule:
    """
    A limit on voltage lost from the battery post to a load and back, or between two places on that way.

    ``limit_ratio`` is of ``base_v``, or, where it ``follows_bus``, of the nominal voltage of the panel that feeds the load;
    ``drop_class`` names the loads it holds for ("*" for every load without a rule of its own). ``from_node`` and ``to_node``
    name a node or a kind of node between which the loss is counted: the battery's post and the load where they are empty.
    What lies on the way home from a ground belongs to the stretch that begins at the battery. ``conditions`` names the
    operating conditions or source states in which it holds: all, where there are none. A rule with any of the three holds
    beside the others, and its "*" means every load.
    """

    key: str
    drop_class: str
    limit_ratio: float
    base_v: float
    current: DropCurrent
    conductor_temp_c: float
    source: str
    from_node: str = ""
    to_node: str = ""
    conditions: tuple[str, ...] = ()
    follows_bus: bool = False

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("limit_ratio", self.limit_ratio, 0.0001, 1.0)
        check_within("base_v", self.base_v, 1.0, MAX_SYSTEM_V)
        check_within("conductor_temp_c", self.conductor_temp_c, -40.0, 150.0)

    @property
    def holds_beside(self) -> bool:
        """Whether it is held beside the rule of a load's class, of a part of the way or in some conditions only."""
        return bool(self.from_node or self.to_node or self.conditions)


@dataclass(frozen=True, slots=True, kw_only=True)
class Buyer:
    """A customer's rules under the name of their profile."""

    customer: str
    profile: str
    rules: tuple[BuyerRule, ...] = ()
    drop_rules: tuple[DropRule, ...] = ()
