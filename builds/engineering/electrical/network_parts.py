"""The parts a distribution is drawn with: sources, branches, loads, converters."""

from dataclasses import dataclass

from builds.engineering.ranges import check_ratio, check_within
from builds.engineering.vocabulary import LoadModel

__all__ = ["NetworkBranch", "NetworkConverter", "NetworkLoad", "NetworkSource"]

# A short between two parts is drawn as no resistance; longer than this is no conductor.
_MOST_OHM = 1e6
# One load stands for as many alike as a design may count, 10,000 of 2000 A each, and a converter's for all it may take.
_MOST_A = 1e8


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkSource:
    """A battery, an alternator or another source by its two posts."""

    key: str
    positive_node: str
    negative_node: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkBranch:
    """Something with a resistance between two nodes: one leg of a run, a contact, a stud's joint, a strap."""

    key: str
    from_node: str
    to_node: str
    resistance_ohm: float

    def __post_init__(self) -> None:
        check_within("resistance_ohm", self.resistance_ohm, 0.0, _MOST_OHM)


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkLoad:
    """
    A load between a supply node and a return node, with its data-sheet current and the voltage that was stated at.

    Below ``min_v`` at its terminals it is off.
    """

    key: str
    supply_node: str
    return_node: str
    model: LoadModel
    current_a: float
    at_v: float
    min_v: float = 0.0

    def __post_init__(self) -> None:
        check_within("current_a", self.current_a, 0.0, _MOST_A)
        check_within("at_v", self.at_v, 0.1, 1000.0)
        check_within("min_v", self.min_v, 0.0, 1000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkConverter:
    """
    A converter: a constant power at its input, a voltage with a limited current at its output.

    It takes ``idle_w`` and, of what it gives, ``1 / efficiency_ratio`` times as much. Below ``min_v`` at its input it is off.
    An output negative that is the input's is not isolated.
    """

    key: str
    supply_node: str
    return_node: str
    positive_node: str
    negative_node: str
    output_v: float
    limit_a: float
    efficiency_ratio: float
    idle_w: float = 0.0
    output_ohm: float = 0.0
    min_v: float = 0.0

    def __post_init__(self) -> None:
        check_within("output_v", self.output_v, 0.1, 1000.0)
        check_within("limit_a", self.limit_a, 0.0, 1e5)
        check_ratio("efficiency_ratio", self.efficiency_ratio)
        check_within("idle_w", self.idle_w, 0.0, 1e5)
        check_within("output_ohm", self.output_ohm, 0.0, _MOST_OHM)
        check_within("min_v", self.min_v, 0.0, 1000.0)

    @property
    def output(self) -> NetworkSource:
        """What it is to the bus it feeds."""
        return NetworkSource(key=self.key, positive_node=self.positive_node, negative_node=self.negative_node)

    @property
    def input(self) -> NetworkLoad:
        """What it is to the bus that feeds it: a constant power, scaled to the watts it asks for."""
        return NetworkLoad(
            key=self.key,
            supply_node=self.supply_node,
            return_node=self.return_node,
            model=LoadModel.CONSTANT_POWER,
            current_a=1.0,
            at_v=1.0,
            min_v=self.min_v,
        )
