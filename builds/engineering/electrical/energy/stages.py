"""What is simulated: batteries, stretches of time with their sources, the steps of the shedding, and starting the engine."""

from dataclasses import dataclass
from typing import NamedTuple

from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.posts import Supply
from builds.engineering.errors import OutOfRange
from builds.engineering.ranges import check_at_least, check_count, check_key, check_within

__all__ = ["Crank", "CutOut", "Plan", "Post", "ShedRule", "Stage"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crank:
    """
    Starting the engine: what the starter takes, and the least voltage at which its system still works.

    ``cable_ohm`` is the way from the post to the starter and back.
    """

    bank: int
    current_a: float
    least_v: float
    cable_ohm: float = 0.0

    def __post_init__(self) -> None:
        check_count("bank", self.bank, least=0)
        check_within("current_a", self.current_a, 0.0, 5000.0)
        check_within("least_v", self.least_v, 0.1, 100.0)
        check_within("cable_ohm", self.cable_ohm, 0.0, 1.0)


class CutOut(NamedTuple):
    """Loads that are off below a voltage at their battery's post, and stay off until the stage is over."""

    key: str
    bank: int
    below_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Post:
    """
    Batteries that stand side by side, with what charges them there, the highest set first.

    The loads are at the first battery; ``link_ohm`` is what lies between it and each of them, 0 where nothing is given.
    ``forward_v`` is what diodes between take, 0 where there are none: a battery behind some is charged and gives nothing back.
    """

    banks: tuple[int, ...]
    supplies: tuple[Supply, ...] = ()
    link_ohm: tuple[float, ...] = ()
    forward_v: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        check_within("number of batteries", len(self.banks), 1, 100)
        for supply in self.supplies:
            check_within("held_v", supply.held_v, 0.1, 100.0)
            check_at_least("limit_a", supply.limit_a, 0.0)
        if self.link_ohm and len(self.link_ohm) != len(self.banks):
            raise OutOfRange("link_ohm", len(self.link_ohm), "one for each battery")
        if self.forward_v and len(self.forward_v) != len(self.banks):
            raise OutOfRange("forward_v", len(self.forward_v), "one for each battery")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """
    A stretch of time in which nothing changes but what voltage and timers switch.

    ``posts`` are the batteries that stand together or are charged; the others stand alone, behind them in order. ``cranks``
    tells that the engine is being started all through it, every battery alone and nothing charging. ``segment`` names the
    segment of the profile it belongs to.
    """

    segment: str
    duration_s: float
    posts: tuple[Post, ...] = ()
    cranks: bool = False
    cut_outs: tuple[CutOut, ...] = ()

    def __post_init__(self) -> None:
        check_key("segment", self.segment)
        check_within("duration_s", self.duration_s, 0.0, 1e8)
        if self.cranks and self.posts:
            raise OutOfRange("cranks", self.cranks, "only where every battery is alone and nothing charges")
        placed = [bank for post in self.posts for bank in post.banks]
        if len(set(placed)) != len(placed):
            raise OutOfRange("posts", placed, "such that each battery is at one")

    def all_posts(self, count: int) -> tuple[Post, ...]:
        """Return a post for each of so many batteries: those given, then one for each that stands alone."""
        placed = {bank for post in self.posts for bank in post.banks}
        return (*self.posts, *(Post(banks=(bank,)) for bank in range(count) if bank not in placed))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedRule:
    """
    One step of the shedding: off when its battery has been below a voltage for a time, on again likewise above another.

    While ``ignores_crank`` its timers stand still as the engine is cranked.
    """

    key: str
    bank: int
    off_below_v: float
    off_delay_s: float
    on_above_v: float
    on_delay_s: float
    ignores_crank: bool = True

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("off_below_v", self.off_below_v, 0.0, 100.0)
        check_within("on_above_v", self.on_above_v, self.off_below_v, 100.0)
        check_at_least("off_delay_s", self.off_delay_s, 0.0)
        check_at_least("on_delay_s", self.on_delay_s, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything a simulation runs on but the loads; ``start_ratio`` is each battery's state of charge at its start."""

    banks: tuple[Bank, ...]
    stages: tuple[Stage, ...]
    rules: tuple[ShedRule, ...] = ()
    crank: Crank | None = None
    start_ratio: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not self.banks:
            raise OutOfRange("banks", len(self.banks), "at least one")
        for ratio in self.start_ratio:
            check_within("start_ratio", ratio, 0.0, 1.0)
        if self.start_ratio and len(self.start_ratio) != len(self.banks):
            raise OutOfRange("start_ratio", len(self.start_ratio), "one for each bank")
        if self.crank is None and any(stage.cranks for stage in self.stages):
            raise OutOfRange("crank", self.crank, "given where a stage starts the engine")
