"""The power tree: its nodes, and the cables between them."""

from dataclasses import dataclass

from builds.engineering.design.sources import AlternatorSpec, BatterySpec, ConverterSpec, SourceSpec
from builds.engineering.ranges import MAX_SYSTEM_V, check_choice, check_count, check_key, check_within
from builds.engineering.vocabulary import IsolatorKind, NodeKind, RunSide

__all__ = ["FIGURES_OF", "PanelSpec", "PowerNode", "Run"]

MOST_FORWARD_V = 3.0

FIGURES_OF = {  # the field in which a node of a kind carries its figures
    NodeKind.BATTERY: "battery",
    NodeKind.ALTERNATOR: "alternator",
    NodeKind.DCDC: "source",
    NodeKind.SHORE: "source",
    NodeKind.SOLAR: "source",
    NodeKind.CONVERTER: "converter",
    NodeKind.ACCESS_POINT: "access_point",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSpec:
    """A fuse panel or switching module: how many positions, how they stand, where its cover hinges."""

    positions: int
    columns: int
    hinge: str = "top"

    def __post_init__(self) -> None:
        check_count("positions", self.positions, least=1)
        check_count("columns", self.columns, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerNode:
    """
    One thing of the power tree: a battery, the disconnect, a bus, a panel, a ground stud, a chassis body.

    ``resistance_mohm`` is the thing's own (contacts of a disconnect, a stud's joint, as assumed until it is measured).
    ``rating_a`` is the most it may carry. A ground names the chassis body it is bolted to in ``chassis``, or is empty there
    when it is a return bus; a body without continuous ``metal`` carries nothing back. Runs that end at a converter are its
    input, runs and circuits that start there its output. An ``access_point`` is one that the vehicle's maker provides. An
    isolator is contacts or diodes; ``forward_v`` is what diodes lose, as the tables have it where it is left out.
    """

    key: str
    kind: NodeKind
    name: str
    zone: str
    nominal_v: float = 12.0
    rating_a: float | None = None
    resistance_mohm: float = 0.0
    chassis: str = ""
    battery: BatterySpec | None = None
    alternator: AlternatorSpec | None = None
    panel: PanelSpec | None = None
    source: SourceSpec | None = None
    converter: ConverterSpec | None = None
    access_point: str = ""
    metal: bool = True
    isolator: IsolatorKind = IsolatorKind.RELAY
    forward_v: float | None = None

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_choice("kind", self.kind, NodeKind)
        check_choice("isolator", self.isolator, IsolatorKind)
        if self.forward_v is not None:
            check_within("forward_v", self.forward_v, 0.0, MOST_FORWARD_V)
        check_within("nominal_v", self.nominal_v, 1.0, MAX_SYSTEM_V)
        check_within("resistance_mohm", self.resistance_mohm, 0.0, 10_000.0)
        if self.rating_a is not None:
            check_within("rating_a", self.rating_a, 0.1, 5000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """
    A cable between two nodes; ``from_node`` is by custom the end nearer the battery, on either side.

    ``device_family`` and ``device_rating_a`` name the fuse or breaker at its battery end, whichever that is by what feeds it;
    ``device_distance_m`` says how far along the cable from there it sits. With ``device_at_both_ends`` another like it sits as far from the other end. ``resistance_mohm``, where given, stands in for the conductor's own (a braided strap). One that is
    ``makers_own`` came with the vehicle: its conductor and its protection are the vehicle maker's. ``bundle_name`` names the
    bundle that it lies in with others.
    """

    key: str
    from_node: str
    to_node: str
    side: RunSide
    gauge: str
    length_m: float
    insulation_c: float = 125.0
    parallel: int = 1
    bundle: int = 1  # current-carrying conductors in the same bundle, this one counted
    zones: tuple[str, ...] = ()
    device_family: str = ""
    device_rating_a: float | None = None
    device_distance_m: float = 0.0
    resistance_mohm: float | None = None
    makers_own: bool = False
    bundle_name: str = ""
    device_at_both_ends: bool = False

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("length_m", self.length_m, 0.0, 100.0)
        check_count("parallel", self.parallel, least=1)
        check_count("bundle", self.bundle, least=1)
        check_within("device_distance_m", self.device_distance_m, 0.0, 100.0)
        if self.device_rating_a is not None:
            check_within("device_rating_a", self.device_rating_a, 0.1, 5000.0)
