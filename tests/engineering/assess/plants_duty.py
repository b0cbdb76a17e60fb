"""
Faults of use over time, planted in the sound build: what a duty profile, the shedding and the reserve test bring to light.

The auxiliary battery (100 Ah) carries the watch, 6 A of radio at 12.8 V and a fifth of 2 A of lamps: half of it lasts about
7.6 h. The starting battery (90 Ah, 6 mΩ) is left with about 11.2 V at the tables' 250 A.
"""

from dataclasses import replace

from builds.engineering.design import (
    Design,
    DutyProfile,
    DutySegment,
    LoadUse,
    PowerNode,
    Run,
    ShedStep,
    SourceSpec,
    SourceUse,
)
from builds.engineering.vocabulary import NodeKind, RunSide
from tests.engineering.assess.designs import added, changed, supply
from tests.engineering.assess.plants import Plant, plant

__all__ = ["DUTY", "day", "on_shore", "step", "stopping"]

STEP = ShedStep(key="S1", name="lamps", off_below_v=12.6, on_above_v=13.2)


def day(design: Design, *segments: tuple[str, float], **profile: float) -> Design:
    """A profile of conditions and minutes."""
    return replace(
        design,
        duty_profiles=(DutyProfile(key="day", name="a day", **profile),),
        duty_segments=tuple(
            DutySegment(key=f"T{place}", profile="day", condition=condition, duration_min=minutes)
            for place, (condition, minutes) in enumerate(segments, start=1)
        ),
    )


def step(design: Design, *loads: str, **figures: float | bool | str) -> Design:
    """A step of the shedding, and the loads that go off with it."""
    for key in loads:
        design = changed(design, "load", key, shed_step="S1")
    return replace(design, shed_steps=(replace(STEP, **figures),))


def battery(design: Design, key: str, **figures: float) -> Design:
    """A battery with other figures."""
    spec = next(node.battery for node in design.nodes if node.key == key)
    assert spec is not None
    return changed(design, "node", key, battery=replace(spec, **figures))


def reserve_test(design: Design, minutes: float, *loads: str) -> Design:
    """The watch as the load of an engine-off test."""
    on = tuple(LoadUse(load=key) for key in loads)
    return changed(design, "condition", "watch", reserve_test_min=minutes, uses=on, min_hours=None)


def on_shore(design: Design, limit_a: float) -> Design:
    """A shore charger on the auxiliary battery, on in the watch."""
    shore = PowerNode(
        key="SH", kind=NodeKind.SHORE, name="shore charger", zone="cargo",
        source=SourceSpec(limit_a=limit_a, low_v=13.4, high_v=13.8),
    )  # fmt: skip
    feed = supply("R9", "BAT2", "SH", "8", 0.5, device_family="MRBF", device_rating_a=50.0, device_distance_m=0.1)
    home = Run(key="S9", from_node="BAT2", to_node="SH", side=RunSide.RETURN, gauge="8", length_m=0.5)
    design = added(added(design, "node", shore), "run", feed, home)
    return changed(design, "condition", "watch", sources=(SourceUse(node="SH"),))


def stopping(design: Design, **figures: float | bool | str) -> Design:
    """A step that watches a half empty battery, on a drive with three stops of a minute."""
    watch = {"off_below_v": 12.4, "on_above_v": 12.8, "off_delay_s": 30.0, "battery": "BAT1"}
    design = day(step(design, "LOCKER", **(watch | figures)), start_ratio=0.5, battery_c=5.0, crank_a=100.0)
    segment = DutySegment(key="T1", profile="day", condition="driving", duration_min=30.0, engine_stops=3, stop_s=60.0)
    return replace(design, duty_segments=(segment,))


DUTY: tuple[Plant, ...] = (
    plant("a watch longer than its battery lasts", lambda d: day(d, ("watch", 600)), ("profile-battery-low", "duty:day")),
    # 100 Ah at some 7 A last 13 h, and the watch goes on for 24
    plant("a watch that goes on with the battery empty", lambda d: day(d, ("watch", 1440)),
          ("profile-battery-low", "duty:day"), ("profile-loads-unserved", "duty:day"), ("profile-not-recovered", "duty:day")),
    plant("a day that ends lower than it began", lambda d: day(d, ("watch", 240), ("driving", 10)),
          ("profile-not-recovered", "duty:day")),
    plant("a battery that takes no charge in the cold",
          lambda d: day(battery(d, "BAT2", least_charge_c=0.0), ("driving", 60), battery_c=-5.0),
          ("battery-too-cold-to-charge", "node:BAT2")),
    # 12.5 V at the posts stands at some 74 %, after 25 Ah
    plant("a battery that switches itself off",
          lambda d: day(battery(d, "BAT2", cut_off_v=12.5), ("watch", 300)), ("battery-switches-off", "node:BAT2")),
    plant("a profile of nothing", day, ("profile-without-segments", "duty:day")),
    plant("a starter that needs more than the battery has", lambda d: day(d, ("driving", 60), crank_least_v=12.0),
          ("will-not-restart", "duty:day")),
    # 12.8 V - 500 A x 6 mΩ = 9.8 V and what the loads take: the siren amplifier drops out below 10 V
    plant("a module that drops out while cranking", lambda d: day(d, ("driving", 60), crank_a=500.0, crank_least_v=5.0),
          ("restart-drops-load", "segment:T1")),
    plant("a step that is restored by letting go", lambda d: step(day(d, ("watch", 240)), "RADIO", on_above_v=12.62),
          ("shedding-chatters", "shed:S1"), ("profile-figures-end", "duty:day")),
    # 12.3 V at rest while the engine stands, 13.2 V and more while it runs
    plant("a step that every start of the engine brings back", stopping, ("shedding-follows-charging", "shed:S1")),
    # 6 A and more of watch, 3 A of shore charger
    plant("a shore charger too small for the watch", lambda d: on_shore(d, 3.0), ("source-deficit-standing", "condition:watch")),
    plant("a load on both lists", lambda d: changed(step(d, "LOCKER"), "load", "LOCKER", never_shed=True),
          ("never-shed-in-step", "load:LOCKER")),
    plant("a step for nothing", step, ("shed-step-empty", "shed:S1")),
    # 12 A for half of 400 min are 40 Ah; 40 % of 90 Ah are 36
    plant("a timer that takes the battery with it", lambda d: changed(d, "load", "BAR", run_on_min=400.0),
          ("run-on-flattens", "node:BAT1"), ("key-off-days-few", "build")),
    # about 8 A for 300 min are 40 Ah; half of 100 min at 25 A are 20.8
    plant("a test that takes more than half the reserve",
          lambda d: reserve_test(battery(d, "BAT2", reserve_min=100.0), 300.0, "RADIO", "LOCKER"),
          ("reserve-check-failed", "condition:watch")),
    plant("a test after which the engine does not start",
          lambda d: reserve_test(battery(d, "BAT1", reserve_min=120.0, internal_mohm=12.5), 10.0, "SCENE"),
          ("reserve-no-restart", "condition:watch")),
    plant("a test against a reserve nobody wrote down", lambda d: reserve_test(d, 10.0, "RADIO"),
          ("reserve-unknown", "condition:watch")),
)  # fmt: skip
