"""Builds made in code: a sound small one to plant faults in, and a large one of the size of a real incident van."""

from dataclasses import replace
from typing import Any

from builds.engineering.changes import FAMILIES
from builds.engineering.design import (
    AlternatorSpec,
    BatterySpec,
    Buyer,
    BuyerRule,
    Circuit,
    Conventions,
    Design,
    Load,
    LoadUse,
    OperatingCondition,
    Operation,
    PanelSpec,
    PartsBillLine,
    Platform,
    PowerNode,
    Run,
    SeatPlace,
    Vehicle,
    Zone,
)
from builds.engineering.vocabulary import BuildKind, LoadModel, NodeKind, Phase, Place, RunSide, SourceState

ZONES = (
    Zone(key="engine", name="engine bay", ambient_c=85.0, x_mm=-400.0, y_mm=0.0),
    Zone(key="cab", name="cab", ambient_c=50.0, x_mm=1200.0, y_mm=0.0),
    Zone(key="roof", name="roof", ambient_c=60.0, x_mm=1500.0, y_mm=0.0, max_load_kg=75.0, sealed=False),
    Zone(key="cargo", name="cargo area", ambient_c=50.0, x_mm=2600.0, y_mm=0.0),
)

PLATFORM = Platform(
    name="crew-cab truck",
    version="1",
    wheelbase_mm=3600.0,
    gvwr_kg=4500.0,
    gawr_front_kg=2200.0,
    gawr_rear_kg=2900.0,
    curb_front_kg=1500.0,
    curb_rear_kg=1200.0,
    seats=5,
    zones=ZONES,
    seat_places=(SeatPlace(name="front", seats=2, x_mm=1300.0), SeatPlace(name="rear", seats=3, x_mm=2200.0)),
)

STARTING = BatterySpec(
    capacity_ah=90.0, rated_hours=20.0, peukert_exponent=1.15, internal_mohm=6.0, open_circuit_v=12.8, usable_ratio=0.5
)
AUXILIARY = BatterySpec(
    capacity_ah=100.0, rated_hours=20.0, peukert_exponent=1.1, internal_mohm=7.0, open_circuit_v=12.8, usable_ratio=0.5
)

NODES = (
    PowerNode(key="BAT1", kind=NodeKind.BATTERY, name="starting battery", zone="engine", battery=STARTING),
    PowerNode(
        key="ALT",
        kind=NodeKind.ALTERNATOR,
        name="alternator",
        zone="engine",
        alternator=AlternatorSpec(rated_a=220.0, idle_ratio=0.4, speed_ratio=0.8),
    ),
    PowerNode(
        key="DISC", kind=NodeKind.DISCONNECT, name="main disconnect", zone="cab", rating_a=300.0, resistance_mohm=0.2
    ),
    PowerNode(key="ISO", kind=NodeKind.ISOLATOR, name="isolator", zone="cab", rating_a=200.0, resistance_mohm=0.3),
    PowerNode(key="BAT2", kind=NodeKind.BATTERY, name="auxiliary battery", zone="cargo", battery=AUXILIARY),
    PowerNode(key="DISC2", kind=NodeKind.DISCONNECT, name="auxiliary disconnect", zone="cargo", rating_a=200.0),
    PowerNode(
        key="P1",
        kind=NodeKind.PANEL,
        name="cab panel",
        zone="cab",
        rating_a=100.0,
        panel=PanelSpec(positions=12, columns=2),
    ),
    PowerNode(
        key="P2",
        kind=NodeKind.PANEL,
        name="cargo panel",
        zone="cargo",
        rating_a=100.0,
        panel=PanelSpec(positions=8, columns=2),
    ),
    PowerNode(key="BODY", kind=NodeKind.CHASSIS, name="body", zone="cab"),
    PowerNode(key="G1", kind=NodeKind.GROUND, name="cab stud", zone="cab", resistance_mohm=0.3, chassis="BODY"),
    PowerNode(key="G2", kind=NodeKind.GROUND, name="cargo stud", zone="cargo", resistance_mohm=0.3, chassis="BODY"),
)


def supply(key: str, from_node: str, to_node: str, gauge: str, length_m: float, **more: Any) -> Run:
    return Run(
        key=key, from_node=from_node, to_node=to_node, side=RunSide.SUPPLY, gauge=gauge, length_m=length_m, **more
    )


RUNS = (
    supply("R1", "BAT1", "DISC", "1/0", 2.0, device_family="MRBF", device_rating_a=175.0, device_distance_m=0.1),
    supply("R2", "DISC", "P1", "4", 1.0, device_family="ANL", device_rating_a=100.0),
    supply("R3", "DISC", "ISO", "1/0", 0.5),
    supply("R4", "BAT2", "ISO", "2", 2.5, device_family="MRBF", device_rating_a=150.0, device_distance_m=0.1),
    supply("R5", "BAT2", "DISC2", "2", 1.0, device_family="MRBF", device_rating_a=100.0, device_distance_m=0.1),
    supply("R6", "DISC2", "P2", "4", 1.5),
    supply(
        "R7", "BAT1", "ALT", "4/0", 1.0, parallel=2, device_family="MRBF", device_rating_a=300.0, device_distance_m=0.1
    ),
    Run(key="S1", from_node="BAT1", to_node="BODY", side=RunSide.RETURN, gauge="1/0", length_m=1.0),
    Run(key="S2", from_node="BAT2", to_node="BODY", side=RunSide.RETURN, gauge="2", length_m=0.6),
)


def circuit(
    number: str, legend: str, panel: str, position: int, rating_a: float, gauge: str, length_m: float, **more: Any
) -> Circuit:
    settings = {
        "device_family": "ATO",
        "return_node": "G1" if panel == "P1" else "G2",
        "return_length_m": 0.5,
        "colour": "RD",
        **more,
    }
    return Circuit(
        number=number,
        legend=legend,
        panel=panel,
        position=position,
        device_rating_a=rating_a,
        gauge=gauge,
        length_m=length_m,
        **settings,
    )


CIRCUITS = (
    circuit("101", "LIGHT BAR", "P1", 1, 20.0, "12", 4.0),
    circuit("102", "SIREN AMP", "P1", 2, 15.0, "12", 1.5),
    circuit("103", "SCENE LEFT", "P1", 3, 15.0, "12", 4.0),
    circuit("104", "WINCH CONTACTOR", "P1", 4, 10.0, "14", 3.0),
    circuit("201", "RADIO", "P2", 1, 20.0, "8", 0.8, colour="RD/WH"),
    circuit("202", "LOCKER LAMPS", "P2", 2, 5.0, "16", 2.0),
)


def load(key: str, circuit_: str, name: str, zone: str, current_a: float, **more: Any) -> Load:
    settings = {"model": LoadModel.CONSTANT_CURRENT, "at_v": 12.8, **more}
    return Load(key=key, circuit=circuit_, name=name, zone=zone, current_a=current_a, **settings)


LOADS = (
    load("BAR", "101", "light bar", "roof", 12.0, duty_ratio=0.5, can_be_steady=True),
    load("SIREN", "102", "siren amplifier", "cab", 8.0, model=LoadModel.CONSTANT_POWER, min_v=10.0, key_off_a=0.002),
    load("SCENE", "103", "scene light", "roof", 8.0, model=LoadModel.CONSTANT_POWER, min_v=10.5),
    load("WINCH", "104", "winch contactor", "cargo", 4.0, model=LoadModel.RESISTIVE, continuous=False),
    load(
        "RADIO",
        "201",
        "radio",
        "cargo",
        6.0,
        model=LoadModel.CONSTANT_POWER,
        min_v=10.8,
        key_off_a=0.01,
        drop_class="radio",
    ),
    load("LOCKER", "202", "locker lamp", "cargo", 0.5, model=LoadModel.RESISTIVE, quantity=4),
)

CONDITIONS = (
    OperatingCondition(
        key="driving",
        name="driving to a call",
        source_state=SourceState.AT_SPEED,
        source_low_v=13.2,
        source_high_v=14.4,
        uses=(LoadUse(load="BAR"), LoadUse(load="SIREN", duty_ratio=0.3), LoadUse(load="RADIO", duty_ratio=0.2)),
    ),
    OperatingCondition(
        key="scene",
        name="on scene",
        source_state=SourceState.IDLE,
        source_low_v=13.0,
        source_high_v=14.2,
        uses=tuple(LoadUse(load=key) for key in ("BAR", "SCENE", "WINCH", "RADIO", "LOCKER")),
    ),
    OperatingCondition(
        key="watch",
        name="radio watch",
        source_state=SourceState.ENGINE_OFF,
        source_low_v=12.1,
        source_high_v=12.8,
        min_hours=5.0,
        uses=(LoadUse(load="RADIO"), LoadUse(load="LOCKER", duty_ratio=0.2)),
    ),
    OperatingCondition(
        key="parked", name="parked", source_state=SourceState.KEY_OFF, source_low_v=12.2, source_high_v=12.8
    ),
)

OPERATIONS = (
    Operation(key="STRIP", name="Strip the cab", place=Place.VEHICLE, phase=Phase.STRIP, skill="fitter", standard_h=2.0),
    Operation(key="BENCH", name="Build the harness", place=Place.BENCH, phase=Phase.WIRE, skill="electrician", standard_h=6.0),
    Operation(
        key="LAY", name="Lay the harness", place=Place.VEHICLE, phase=Phase.WIRE, skill="electrician", standard_h=8.0, crew=2,
        after=("STRIP", "BENCH"),
    ),
    Operation(key="CLOSE", name="Close the trim", place=Place.VEHICLE, phase=Phase.CLOSE, skill="fitter", standard_h=2.0, after=("LAY",)),
)  # fmt: skip

PARTS = (
    PartsBillLine(
        key="L1",
        part_number="BAR-1200",
        description="light bar",
        quantity=1,
        zone="roof",
        unit_price=900.0,
        mass_kg=14.0,
    ),
    PartsBillLine(
        key="L2",
        part_number="LOCKER-2",
        description="dive locker",
        quantity=2,
        zone="cargo",
        unit_price=400.0,
        mass_kg=60.0,
    ),
)

BUYER = Buyer(
    customer="Saltmarsh Water Rescue",
    profile="rescue",
    rules=(
        BuyerRule(key="backup-device", value="cited", source="coordination table of the invented panel maker, sheet 4"),
        BuyerRule(key="labour-rate", value=100.0, source="price list 2026"),
    ),
)

SOUND = Design(
    number="TP-1",
    title="rescue truck",
    kind=BuildKind.NEW,
    purchase_order="PO-1",
    conventions=Conventions(),
    buyer=BUYER,
    vehicle=Vehicle(vin="1M8GDM9AXKP042788", sold_before=True),
    platform=PLATFORM,
    nodes=NODES,
    runs=RUNS,
    circuits=CIRCUITS,
    loads=LOADS,
    conditions=CONDITIONS,
    operations=OPERATIONS,
    parts=PARTS,
)


def changed(design: Design, family: str, key: str, **fields: Any) -> Design:
    """The design with fields of one part set to other values."""
    chosen = FAMILIES[family]
    parts = getattr(design, chosen.field)
    assert key in [chosen.key_of(part) for part in parts], f"no {family} {key}"
    made = tuple(replace(part, **fields) if chosen.key_of(part) == key else part for part in parts)
    return replace(design, **{chosen.field: made})


def without(design: Design, family: str, *keys: str) -> Design:
    """The design without some parts of a family."""
    chosen = FAMILIES[family]
    kept = tuple(part for part in getattr(design, chosen.field) if chosen.key_of(part) not in keys)
    return replace(design, **{chosen.field: kept})


def added(design: Design, family: str, *parts: Any) -> Design:
    """The design with more parts of a family."""
    chosen = FAMILIES[family]
    return replace(design, **{chosen.field: getattr(design, chosen.field) + parts})


def with_rule(design: Design, key: str, value: float | str) -> Design:
    """The design for a buyer with one more rule of their own."""
    rule = BuyerRule(key=key, value=value, source="this test")
    kept = tuple(one for one in design.buyer.rules if one.key != key)
    return replace(design, buyer=replace(design.buyer, rules=(*kept, rule)))
