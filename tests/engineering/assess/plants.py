"""
Faults planted one at a time in the sound build, each with everything the assessment should then say, and nothing more.

The numbers beside a plant are hand-worked from the tables: 125 °C insulation carries 40 A in 14 gauge and 30 A in 16; at
50 °C the Code's factor is 0.89, at 60 °C the root law gives sqrt(65/95) = 0.827; a blade fuse keeps 93.75 % at 50 °C.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from builds.engineering.design import (
    Design,
    DropRule,
    LoadUse,
    NoMountZone,
    OperatingCondition,
    Operation,
    PanelSpec,
    PowerNode,
    Route,
)
from builds.engineering.vocabulary import DropCurrent, NodeKind, Phase, Place, SourceState, SuppliedBy
from tests.engineering.assess.designs import SOUND, added, changed, circuit, load, supply, with_rule, without


@dataclass(frozen=True)
class Plant:
    """A change to the sound build and the findings it brings, as (id, subject)."""

    name: str
    plant: Callable[[Design], Design]
    expected: frozenset[tuple[str, str]]

    @property
    def design(self) -> Design:
        return self.plant(SOUND)


def plant(name: str, change: Callable[[Design], Design], *expected: tuple[str, str]) -> Plant:
    return Plant(name, change, frozenset(expected))


def uses(design: Design, condition: str, *loads: str) -> Design:
    return changed(design, "condition", condition, uses=tuple(LoadUse(load=key) for key in loads))


def no_mount(design: Design, zone: str) -> Design:
    place = NoMountZone(zone=zone, name="in the way of the roof-rail airbag", guide="maker's upfit guide, section 4")
    return replace(design, platform=replace(design.platform, no_mount_zones=(place,)))


def with_way(design: Design, length_m: float) -> Design:
    way = Route(from_zone="cab", to_zone="roof", length_m=length_m)
    return replace(design, platform=replace(design.platform, routes=(*design.platform.routes, way)))


def key_off_with(design: Design, *loads: str) -> Design:
    parked = OperatingCondition(
        key="parked", name="Parked", source_state=SourceState.KEY_OFF, source_low_v=12.4, source_high_v=12.8,
        uses=tuple(LoadUse(load=key) for key in loads),
    )  # fmt: skip
    return added(design, "condition", parked)


def bundled(design: Design, *numbers: str, **fields: object) -> Design:
    """Circuits of one loom."""
    for number in numbers:
        design = changed(design, "circuit", number, **{"bundle_name": "loom", **fields})
    return design


def platform(design: Design, **fields: float) -> Design:
    return replace(design, platform=replace(design.platform, **fields))


def vehicle(design: Design, **fields: object) -> Design:
    return replace(design, vehicle=replace(design.vehicle, **fields))


def drop_rule(design: Design, drop_class: str, limit_ratio: float) -> Design:
    rule = DropRule(
        key=f"own-{drop_class.strip('*') or 'all'}",
        drop_class=drop_class,
        limit_ratio=limit_ratio,
        base_v=12.0,
        current=DropCurrent.PEAK,
        conductor_temp_c=50.0,
        source="this test",
    )
    return replace(design, buyer=replace(design.buyer, drop_rules=(*design.buyer.drop_rules, rule)))


def feeder_rule(design: Design, limit_ratio: float, **place: object) -> Design:
    """A limit on the feeders alone, beside the rules of the loads' classes."""
    design = drop_rule(design, "*", limit_ratio)
    rule = replace(design.buyer.drop_rules[-1], **place)  # type: ignore[arg-type]
    return replace(design, buyer=replace(design.buyer, drop_rules=(*design.buyer.drop_rules[:-1], rule)))


CONDUCTORS = (
    # a bundle of 30 leaves 0.4: 45 A × 0.827 × 0.4 = 18.2 A for 16 A wanted is fine, 30 × 0.827 × 0.4 = 9.9 A is not
    plant("wire too thin for its load", lambda d: changed(d, "circuit", "101", gauge="16", bundle=30),
          ("conductor-below-load", "circuit:101")),
    # the engine bay's 85 °C is all that the insulation bears
    plant("insulation that its place is too hot for", lambda d: changed(d, "circuit", "104", zones=("engine",), insulation_c=85.0),
          ("insulation-below-ambient", "circuit:104")),
    # 16 gauge on the roof: 35 × 0.827 = 24.8 A behind 30 A; the load of 12 A needs 15 A behind 80 % of 93.75 %: 20 A will do
    plant("device above its wire", lambda d: changed(d, "circuit", "101", gauge="16", device_rating_a=30.0, length_m=2.0),
          ("device-above-conductor", "circuit:101")),
    # 12 gauge on the roof: 50 × 0.827 = 41.4 A over 40 A is 1.03
    plant("wire below the buyer's margin",
          lambda d: with_rule(changed(d, "circuit", "101", device_family="MAXI", device_rating_a=40.0), "conductor-margin", 1.1),
          ("conductor-below-margin", "circuit:101")),
    plant("wire below the buyer's smallest", lambda d: with_rule(d, "min-gauge", "14"),
          ("conductor-below-minimum", "circuit:202")),
    plant("gauge that no table has", lambda d: changed(d, "circuit", "104", gauge="13"), ("size-unknown", "circuit:104")),
    plant("run of a gauge that no table has", lambda d: changed(d, "run", "R6", gauge="13"), ("size-unknown", "run:R6")),
    plant("run too thin for its own device", lambda d: changed(d, "run", "R5", gauge="8"),
          ("device-above-conductor", "run:R5")),
    plant("run too thin for the device before it", lambda d: changed(d, "run", "R6", gauge="8"),
          ("device-above-conductor", "run:R6")),
)  # fmt: skip

DEVICES = (
    # 8.07 A of siren and more behind 7.5 A × 0.9375 = 7.03 A
    plant("device below its load", lambda d: changed(d, "circuit", "103", device_rating_a=7.5),
          ("device-below-load", "circuit:103")),
    # 12 A behind 15 A × 0.9375 = 14.06 A is 85 %
    plant("device loaded above the buyer's limit", lambda d: changed(d, "circuit", "101", device_rating_a=15.0),
          ("device-loading-exceeded", "circuit:101")),
    plant("rating that is not made", lambda d: changed(d, "circuit", "103", device_rating_a=14.0),
          ("device-not-standard", "circuit:103")),
    plant("family that no table has", lambda d: changed(d, "circuit", "103", device_family="bent nail"),
          ("device-family-unknown", "circuit:103")),
    plant("device for a lower voltage", lambda d: changed(d, "node", "P2", nominal_v=48.0),
          ("device-voltage-low", "circuit:201"), ("device-voltage-low", "circuit:202"), ("nominal-voltage-unlike", "node:P2")),
    plant("branch device as large as its feed's", lambda d: changed(changed(d, "run", "R2", device_rating_a=35.0), "circuit", "101", device_rating_a=35.0, device_family="MAXI", gauge="10"),
          ("device-above-feed", "circuit:101")),
    plant("branch device near its feed's", lambda d: changed(changed(d, "run", "R2", device_rating_a=35.0), "circuit", "101", device_rating_a=30.0, device_family="MAXI", gauge="10"),
          ("device-close-to-feed", "circuit:101")),
    plant("feed device as large as the main", lambda d: changed(d, "run", "R2", device_rating_a=175.0, gauge="2"),
          ("device-above-feed", "run:R2"), ("node-below-feed", "node:P1")),
    plant("device far from its battery", lambda d: changed(d, "run", "R5", device_distance_m=0.9), ("device-too-far", "run:R5")),
    plant("device beyond the end of its cable", lambda d: changed(d, "run", "R5", device_distance_m=9.0), ("device-beyond-cable", "run:R5")),
    # the way from cab to roof is 2 m: a wire of 0.9 m does not pass both
    plant("wire shorter than half its way", lambda d: changed(with_way(d, 2.0), "circuit", "104", length_m=0.9, zones=("cab", "roof")),
          ("length-below-route", "circuit:104")),
    plant("cable off a battery without a device",
          lambda d: changed(d, "run", "R5", device_family="", device_rating_a=None, device_distance_m=0.0),
          ("run-unprotected", "run:R5"), ("interrupting-capacity-low", "node:P2")),
    plant("short above what a run's device breaks", lambda d: changed(d, "run", "R5", device_family="MEGA"),
          ("interrupting-capacity-low", "run:R5"), ("interrupting-capacity-low", "node:P2")),
    plant("short above what a panel's devices break, nothing cited", lambda d: with_rule(d, "backup-device", "not cited"),
          ("interrupting-capacity-low", "node:P1"), ("interrupting-capacity-low", "node:P2")),
    # MAXI needs 3.5 × 20 = 70 A: 12 V over 45 m of 16 gauge and back at 50 °C (16.3 mΩ/m) is 15 A, and its drop too much
    plant("short at the far end that opens nothing",
          lambda d: changed(d, "circuit", "202", length_m=24.0, return_length_m=24.0, device_rating_a=10.0),
          ("fault-not-cleared", "circuit:202"), ("drop-over-limit", "circuit:202")),
    # a type 1 breaker breaks 750 A, and what is behind it is no longer backed up
    plant("breaker at a battery that resets by itself",
          lambda d: changed(d, "run", "R5", device_family="breaker-1", device_rating_a=50.0),
          ("breaker-cycles-at-source", "run:R5"), ("interrupting-capacity-low", "run:R5"), ("interrupting-capacity-low", "node:P2")),
    # 12 V over 2.5 m of 16 gauge at 50 °C (16.3 mΩ/m) and 10 mΩ more is 240 A; the feed's 100 A opens quickly at 350 A
    plant("breaker that resets by itself on a short its feed does not see",
          lambda d: changed(d, "circuit", "202", device_family="breaker-1"), ("breaker-cycles-on", "circuit:202")),
    # 4 gauge at 50 °C is 0.99 mΩ/m: 12 V over 34 m of it and 8 mΩ more is 290 A of the 350 A wanted; the radio's 0.2 V goes too
    plant("short behind a feed that its device does not see", lambda d: changed(d, "run", "R6", length_m=34.0),
          ("feed-fault-not-cleared", "run:R5"), ("drop-over-limit", "circuit:201")),
    plant("feeds that may open before what is behind them, for a buyer who asks",
          lambda d: with_rule(d, "coordination", "by opening times"),
          ("device-not-selective", "run:R2"), ("device-not-selective", "run:R4")),
)  # fmt: skip

VOLTAGE = (
    # 12 A × (2 + 0.5 … ) on 16 gauge: 14.57 mΩ/m × 1.118 × 9.5 m × 12 A = 1.86 V of 1.2 V
    plant("drop over the limit", lambda d: changed(d, "circuit", "101", length_m=9.0, gauge="16"),
          ("drop-over-limit", "circuit:101")),
    plant("radio drop over the radio makers' 0.2 V", lambda d: changed(d, "circuit", "201", gauge="16"),
          ("drop-over-limit", "circuit:201")),
    plant("feeder over a limit of its own", lambda d: feeder_rule(d, 0.006, to_node="P1"),
          ("section-drop-over-limit", "node:P1")),
    plant("feeder near a limit of its own", lambda d: feeder_rule(d, 0.0064, to_node="P1"),
          ("section-drop-near-limit", "node:P1")),
    plant("drop rule for what is not on this build", lambda d: feeder_rule(d, 0.05, to_node="P9"),
          ("drop-rule-unmet", "drop-rule:own-all")),
    plant("drop within five percent of its limit", lambda d: drop_rule(d, "radio", 0.0084), ("drop-near-limit", "circuit:201")),
    plant("load that cannot hold its least voltage", lambda d: changed(d, "load", "RADIO", min_v=12.05),
          ("load-cuts-out", "load:RADIO")),
    plant("constant power past what its wire can carry",
          lambda d: without(changed(changed(d, "load", "SCENE", current_a=100.0, min_v=0.0), "circuit", "103", gauge="16", length_m=20.0,
                                    device_rating_a=150.0, device_family="MEGA"), "condition", "driving", "watch", "parked"),
          ("no-operating-point", "condition:scene"), ("device-above-conductor", "circuit:103"), ("device-above-feed", "circuit:103"),
          ("fault-not-cleared", "circuit:103"),
          ("load-unused", "load:SIREN")),
    plant("drop class that has no rule", lambda d: changed(d, "load", "SCENE", drop_class="radoi"),
          ("drop-class-without-rule", "load:SCENE")),
    plant("ground far above the battery's post", lambda d: changed(d, "node", "G1", resistance_mohm=5.0),
          ("stud-drop-over-limit", "node:G1")),
)  # fmt: skip

TREE = (
    # 100 A over R2 and 100 A over R5 and R9 to a panel made for 100; DISC2's panel only hangs on P1 too
    plant("panel fed twice", lambda d: added(d, "run", supply("R9", "DISC2", "P1", "4", 1.0)),
          ("node-below-feed", "node:P1"), ("node-below-feed", "node:P2"),
          ("device-above-conductor", "run:R3"), ("device-above-conductor", "run:R6"),
          ("disconnect-leaves-live", "node:DISC"), ("disconnect-leaves-live", "node:DISC2"),
          ("device-leaves-live", "run:R1"), ("device-leaves-live", "run:R2"), ("device-leaves-live", "run:R5")),
    plant("charging cable without a device", lambda d: changed(d, "run", "R7", device_family="", device_rating_a=None),
          ("charging-cable-unprotected", "run:R7")),
    plant("vehicle maker's own cable that carries more than it can", lambda d: changed(d, "run", "R2", gauge="18", makers_own=True),
          ("makers-cable-overloaded", "run:R2")),
    plant("one of two conductors behind more than it bears", lambda d: changed(d, "run", "R7", gauge="2/0"),
          ("parallel-member-unprotected", "run:R7")),
    plant("a device in the way back of a radio", lambda d: changed(d, "run", "S2", device_family="MRBF", device_rating_a=100.0),
          ("return-device-bypassed", "run:S2")),
    plant("batteries joined past the isolator", lambda d: added(d, "run", supply("R9", "BAT1", "BAT2", "2", 3.0)),
          ("run-unprotected", "run:R9")),
    plant("batteries joined with a device at one end only",
          lambda d: added(d, "run", supply("R9", "BAT1", "BAT2", "1", 3.0, device_family="MRBF", device_rating_a=150.0, device_distance_m=0.1)),
          ("link-unprotected-end", "run:R9")),
    # two 8 gauge at 50 °C carry 89 A each; 100 A of heater are too much for one
    plant("parallel runs of which one cannot carry the whole", lambda d: twin_feed(d, "8"),
          ("parallel-survivor", "run:H3"), ("device-leaves-live", "run:H2"), ("device-leaves-live", "run:H3")),
    plant("panel that nothing feeds", lambda d: without(d, "run", "R6"), ("not-fed", "circuit:201"), ("not-fed", "circuit:202")),
    plant("ground that leads nowhere", lambda d: changed(d, "node", "G2", chassis=""),
          ("no-way-back", "circuit:201"), ("no-way-back", "circuit:202")),
    plant("load on where the isolator is open",
          lambda d: uses(changed(d, "run", "R5", from_node="ISO"), "watch", "RADIO"),
          ("load-not-fed", "load:RADIO")),
    plant("panel before every disconnect", lambda d: changed(d, "run", "R6", from_node="BAT2", device_family="ANL", device_rating_a=100.0),
          ("disconnect-missing", "node:P2")),
    plant("node above its rating", lambda d: changed(d, "node", "P1", rating_a=20.0), ("node-over-rating", "node:P1")),
    plant("node below its feed's device", lambda d: changed(d, "node", "P2", rating_a=60.0), ("node-below-feed", "node:P2")),
    plant("two circuits at one position", lambda d: changed(d, "circuit", "102", position=1), ("position-doubled", "circuit:102")),
    plant("position that the panel has not", lambda d: changed(d, "circuit", "202", position=9), ("position-beyond-panel", "circuit:202")),
    plant("panel without spare positions", lambda d: changed(d, "node", "P2", panel=PanelSpec(positions=3, columns=1)),
          ("spare-positions-few", "node:P2")),
)  # fmt: skip


IDENTITY = (
    plant("circuit without a legend", lambda d: changed(d, "circuit", "103", legend=" "), ("circuit-unlabelled", "circuit:103")),
    plant("two circuits with one legend", lambda d: changed(d, "circuit", "103", legend="siren  amp"), ("legend-doubled", "circuit:103")),
    plant("colour that is none", lambda d: changed(d, "circuit", "103", colour="RD/XX"), ("colour-unknown", "circuit:103")),
    plant("circuit that feeds nothing", lambda d: added(d, "circuit", circuit("105", "SPARE", "P1", 5, 10.0, "14", 1.0)),
          ("circuit-without-load", "circuit:105")),
    plant("load that nobody uses", lambda d: added(d, "load", load("FAN", "104", "fan", "cab", 1.0)), ("load-unused", "load:FAN")),
    plant("no VIN yet", lambda d: vehicle(d, vin=""), ("vin-missing", "build")),
    plant("VIN whose check digit does not fit", lambda d: vehicle(d, vin="1M8GDM9A0KP042788"), ("vin-check-digit", "build")),
    plant("VIN with a letter that no VIN has", lambda d: vehicle(d, vin="1M8GDM9AXKPO42788"), ("vin-check-digit", "build")),
)  # fmt: skip

ENERGY = (
    plant("source short at road speed", lambda d: heavy(d, "driving", 180.0),
          ("source-deficit-at-speed", "condition:driving")),
    plant("source short at idle", lambda d: heavy(d, "scene", 80.0), ("source-deficit-at-idle", "condition:scene")),
    plant("source without the margin asked for", lambda d: with_rule(d, "source-margin", 0.75), ("source-margin-low", "condition:scene")),
    plant("engine running without an alternator", lambda d: without(without(d, "run", "R7"), "node", "ALT"),
          ("source-missing", "condition:driving"), ("source-missing", "condition:scene")),
    plant("battery that does not last", lambda d: changed(d, "condition", "watch", min_hours=8.0),
          ("battery-time-short", "condition:watch")),
    plant("key-off draw over the limit", lambda d: changed(d, "load", "RADIO", key_off_a=0.06), ("key-off-over-limit", "build")),
    # 90 Ah, half of it, at 6 A: some hours where days are asked for
    plant("load left on with the key off", lambda d: key_off_with(d, "RADIO"), ("key-off-load-on", "condition:parked")),
    plant("battery that does not bear standing", lambda d: with_rule(d, "key-off-days", 200.0), ("key-off-days-few", "build")),
)  # fmt: skip


def twin_feed(design: Design, gauge: str) -> Design:
    """The heater at road speed, 100 A, its panel fed by two runs side by side, each with a device of its own."""
    design = changed(
        heavy(design, "driving", 100.0), "run", "H2", gauge=gauge, parallel=1, device_family="ANL", device_rating_a=80.0
    )
    twin = supply("H3", "HD", "HP", gauge, 0.5, device_family="ANL", device_rating_a=80.0)
    return changed(
        added(design, "run", twin), "circuit", "H01", device_rating_a=150.0, gauge="2/0", device_family="MEGA"
    )


def heavy(design: Design, condition: str, current_a: float) -> Design:
    """A heater of so many amperes on the charged battery, on in one condition, wired as it should be."""
    battery_side = (
        supply(
            "H1",
            "BAT1",
            "HD",
            "4/0",
            1.0,
            parallel=3,
            device_family="class-T",
            device_rating_a=400.0,
            device_distance_m=0.1,
        ),
        supply("H2", "HD", "HP", "4/0", 0.5, parallel=3),
    )
    nodes = (
        PowerNode(key="HD", kind=NodeKind.DISCONNECT, name="heater disconnect", zone="cab", rating_a=500.0),
        PowerNode(
            key="HP", kind=NodeKind.PANEL, name="heater panel", zone="cab", panel=PanelSpec(positions=3, columns=1)
        ),
    )
    wide = circuit(
        "H01", "HEATER", "HP", 1, 300.0, "4/0", 0.4, device_family="class-T", return_node="BAT1", return_length_m=0.4
    )
    heater = load("HEATER", "H01", "heater", "cab", current_a)
    design = added(added(added(added(design, "run", *battery_side), "node", *nodes), "circuit", wide), "load", heater)
    on = next(one for one in design.conditions if one.key == condition).uses
    return changed(design, "condition", condition, uses=(*on, LoadUse(load="HEATER")))


MODEL_YEAR = (
    # position 7 of SOUND's number is a 9 and position 10 a K: 1989 in a light vehicle
    plant("platform of another year than the VIN", lambda d: platform(d, version="2025 to 2026"), ("model-year-differs", "build")),
    plant("another year written down than the VIN's", lambda d: vehicle(d, model_year=1991), ("model-year-differs", "build")),
)  # fmt: skip

WEIGHT = (
    plant("heavier than its rating", lambda d: platform(d, gvwr_kg=2800.0), ("gvwr-exceeded", "build")),
    plant("nothing left for people", lambda d: platform(d, gvwr_kg=3100.0), ("payload-negative", "build")),
    plant("a wire whose insulation bears no more than its place has",
          lambda d: changed(d, "circuit", "104", zones=("engine",), insulation_c=85.0), ("insulation-below-ambient", "circuit:104")),
    plant("a bundle counted too low", lambda d: bundled(d, "101", "103", "104", bundle=2), ("bundle-count-low", "circuit:101")),
    # the siren is on while driving, scene light and winch at the scene
    plant("a bundle of which not all is ever on", lambda d: bundled(d, "101", "102", "104"), ("bundle-loads-left-out", "circuit:104")),
    plant("four wires in one loom, each as if alone", lambda d: bundled(d, "101", "102", "103", "104", bundle_name="", zones=("cab", "roof")),
          ("bundle-not-counted", "build")),
    plant("front axle over its rating", lambda d: platform(d, gawr_front_kg=1540.0), ("front-axle-over-rating", "build")),
    plant("rear axle over its rating", lambda d: platform(d, gawr_rear_kg=1290.0), ("rear-axle-over-rating", "build")),
    plant("front axle near its rating", lambda d: platform(d, gawr_front_kg=1600.0), ("front-axle-near-rating", "build"),
          ("front-axle-over-rating-loaded", "build")),
    plant("rear axle near its rating", lambda d: platform(d, gawr_rear_kg=1340.0), ("rear-axle-near-rating", "build"),
          ("rear-axle-over-rating-loaded", "build")),
    plant("gear, and nobody knows where the seats are", lambda d: platform(d, seat_places=()), ("loaded-axles-not-checked", "build")),
    plant("seats of which some have no place", lambda d: platform(d, seats=7), ("seats-without-place", "build")),
    plant("more places than seats", lambda d: platform(d, seats=4), ("seats-placed-above-count", "build")),
    plant("weight added before the first sale", lambda d: vehicle(d, sold_before=False), ("weight-label", "build")),
    plant("roof over its limit", lambda d: changed(d, "part", "L1", mass_kg=80.0), ("zone-over-limit", "zone:roof")),
    plant("everything of the roof in an airbag's way", lambda d: no_mount(d, "roof"),
          ("part-in-no-mount-zone", "part:L1"), ("load-in-no-mount-zone", "load:BAR"), ("load-in-no-mount-zone", "load:SCENE")),
    plant("panel in an airbag's way", lambda d: no_mount(changed(d, "node", "P1", zone="roof", rating_a=100.0), "roof"),
          ("part-in-no-mount-zone", "part:L1"), ("load-in-no-mount-zone", "load:BAR"), ("load-in-no-mount-zone", "load:SCENE"),
          ("node-in-no-mount-zone", "node:P1")),
    plant("wire through an airbag's way", lambda d: no_mount(changed(without_roof(d), "circuit", "104", zones=("cab", "roof")), "roof"),
          ("wire-in-no-mount-zone", "circuit:104")),
    plant("cable through an airbag's way", lambda d: no_mount(changed(without_roof(d), "run", "R6", zones=("roof",)), "roof"),
          ("wire-in-no-mount-zone", "run:R6")),
)  # fmt: skip


def without_roof(design: Design) -> Design:
    """Everything on the roof put in the cab."""
    for key in ("BAR", "SCENE"):
        design = changed(design, "load", key, zone="cab")
    return changed(design, "part", "L1", zone="cab")


BILL = (
    plant("part of the shop given away", lambda d: changed(d, "part", "L1", unit_price=0.0), ("part-without-price", "part:L1")),
    plant("part that weighs nothing", lambda d: changed(d, "part", "L2", mass_kg=0.0), ("part-without-mass", "part:L2")),
    plant("customer's own part, neither priced nor weighed",
          lambda d: changed(d, "part", "L1", supplied_by=SuppliedBy.CUSTOMER, unit_price=0.0, mass_kg=0.0),
          ("part-without-mass", "part:L1")),
)  # fmt: skip

WORK = (
    plant("work that waits for itself", lambda d: changed(d, "operation", "STRIP", after=("LAY",)), ("operations-cycle", "operation:STRIP")),
    plant("work of another round of waiting",
          lambda d: added(d, "operation", Operation(key="X", name="Drill", place=Place.BENCH, phase=Phase.MOUNT, skill="fitter",
                                                    standard_h=1.0, after=("X",))),
          ("operations-cycle", "operation:X")),
)  # fmt: skip

PLANTS = (*CONDUCTORS, *DEVICES, *VOLTAGE, *TREE, *IDENTITY, *ENERGY, *MODEL_YEAR, *WEIGHT, *BILL, *WORK)
