"""
Faults about access points, converters, voltages, switches and sides, planted one at a time in sound builds.

:data:`WITH_24_V` is the sound build with a 24 V bus behind a converter and a camera on it; :data:`WITH_STUD` has the maker's
stud, fused by the maker at 60 A and allowed 30 A, and a heater on it.
"""

from dataclasses import replace

from builds.engineering.design import (
    AccessPoint,
    AlternatorPoint,
    AlternatorSpec,
    ConverterSpec,
    Design,
    LoadUse,
    PanelSpec,
    PowerNode,
    Run,
    SeatPlace,
    SourceUse,
)
from builds.engineering.vocabulary import HotWhen, IsolatorKind, NodeKind, Polarity, RunSide, Suppression, Switching
from tests.engineering.assess.designs import PLATFORM, SOUND, added, changed, circuit, load, supply, with_rule, without
from tests.engineering.assess.plants_duty import on_shore

__all__ = ["FEEDING_PLANTS", "NAMED", "STUD", "WITH_24_V", "WITH_CHARGER", "WITH_STRAP", "WITH_STUD", "converter"]


def converter(**more: float) -> ConverterSpec:
    return ConverterSpec(**{"output_v": 24.0, "limit_a": 30.0, "efficiency_ratio": 0.9, **more}, return_node="G1")


def on_in(design: Design, condition: str, *keys: str) -> Design:
    found = next(one for one in design.conditions if one.key == condition)
    return changed(design, "condition", condition, uses=(*found.uses, *(LoadUse(load=key) for key in keys)))


def over_stud(design: Design) -> Design:
    """The alternator's cable goes to a stud, and from there on to the battery."""
    stud = PowerNode(key="JB", kind=NodeKind.BUS, name="power stud", zone="engine")
    onward = supply("R10", "BAT1", "JB", "4/0", 0.3, parallel=2)
    return changed(
        added(added(design, "node", stud), "run", onward), "run", "R7", from_node="JB", device_distance_m=0.1
    )


def with_negative_bus(design: Design) -> Design:
    """The winch contactor's circuit returns to a bus that is wired to the battery's post."""
    bus = PowerNode(key="NB", kind=NodeKind.GROUND, name="return bus", zone="cab")
    home = Run(key="N9", from_node="BAT1", to_node="NB", side=RunSide.RETURN, gauge="4", length_m=2.0)
    return changed(added(added(design, "node", bus), "run", home), "circuit", "104", return_node="NB")


def with_charger() -> Design:
    """A DC-DC on the main disconnect charges the second battery, which no isolator joins to the first."""
    charger = PowerNode(
        key="CV", kind=NodeKind.CONVERTER, name="battery charger", zone="cargo",
        converter=replace(converter(output_v=14.4, limit_a=40.0), return_node="G2"),
    )  # fmt: skip
    feed = supply("R8", "DISC", "CV", "4", 3.0, device_family="ANL", device_rating_a=80.0)
    onward = supply("R9", "CV", "BAT2", "6", 1.0, device_family="MRBF", device_rating_a=60.0)
    return added(added(without(without(SOUND, "run", "R3", "R4"), "node", "ISO"), "node", charger), "run", feed, onward)


def with_24_v() -> Design:
    design = added(
        SOUND,
        "node",
        PowerNode(key="CV", kind=NodeKind.CONVERTER, name="24 V converter", zone="cab", converter=converter()),
        PowerNode(
            key="P3",
            kind=NodeKind.PANEL,
            name="24 V panel",
            zone="cab",
            nominal_v=24.0,
            panel=PanelSpec(positions=4, columns=2),
        ),
    )
    feed = supply("R8", "DISC", "CV", "4", 1.0, device_family="ANL", device_rating_a=100.0)
    design = added(design, "run", feed, supply("R9", "CV", "P3", "8", 0.5))
    design = added(design, "circuit", circuit("301", "CAMERA", "P3", 1, 5.0, "14", 2.0, return_node="G1"))
    design = added(design, "load", load("CAM", "301", "camera", "roof", 3.0, at_v=24.0, max_v=30.0))
    return on_in(design, "scene", "CAM")


WITH_24_V = with_24_v()
WITH_CHARGER = with_charger()
STUD = AccessPoint(
    key="X1", name="upfitter stud", zone="cab", function="added loads", allowance_a=30.0, device_rating_a=60.0
)


def with_points(design: Design, *points: AccessPoint) -> Design:
    return replace(design, platform=replace(design.platform, access_points=points))


def with_stud() -> Design:
    design = with_points(SOUND, STUD)
    stud = PowerNode(key="AP1", kind=NodeKind.ACCESS_POINT, name="upfitter stud", zone="cab", access_point="X1")
    design = added(design, "node", stud)
    design = added(
        design, "run", supply("R10", "BAT1", "AP1", "6", 1.5, device_family="MRBF", device_rating_a=60.0, device_distance_m=0.1)
    )  # fmt: skip
    design = added(design, "circuit", circuit("401", "HEATER", "AP1", 1, 30.0, "10", 2.0, return_node="G1"))
    design = added(design, "load", load("HEAT", "401", "heater", "cab", 20.0))
    return with_rule(with_rule(on_in(design, "scene", "HEAT"), "backup-device", "cited"), "near-margin", 0.0)


def with_strap(gauge: str = "2/0", *, parallel: int = 1) -> Design:
    """The alternator's negative on the engine block, and a strap from that to the body: it gives 220 × 0.8 = 176 A at most."""
    home = Run(key="S3", from_node="ALT", to_node="ENG", side=RunSide.RETURN, gauge="4/0", length_m=0.2, parallel=2)
    strap = Run(
        key="S4", from_node="ENG", to_node="BODY", side=RunSide.RETURN, gauge=gauge, length_m=0.4, parallel=parallel
    )
    engine = PowerNode(key="ENG", kind=NodeKind.CHASSIS, name="engine block", zone="engine")
    design = added(added(SOUND, "node", engine), "run", home, strap)
    return changed(design, "run", "S1", gauge="2/0", parallel=2)


WITH_STUD = with_stud()
WITH_STRAP = with_strap(parallel=2)


def stud(**fields: object) -> Design:
    return with_points(WITH_STUD, replace(STUD, **fields))


def on_file(**fields: object) -> Design:
    """The stud named, its wire on file and not drawn."""
    wire = replace(STUD, device_family="MRBF", gauge="6", length_m=1.5)
    return with_points(without(WITH_STUD, "run", "R10"), replace(wire, **fields))


NAMED = on_file()


def two_studs() -> Design:
    group = {"group": "bus bar A", "group_allowance_a": 35.0}
    design = with_points(WITH_STUD, replace(STUD, **group), replace(STUD, key="X2", **group))
    design = added(
        design, "node", PowerNode(key="AP2", kind=NodeKind.ACCESS_POINT, name="second stud", zone="cab", access_point="X2")
    )  # fmt: skip
    design = added(
        design, "run", supply("R11", "BAT1", "AP2", "6", 1.5, device_family="MRBF", device_rating_a=60.0, device_distance_m=0.1)
    )  # fmt: skip
    design = added(design, "circuit", circuit("402", "PUMP", "AP2", 1, 30.0, "10", 2.0, return_node="G1"))
    return on_in(added(design, "load", load("PUMP", "402", "pump", "cab", 20.0)), "scene", "PUMP")


def variable(design: Design) -> Design:
    """The alternator is moved between 12.2 and 15 V by the vehicle."""
    spec = AlternatorSpec(rated_a=220.0, idle_ratio=0.4, speed_ratio=0.8, low_v=12.2, high_v=15.0)
    design = changed(changed(design, "node", "ALT", alternator=spec), "load", "SIREN", min_v=9.0)
    return changed(changed(design, "load", "RADIO", min_v=9.0), "load", "SCENE", min_v=9.0)


def seated(design: Design, **fields: object) -> Design:
    seats = (SeatPlace(name="front", seats=2, x_mm=1200.0), SeatPlace(name="rear", seats=3, x_mm=2200.0))
    return replace(design, platform=replace(PLATFORM, **{"seat_places": seats, **fields}))


def gear_at(design: Design, y_mm: float) -> Design:
    zones = tuple(replace(zone, y_mm=y_mm) if zone.key == "cargo" else zone for zone in design.platform.zones)
    return replace(design, platform=replace(design.platform, zones=zones, track_mm=1700.0))


CURVED = AlternatorSpec(
    rated_a=220.0, idle_ratio=0.4, speed_ratio=0.8, pulley_ratio=2.5,
    points=tuple(AlternatorPoint(speed_rpm=speed, ambient_c=93.0, output_a=a) for speed, a in ((1300.0, 80.0), (5000.0, 180.0))),
)  # fmt: skip
BLIND = Run(key="R12", from_node="BUS9", to_node="P9", side=RunSide.SUPPLY, gauge="8", length_m=1.0)

# name, design, and every finding it brings beyond those of the build it is made from
BEARS_24_V = replace(SOUND, loads=tuple(replace(one, jump_v=24.0) for one in SOUND.loads))

FEEDING_PLANTS: tuple[tuple[str, Design, Design, tuple[tuple[str, str], ...]], ...] = (
    # a heater of 20 A at a stud that is allowed 15 A: 12.8 V data sheet, constant current
    ("more than an access point allows", WITH_STUD, stud(allowance_a=15.0), (("access-allowance-exceeded", "node:AP1"),)),
    ("a larger fuse does not cure an allowance", WITH_STUD,
     changed(stud(allowance_a=15.0, device_rating_a=50.0), "run", "R10", device_rating_a=60.0),
     (("access-allowance-exceeded", "node:AP1"), ("access-device-raised", "run:R10"))),
    # 20 + 20 A of 35 A
    ("more than a group of access points allows", WITH_STUD, two_studs(), (("access-group-exceeded", "node:AP1"),)),
    ("a circuit that starts where current goes back", WITH_STUD, stud(polarity=Polarity.NEGATIVE), (("access-polarity", "circuit:401"),)),
    ("more for a moment than an access point allows", WITH_STUD, stud(peak_allowance_a=19.0), (("access-peak-exceeded", "node:AP1"),)),
    ("a maker's way of which nothing is on file", NAMED, on_file(gauge=""), (("access-way-assumed", "node:AP1"),)),
    ("a maker's source that is not there", NAMED, on_file(source="BAT9"), (("access-source-unknown", "node:AP1"),)),
    ("a load on when its access point is dead", WITH_STUD,
     on_in(changed(stud(hot_when=HotWhen.IGNITION), "load", "HEAT", current_a=0.03), "parked", "HEAT"),
     (("access-not-hot", "load:HEAT"),)),
    # 14.4 V at the most, less 1 V
    ("an isolator whose diodes leave too little charge", SOUND, changed(SOUND, "node", "ISO", isolator=IsolatorKind.DIODE, forward_v=1.0),
     (("diode-charge-poor", "node:ISO"),)),
    ("an isolator too weak for an empty battery", SOUND, changed(SOUND, "node", "ISO", rating_a=175.0),
     (("equalising-over-switch", "node:ISO"),)),
    # 176 A of the alternator through 125 A is 1.41 times
    ("a device too small for an empty battery", SOUND, changed(SOUND, "run", "R4", device_rating_a=125.0),
     (("equalising-opens-device", "run:R4"),)),
    ("a coil that nothing quiets", SOUND, changed(SOUND, "load", "WINCH", suppression=Suppression.UNSUPPRESSED),
     (("coil-unsuppressed", "load:WINCH"),)),
    ("a device that a truck's jump start is too much for", with_rule(BEARS_24_V, "jump-start-v", 24.0),
     with_rule(changed(BEARS_24_V, "load", "RADIO", jump_v=18.0), "jump-start-v", 24.0), (("jump-start-too-high", "load:RADIO"),)),
    ("devices of which nobody knows", with_rule(BEARS_24_V, "jump-start-v", 24.0),
     with_rule(changed(BEARS_24_V, "load", "RADIO", jump_v=None), "jump-start-v", 24.0), (("jump-start-unknown", "build"),)),
    # 3 A of camera at 2 A; 5 A of ATO asks for 2 × 5 A at its far end, and a converter gives no more than its limit
    ("a converter past its limit", WITH_24_V, changed(WITH_24_V, "node", "CV", converter=converter(limit_a=2.0)),
     (("converter-over-limit", "node:CV"), ("fault-not-cleared", "circuit:301"))),
    # 13.0 V at the post, less what 33 A lose on the way
    ("a converter below its least volts", WITH_24_V, changed(WITH_24_V, "node", "CV", converter=converter(min_v=12.99)),
     (("converter-cuts-out", "node:CV"),)),
    ("a converter without a feed", WITH_24_V, without(WITH_24_V, "run", "R8"), (("converter-not-fed", "node:CV"),)),
    ("a converter that feeds itself", WITH_24_V, changed(WITH_24_V, "run", "R8", from_node="P3"),
     (("converter-not-fed", "node:CV"),)),
    ("a charger whose output is drawn as a second input", WITH_CHARGER,
     changed(WITH_CHARGER, "run", "R9", from_node="BAT2", to_node="CV"),
     (("converter-gives-nothing", "node:CV"), ("device-leaves-live", "run:R1"), ("device-leaves-live", "run:R8"),
      ("equalising-opens-device", "run:R8"), ("equalising-opens-device", "run:R9"))),
    # 18 AWG is made for some 20 A; all that the alternator gives comes home over the strap
    ("a strap that the alternator's own current burns", WITH_STRAP, with_strap("18"), (("conductor-below-load", "run:S4"),)),
    ("a maker's curve that nothing reads", SOUND, changed(SOUND, "node", "ALT", alternator=CURVED), (("alternator-curve-unread", "node:ALT"),)),
    ("an engine without a strap", WITH_STRAP, without(WITH_STRAP, "run", "S4"), (("source-no-way-back", "node:ALT"),)),
    ("a 24 V panel left at 12 V", WITH_24_V, changed(WITH_24_V, "node", "P3", nominal_v=12.0), (("nominal-voltage-unlike", "node:P3"),)),
    ("an engine off at the alternator's volts", SOUND, changed(SOUND, "condition", "watch", source_low_v=14.2, source_high_v=14.4),
     (("volts-without-charger", "condition:watch"),)),
    # 13.0 V and 192 A more over some 20 mΩ of way out and back
    ("a start that takes the load itself down", SOUND, changed(SOUND, "load", "SCENE", inrush_a=200.0),
     (("inrush-below-least", "load:SCENE"),)),
    ("a start that its device does not bear", SOUND, changed(SOUND, "load", "SCENE", inrush_a=9000.0, min_v=0.0),
     (("inrush-opens-device", "load:SCENE"),)),
    ("a charger that was drawn with its feed alone", on_shore(SOUND, 10.0), without(on_shore(SOUND, 10.0), "run", "S9"),
     (("source-return-not-drawn", "node:SH"),)),
    ("a load above its window", WITH_24_V, changed(WITH_24_V, "load", "CAM", max_v=23.0), (("load-over-voltage", "load:CAM"),)),
    ("a 12 V data sheet on a 24 V bus", WITH_24_V, changed(WITH_24_V, "load", "CAM", at_v=12.8), (("load-voltage-unlike", "load:CAM"),)),
    ("a load switched in its return", SOUND, changed(SOUND, "load", "LOCKER", switching=Switching.LOW_SIDE),
     (("low-side-switched", "load:LOCKER"),)),
    # a siren returns beside the radio no longer: it turns nothing round there
    ("a bridge whose lead goes to a ground", SOUND, changed(SOUND, "load", "WINCH", switching=Switching.BRIDGE),
     (("bridge-returns-to-ground", "load:WINCH"),)),
    ("a return over a body that is not metal", SOUND,
     changed(changed(SOUND, "node", "BODY", metal=False), "node", "G2", chassis=""),
     tuple(("chassis-without-metal", f"circuit:{number}") for number in ("101", "102", "103", "104"))
     + tuple(("no-way-back", f"circuit:{number}") for number in ("201", "202"))),
    # 12 A of bar over the stud's 0.3 mΩ and 1 m of 1/0 (0.36 mΩ at 50 °C): 8 mV
    ("a radio on the ground of what flashes", SOUND, with_rule(changed(SOUND, "circuit", "201", return_node="G1"), "ground-step", 0.005),
     (("ground-shared", "load:RADIO"),)),
    ("an isolator under a source that goes down", SOUND, variable(SOUND), (("isolator-under-variable-voltage", "node:ISO"),)),
    ("a return past the battery sensor", variable(SOUND), changed(variable(SOUND), "circuit", "102", return_node="BAT1"),
     (("battery-sensor-bypassed", "circuit:102"),)),
    ("a return past the battery sensor, the alternator on a stud of its own", over_stud(variable(SOUND)),
     changed(over_stud(variable(SOUND)), "circuit", "102", return_node="BAT1"), (("battery-sensor-bypassed", "circuit:102"),)),
    ("a bridge whose lead goes to a bus of returns", with_negative_bus(SOUND),
     changed(with_negative_bus(SOUND), "load", "WINCH", switching=Switching.BRIDGE), (("bridge-returns-to-ground", "load:WINCH"),)),
    ("a disconnect opened with the engine on", SOUND,
     changed(SOUND, "condition", "driving", open_nodes=("DISC2",), sources=(SourceUse(node="ALT"),)),
     (("disconnect-opened-running", "node:DISC2"), ("load-not-fed", "load:RADIO"))),
    ("a cable that nothing feeds", SOUND,
     added(added(SOUND, "node", PowerNode(key="BUS9", kind=NodeKind.BUS, name="bus", zone="cab"),
                 PowerNode(key="P9", kind=NodeKind.BUS, name="bus", zone="cab")), "run", BLIND),
     (("run-not-fed", "run:R12"),)),
    # rear 1200 + (14 × 1500 + 120 × 2600) / 3600 = 1292.5 kg; five of 68.04 kg add (136.08 × 1200 + 204.12 × 2200) / 3600 = 170.1
    ("a rear axle over its rating with people aboard", SOUND, seated(SOUND, gawr_rear_kg=1400.0),
     (("rear-axle-over-rating-loaded", "build"),)),
    # front 1500 + 41.5 = 1541.5 as built, and 340.2 - 170.1 = 170.1 more with people
    ("a front axle over its rating with people aboard", SOUND, seated(SOUND, gawr_front_kg=1650.0),
     (("front-axle-over-rating-loaded", "build"),)),
    # 4500 - 2700 - 134 = 1666 kg left: five of 340 kg are 1700
    ("a crew that weighs more than the regulation's", SOUND,
     with_rule(replace(SOUND, platform=replace(PLATFORM, gvwr_kg=3250.0)), "crew-mass", 100.0), (("crew-over-payload", "build"),)),
    # 120 kg at 1000 mm of 850: right gets 120 × (1/2 + 1000/1700) = 130.6, left -10.6: (130.6 + 7 - (-10.6 + 7)) / 2834 = 5.0 %
    ("gear on one side", SOUND, gear_at(SOUND, 1050.0), (("sides-unbalanced", "build"),)),
)  # fmt: skip
