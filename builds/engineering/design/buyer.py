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
    A limit on voltage lost from the battery post to a load and back.

    ``limit_ratio`` is of ``base_v``; ``drop_class`` names the loads it holds for ("*" for every load without a rule of
    its own).
    """

    key: str
    drop_class: str
    limit_ratio: float
    base_v: float
    current: DropCurrent
    conductor_temp_c: float
    source: str

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("limit_ratio", self.limit_ratio, 0.0001, 1.0)
        check_within("base_v", self.base_v, 1.0, MAX_SYSTEM_V)
        check_within("conductor_temp_c", self.conductor_temp_c, -40.0, 150.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Buyer:
    """A customer's rules under the name of their profile."""

    customer: str
    profile: str
    rules: tuple[BuyerRule, ...] = ()
    drop_rules: tuple[DropRule, ...] = ()
