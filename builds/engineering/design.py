"""
A whole build as frozen values: what the core computes from, whether it came from rows or from a document.

Every quantity carries its unit in its name and is SI, except gauges, which are labels of a declared table. Keys are the
addresses people use ("P2", "R4", "203"); they are unique within their own family. Ranges are checked where a value is
made, so a value out of range cannot exist; what is *between* the parts (a circuit on a panel that is not there) is
checked by :mod:`builds.engineering.consistency`.
"""

from dataclasses import dataclass

from builds.engineering.ranges import check_at_least, check_choice, check_count, check_key, check_ratio, check_within
from builds.engineering.vocabulary import (
    BuildKind,
    DropCurrent,
    GaugeBasis,
    LoadModel,
    NodeKind,
    Phase,
    Place,
    RunSide,
    SourceState,
    SuppliedBy,
    UnitSystem,
    VehicleSide,
)

__all__ = [
    "AlternatorSpec",
    "BatterySpec",
    "Buyer",
    "BuyerRule",
    "Circuit",
    "Conventions",
    "Design",
    "DropRule",
    "Load",
    "LoadUse",
    "NoMountZone",
    "OperatingCondition",
    "Operation",
    "PanelSpec",
    "PartsBillLine",
    "Platform",
    "PowerNode",
    "Route",
    "Run",
    "Vehicle",
    "Zone",
]

_MAX_VOLTS = 60.0  # the insulation families of road-vehicle cable end at 60 V DC (SAE J1128)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conventions:
    """How this build is written: units shown, gauge table, side of the driver, colour scheme of wires."""

    units: UnitSystem = UnitSystem.US
    gauge_basis: GaugeBasis = GaugeBasis.SAE
    driver_side: VehicleSide = VehicleSide.LEFT
    wire_colour_scheme: str = "function"


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
        check_within("base_v", self.base_v, 1.0, _MAX_VOLTS)
        check_within("conductor_temp_c", self.conductor_temp_c, -40.0, 150.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Buyer:
    """A customer's rules under the name of their profile."""

    customer: str
    profile: str
    rules: tuple[BuyerRule, ...] = ()
    drop_rules: tuple[DropRule, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """The vehicle on which the build is made; ``vin`` may be empty until it is known."""

    vin: str = ""
    vin_exception: str = ""
    unit_number: str = ""
    model_year: int | None = None
    sold_before: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A part of the vehicle with its own hottest ambient and, where the maker gives one, a load limit."""

    key: str
    name: str
    ambient_c: float
    x_mm: float  # behind the front axle; ahead of it is negative
    y_mm: float  # right of the centre line as seated facing forward; left is negative
    max_load_kg: float | None = None
    sealed: bool = True  # inside the body shell, out of the weather

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("ambient_c", self.ambient_c, -40.0, 200.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A way for wire between two zones, as long as the harness that lies in it."""

    from_zone: str
    to_zone: str
    length_m: float

    def __post_init__(self) -> None:
        check_at_least("length_m", self.length_m, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoMountZone:
    """A place where nothing is mounted (airbag path), with the guide to consult."""

    zone: str
    name: str
    guide: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Platform:
    """One version of a vehicle model as the shop knows it."""

    name: str
    version: str
    wheelbase_mm: float
    gvwr_kg: float
    gawr_front_kg: float
    gawr_rear_kg: float
    curb_front_kg: float
    curb_rear_kg: float
    seats: int
    zones: tuple[Zone, ...] = ()
    routes: tuple[Route, ...] = ()
    no_mount_zones: tuple[NoMountZone, ...] = ()

    def __post_init__(self) -> None:
        for name in ("wheelbase_mm", "gvwr_kg", "gawr_front_kg", "gawr_rear_kg", "curb_front_kg", "curb_rear_kg"):
            check_at_least(name, getattr(self, name), 1.0)
        check_count("seats", self.seats, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatterySpec:
    """A battery: capacity at its rated hours, Peukert exponent, internal resistance, full rest voltage, use allowed."""

    capacity_ah: float
    rated_hours: float
    peukert_exponent: float
    internal_mohm: float
    open_circuit_v: float
    usable_ratio: float
    reserve_min: float | None = None

    def __post_init__(self) -> None:
        check_within("capacity_ah", self.capacity_ah, 1.0, 5000.0)
        check_within("rated_hours", self.rated_hours, 1.0, 100.0)
        check_within("peukert_exponent", self.peukert_exponent, 1.0, 1.6)
        check_within("internal_mohm", self.internal_mohm, 0.1, 1000.0)
        check_within("open_circuit_v", self.open_circuit_v, 1.0, _MAX_VOLTS)
        check_ratio("usable_ratio", self.usable_ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternatorSpec:
    """An alternator: rated output, its hot output at idle and at speed as parts of it."""

    rated_a: float
    idle_ratio: float
    speed_ratio: float

    def __post_init__(self) -> None:
        check_within("rated_a", self.rated_a, 1.0, 2000.0)
        check_ratio("idle_ratio", self.idle_ratio)
        check_ratio("speed_ratio", self.speed_ratio)


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

    ``resistance_mohm`` is the thing's own (contacts of a disconnect, a stud's joint). ``rating_a`` is the most it may
    carry. A ground names the chassis body it is bolted to in ``chassis``, or is empty there when it is a return bus.
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

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_choice("kind", self.kind, NodeKind)
        check_within("nominal_v", self.nominal_v, 1.0, _MAX_VOLTS)
        check_within("resistance_mohm", self.resistance_mohm, 0.0, 10_000.0)
        if self.rating_a is not None:
            check_within("rating_a", self.rating_a, 0.1, 5000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """
    A cable between two nodes; ``from_node`` is the end nearer the battery on either side.

    ``device_family`` and ``device_rating_a`` name the fuse or breaker at its battery end, ``device_distance_m`` how far
    along the cable it sits. ``resistance_mohm``, where given, stands in for the conductor's own (a braided strap).
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

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("length_m", self.length_m, 0.0, 100.0)
        check_count("parallel", self.parallel, least=1)
        check_count("bundle", self.bundle, least=1)
        check_within("device_distance_m", self.device_distance_m, 0.0, 100.0)
        if self.device_rating_a is not None:
            check_within("device_rating_a", self.device_rating_a, 0.1, 5000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """
    A numbered circuit from a panel position to its loads and back.

    ``length_m`` is one way out; ``return_length_m`` the wire from the load back to ``return_node`` (a ground stud, a
    return bus or a battery's negative post). ``colour`` is base or base/stripe in two letters each.
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
    or a lamp test can hold it on, so its fuse and wire are sized steady. Below ``min_v`` it is off. ``key_off_a`` is what
    it takes, each, with the vehicle asleep.
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

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("current_a", self.current_a, 0.0, 2000.0)
        check_within("at_v", self.at_v, 1.0, _MAX_VOLTS)
        check_count("quantity", self.quantity, least=1)
        check_ratio("duty_ratio", self.duty_ratio)
        check_at_least("inrush_a", self.inrush_a, 0.0)
        check_within("min_v", self.min_v, 0.0, _MAX_VOLTS)
        check_within("key_off_a", self.key_off_a, 0.0, 100.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadUse:
    """A load that is on in a condition, at its own duty unless ``duty_ratio`` says otherwise."""

    load: str
    duty_ratio: float | None = None

    def __post_init__(self) -> None:
        if self.duty_ratio is not None:
            check_ratio("duty_ratio", self.duty_ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingCondition:
    """
    A way the vehicle is used: what feeds it, between which voltages at the battery post, and what is on.

    ``min_hours`` is how long the buyer asks the batteries to carry it with the engine off, where that matters.
    """

    key: str
    name: str
    source_state: SourceState
    source_low_v: float
    source_high_v: float
    min_hours: float | None = None
    uses: tuple[LoadUse, ...] = ()

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("source_low_v", self.source_low_v, 1.0, _MAX_VOLTS)
        check_within("source_high_v", self.source_high_v, self.source_low_v, _MAX_VOLTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """A piece of work: standard hours each, how many, how many people at once, and what must come first."""

    key: str
    name: str
    place: Place
    phase: Phase
    skill: str
    standard_h: float
    quantity: int = 1
    crew: int = 1
    after: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("standard_h", self.standard_h, 0.0, 1000.0)
        check_count("quantity", self.quantity, least=1)
        check_count("crew", self.crew, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsBillLine:
    """A part on this build: how many, where it goes, who brings it, what it costs and weighs each. Removed is negative."""

    key: str
    part_number: str
    description: str
    quantity: float
    unit: str = "each"
    zone: str = ""
    supplied_by: SuppliedBy = SuppliedBy.SHOP
    unit_cost: float = 0.0
    unit_price: float = 0.0
    taxed: bool = True
    mass_kg: float = 0.0
    serial_required: bool = False
    removed: bool = False

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("quantity", self.quantity, 0.001, 100_000.0)
        check_within("unit_cost", self.unit_cost, 0.0, 10_000_000.0)
        check_within("unit_price", self.unit_price, 0.0, 10_000_000.0)
        check_within("mass_kg", self.mass_kg, 0.0, 20_000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """The working design of one build, or of one revision of it."""

    number: str
    title: str
    kind: BuildKind
    purchase_order: str
    conventions: Conventions
    buyer: Buyer
    vehicle: Vehicle
    platform: Platform
    nodes: tuple[PowerNode, ...] = ()
    runs: tuple[Run, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    loads: tuple[Load, ...] = ()
    conditions: tuple[OperatingCondition, ...] = ()
    operations: tuple[Operation, ...] = ()
    parts: tuple[PartsBillLine, ...] = ()
