"""Numbered circuits and what they feed."""

from dataclasses import dataclass

from builds.engineering.ranges import MAX_SYSTEM_V, check_at_least, check_count, check_key, check_ratio, check_within
from builds.engineering.vocabulary import LoadModel, ReversedBattery, Suppression, Switching

__all__ = ["Circuit", "Load"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """
    A numbered circuit from a panel position to its loads and back.

    ``length_m`` is one way out; ``return_length_m`` the wire from the load back to ``return_node`` (a ground stud, a
    return bus or a battery's negative post). ``colour`` is base or base/stripe in two letters each. Conductors that share a
    ``bundle_name`` lie in one bundle and are counted; ``bundle`` is what somebody counted by hand.
    """

    number: str
    legend: str
    panel: str
    position: int
    device_family: str
    device_rating_a: float
    gauge: str
    length_m: float
    return_node: str
    return_length_m: float
    colour: str = ""
    insulation_c: float = 125.0
    bundle: int = 1
    zones: tuple[str, ...] = ()
    bundle_name: str = ""

    def __post_init__(self) -> None:
        check_key("number", self.number)
        check_count("position", self.position, least=1)
        check_within("device_rating_a", self.device_rating_a, 0.1, 1000.0)
        check_within("length_m", self.length_m, 0.0, 100.0)
        check_within("return_length_m", self.return_length_m, 0.0, 100.0)
        check_count("bundle", self.bundle, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """
    Something a circuit feeds: ``quantity`` alike, each taking ``current_a`` at ``at_v`` while it is on.

    ``duty_ratio`` is the lit part of its flash pattern (1 when steady); ``can_be_steady`` says that a mode, a stuck rule
    or a lamp test can hold it on, so its fuse and wire are sized steady. Below ``min_v`` it is off, above ``max_v`` it takes
    harm. ``key_off_a`` is what it takes, each, with the vehicle asleep. ``switching`` says which of its leads is switched.
    ``shed_step`` names the step that sheds it to spare the batteries; one that is ``never_shed`` stays on whatever it names. A
    timer keeps it on for ``run_on_min`` after the key is off. ``jump_v`` is what it bears while the engine is started from
    another vehicle, where its data sheet says so, ``reversed_battery`` what it does when that is done the wrong way round, and
    ``suppression`` whether what a coil in it gives back is caught. ``other_return`` says that something else joins it to the
    vehicle besides its own return: an antenna lead, the shield of a data cable, a metal bracket.
    """

    key: str
    circuit: str
    name: str
    zone: str
    model: LoadModel
    current_a: float
    at_v: float
    quantity: int = 1
    duty_ratio: float = 1.0
    can_be_steady: bool = True
    continuous: bool = True
    inrush_a: float = 0.0
    min_v: float = 0.0
    key_off_a: float = 0.0
    drop_class: str = "general"
    max_v: float | None = None
    switching: Switching = Switching.HIGH_SIDE
    shed_step: str = ""
    never_shed: bool = False
    run_on_min: float = 0.0
    jump_v: float | None = None
    reversed_battery: ReversedBattery = ReversedBattery.UNKNOWN
    suppression: Suppression = Suppression.NO_COIL
    other_return: bool = False

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("current_a", self.current_a, 0.0, 2000.0)
        check_within("at_v", self.at_v, 1.0, MAX_SYSTEM_V)
        check_count("quantity", self.quantity, least=1)
        check_ratio("duty_ratio", self.duty_ratio)
        check_at_least("inrush_a", self.inrush_a, 0.0)
        check_within("min_v", self.min_v, 0.0, MAX_SYSTEM_V)
        check_within("key_off_a", self.key_off_a, 0.0, 100.0)
        check_within("run_on_min", self.run_on_min, 0.0, 10_000.0)
        if self.jump_v is not None:
            check_within("jump_v", self.jump_v, 1.0, MAX_SYSTEM_V)
        if self.max_v is not None:
            check_within("max_v", self.max_v, max(1.0, self.min_v), MAX_SYSTEM_V)
