"""Whole designs for drawing and printing: a small truck and one with twelve panels; every figure is invented."""

from dataclasses import replace

from builds.engineering.design import (
    AlternatorSpec,
    BatterySpec,
    Buyer,
    Circuit,
    Conventions,
    Design,
    Load,
    LoadUse,
    NoMountZone,
    OperatingCondition,
    Operation,
    PanelSpec,
    PartsBillLine,
    Platform,
    PowerNode,
    Run,
    Vehicle,
    Zone,
)
from builds.engineering.vocabulary import (
    BuildKind,
    LoadModel,
    NodeKind,
    Phase,
    Place,
    RunSide,
    SourceState,
    SuppliedBy,
)

__all__ = ["large_design", "small_design"]

_COLOURS = ("WH/RD", "RD", "BU", "WH", "VT/BK", "OG", "GN/YE", "BN", "GY", "YE")
_LEGENDS = (
    "FRONT WARNING", "ROOF BAR", "ALLEY L+R", "TAKEDOWN", "MARINE VHF", "LAND MOBILE", "SIREN AMP", "OUTLETS",
    "CAB LAMP R/W", "GNSS + AIS", "LOCKER LAMPS LEFT HAND SIDE", "RACK HEATER",
)  # fmt: skip
_RATINGS = (10, 20, 10, 15, 10, 20, 20, 15, 5, 3, 5, 25)


def _battery(capacity_ah: float) -> BatterySpec:
    return BatterySpec(
        capacity_ah=capacity_ah,
        rated_hours=20,
        peukert_exponent=1.15,
        internal_mohm=4.0,
        open_circuit_v=12.7,
        usable_ratio=0.5,
    )


def _zones() -> tuple[Zone, ...]:
    places = (
        ("engine", "Engine bay", 105, -300, -300), ("cab", "Cab floor", 60, 1400, 0), ("console", "Console", 60, 1500, 0),
        ("roof-front", "Roof, front", 80, 1600, 0), ("grille", "Grille", 70, -800, 0), ("locker-1", "Locker 1", 55, 3000, 700),
        ("locker-2", "Locker 2", 55, 3000, -700), ("locker-3", "Locker 3", 55, 4200, 700), ("locker-4", "Locker 4", 55, 4200, -700),
        ("deck", "Rear deck", 55, 3600, 0), ("tail", "Tailgate", 55, 5000, 0), ("curtain", "Roof rail", 80, 1800, 800),
    )  # fmt: skip
    return tuple(
        Zone(key=key, name=name, ambient_c=ambient, x_mm=x, y_mm=y, sealed=key not in {"engine", "grille"})
        for key, name, ambient, x, y in places
    )


def _platform() -> Platform:
    return Platform(
        name="Crew-cab truck", version="2026 a", wheelbase_mm=3900, gvwr_kg=4990, gawr_front_kg=2360, gawr_rear_kg=3100,
        curb_front_kg=1650, curb_rear_kg=1250, seats=5, zones=_zones(),
        no_mount_zones=(NoMountZone(zone="curtain", name="Roof-rail curtain", guide="the maker's body-builder guide, airbags"),),
    )  # fmt: skip


def _supply() -> tuple[tuple[PowerNode, ...], tuple[Run, ...]]:
    nodes = (
        PowerNode(key="ALT", kind=NodeKind.ALTERNATOR, name="Alternator", zone="engine",
                  alternator=AlternatorSpec(rated_a=220, idle_ratio=0.54, speed_ratio=0.85)),
        PowerNode(key="BAT1", kind=NodeKind.BATTERY, name="Starting battery", zone="engine", battery=_battery(95)),
        PowerNode(key="ISO", kind=NodeKind.ISOLATOR, name="Isolator", zone="engine", rating_a=200),
        PowerNode(key="BAT2", kind=NodeKind.BATTERY, name="Radio battery", zone="deck", battery=_battery(200)),
        PowerNode(key="SW1", kind=NodeKind.DISCONNECT, name="Main disconnect", zone="locker-1", rating_a=300),
        PowerNode(key="MB", kind=NodeKind.BUS, name="Main bus", zone="deck", rating_a=300),
        PowerNode(key="G0", kind=NodeKind.GROUND, name="Block stud", zone="engine", chassis="BODY"),
        PowerNode(key="G1", kind=NodeKind.GROUND, name="Deck stud", zone="deck", chassis="BODY"),
        PowerNode(key="BODY", kind=NodeKind.CHASSIS, name="Body", zone="deck"),
    )  # fmt: skip
    runs = (
        _run("R0", "BAT1", "ALT", "1/0", 1.2, rating=250),
        _run("R1", "BAT1", "ISO", "2/0", 0.9, rating=200),
        _run("R2", "ISO", "BAT2", "2/0", 4.6),
        _run("R3", "BAT2", "SW1", "2/0", 1.2, rating=250),
        _run("R4", "SW1", "MB", "2/0", 0.6),
        Run(key="N1", from_node="BAT1", to_node="G0", side=RunSide.RETURN, gauge="2/0", length_m=0.4),
        Run(key="N2", from_node="BAT2", to_node="G1", side=RunSide.RETURN, gauge="2/0", length_m=0.5),
    )
    return nodes, runs


def _run(
    key: str, start: str, end: str, gauge: str, length_m: float, *, rating: float | None = None, family: str = "MEGA"
) -> Run:
    return Run(
        key=key, from_node=start, to_node=end, side=RunSide.SUPPLY, gauge=gauge, length_m=length_m,
        device_family=family if rating else "", device_rating_a=rating,
    )  # fmt: skip


def _panel(key: str, name: str, zone: str, positions: int, columns: int, kind: NodeKind = NodeKind.PANEL) -> PowerNode:
    return PowerNode(key=key, kind=kind, name=name, zone=zone, panel=PanelSpec(positions=positions, columns=columns))


def _circuit(number: str, panel: str, position: int, index: int) -> Circuit:
    return Circuit(
        number=number, legend=_LEGENDS[index % 12], panel=panel, position=position, device_family="ATO",
        device_rating_a=_RATINGS[index % 12], gauge=("14", "12", "16", "10")[index % 4], length_m=2.0 + index % 5,
        return_node=("G1", "G0")[index % 7 == 0], return_length_m=1.0, colour=_COLOURS[index % 10],
    )  # fmt: skip


def _load(circuit: Circuit, index: int, zones: tuple[Zone, ...]) -> Load:
    return Load(
        key=f"L{circuit.number}", circuit=circuit.number, name=circuit.legend.title(), zone=zones[index % len(zones)].key,
        model=LoadModel.CONSTANT_CURRENT, current_a=1.0 + index % 6, at_v=13.2, duty_ratio=0.5 if index % 4 == 0 else 1.0,
    )  # fmt: skip


def _design(nodes: tuple[PowerNode, ...], runs: tuple[Run, ...], circuits: tuple[Circuit, ...], number: str) -> Design:
    platform = _platform()
    loads = tuple(_load(circuit, index, platform.zones) for index, circuit in enumerate(circuits))
    uses = tuple(LoadUse(load=load.key) for load in loads)
    return Design(
        number=number, title="Crew-cab truck: dive lockers, 24 h radio watch, shore winch", kind=BuildKind.NEW,
        purchase_order="SW-4471", conventions=Conventions(), buyer=Buyer(customer="Saltmarsh Water Rescue", profile="Saltmarsh"),
        vehicle=Vehicle(vin="1M8GDM9AXKP042788", unit_number="SWR-7", model_year=2026), platform=platform, nodes=nodes, runs=runs,
        circuits=circuits, loads=loads, conditions=_conditions(uses), operations=_operations(), parts=_parts(),
    )  # fmt: skip


def _conditions(uses: tuple[LoadUse, ...]) -> tuple[OperatingCondition, ...]:
    return (
        OperatingCondition(key="scene", name="Rescue scene", source_state=SourceState.IDLE, source_low_v=13.2, source_high_v=14.4,
                           uses=uses[::2]),
        OperatingCondition(key="watch", name="Radio watch", source_state=SourceState.ENGINE_OFF, source_low_v=11.8,
                           source_high_v=12.7, min_hours=8, uses=uses[::9]),
        OperatingCondition(key="parked", name="Parked, key off", source_state=SourceState.KEY_OFF, source_low_v=12.0,
                           source_high_v=12.7),
    )  # fmt: skip


def _operations() -> tuple[Operation, ...]:
    return (
        Operation(key="mount-panels", name="Mount the panels", place=Place.VEHICLE, phase=Phase.MOUNT, skill="electrical", standard_h=6),
        Operation(key="wire", name="Lay and end the wires", place=Place.VEHICLE, phase=Phase.WIRE, skill="electrical", standard_h=20,
                  after=("mount-panels",)),
    )  # fmt: skip


def _parts() -> tuple[PartsBillLine, ...]:
    return (
        PartsBillLine(key="1", part_number="TP-1001", description="Roof bar, red and white", quantity=1, zone="roof-front",
                      unit_price=1840, mass_kg=18.5, serial_required=True),
        PartsBillLine(key="2", part_number="TP-2040", description="Fuse panel, 12 positions", quantity=2, zone="console", unit_price=92.5),
        PartsBillLine(key="3", part_number="SWR-RADIO", description="Land mobile radio", quantity=1, zone="cab",
                      supplied_by=SuppliedBy.CUSTOMER, mass_kg=2.1, serial_required=True),
        PartsBillLine(key="4", part_number="OEM-SEAT", description="Rear seat", quantity=1, zone="cab", mass_kg=31, removed=True),
    )  # fmt: skip


def small_design() -> Design:
    """Two panels and a winch on the main bus, eighteen circuits."""
    nodes, runs = _supply()
    nodes += (_panel("P1", "Cab panel", "console", 12, 6), _panel("P2", "Rear panel", "locker-3", 8, 4))
    runs += (
        _run("R5", "MB", "P1", "6", 2.1, rating=70, family="MIDI"),
        _run("R6", "MB", "P2", "2", 4.9, rating=80, family="MIDI"),
    )
    circuits = tuple(_circuit(str(101 + i), "P1", i + 1, i) for i in range(10))
    circuits += tuple(_circuit(str(201 + i), "P2", i + 1, i + 3) for i in range(7))
    winch = replace(circuits[0], number="301", legend="SHORE WINCH", panel="MB", position=1, device_family="breaker-3",
                    device_rating_a=200, gauge="2/0", colour="RD")  # fmt: skip
    return _design(nodes, runs, (*circuits, winch), "2614")


def large_design() -> Design:
    """Twelve panels and modules, one fed before the disconnect and two behind a sub-bus, 132 circuits."""
    nodes, runs = _supply()
    nodes += (PowerNode(key="RB", kind=NodeKind.BUS, name="Rear bus", zone="deck", rating_a=150),)
    runs += (_run("R20", "MB", "RB", "1/0", 2.4, rating=150),)
    feeds = {1: "BAT2", 8: "RB", 9: "RB"}
    circuits: list[Circuit] = []
    for index in range(1, 13):
        kind = NodeKind.MODULE if index in (5, 9) else NodeKind.PANEL
        nodes += (_panel(f"P{index}", f"Panel number {index}", "deck", 12, 4, kind),)
        family = "breaker-3" if index == 4 else "MIDI"
        gauge = ("6", "8", "2", "10")[index % 4]
        runs += (
            _run(
                f"R{index + 4}", feeds.get(index, "MB"), f"P{index}", gauge, 1.5 + index % 4, rating=60, family=family
            ),
        )
        circuits += [_circuit(str(100 * index + p), f"P{index}", p, p + index) for p in range(1, 12)]
    return _design(nodes, runs, tuple(circuits), "2615")
