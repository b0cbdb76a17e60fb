"""How a vehicle is used over a day or a job, and what is switched off to keep its batteries alive."""

from dataclasses import dataclass

from builds.engineering.errors import OutOfRange
from builds.engineering.ranges import MAX_SYSTEM_V, check_count, check_key, check_within

__all__ = ["DutyProfile", "DutySegment", "ShedStep"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyProfile:
    """
    Stretches of use one after the other: the segments that name it, in the design's order.

    ``start_ratio`` is the state of charge all batteries begin with, ``battery_c`` their temperature. The rest says what
    starting the engine takes, ``crank_cable_mohm`` of it the way from the battery's posts to the starter and back; where
    nothing is given, the platform's figures stand in, and the tables' where it has none.
    """

    key: str
    name: str
    start_ratio: float = 1.0
    battery_c: float = 25.0
    crank_a: float | None = None
    crank_s: float | None = None
    crank_least_v: float | None = None
    crank_cable_mohm: float | None = None

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("start_ratio", self.start_ratio, 0.01, 1.0)
        check_within("battery_c", self.battery_c, -40.0, 80.0)
        for name, most in (("crank_a", 5000.0), ("crank_s", 60.0), ("crank_least_v", MAX_SYSTEM_V)):
            if getattr(self, name) is not None:
                check_within(name, getattr(self, name), 0.1, most)
        if self.crank_cable_mohm is not None:
            check_within("crank_cable_mohm", self.crank_cable_mohm, 0.0, 1000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DutySegment:
    """
    A stretch of a profile: an operating condition and how long it lasts.

    ``engine_stops`` times within it the engine stops for ``stop_s`` with everything on, and is started again, as a
    stop-start system does.
    """

    key: str
    profile: str
    condition: str
    duration_min: float
    engine_stops: int = 0
    stop_s: float = 60.0

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("duration_min", self.duration_min, 0.01, 100_000.0)
        check_count("engine_stops", self.engine_stops, least=0)
        check_within("engine_stops", self.engine_stops, 0, 1000)
        check_within("stop_s", self.stop_s, 1.0, 3600.0)
        if self.engine_stops * self.stop_s >= 60.0 * self.duration_min:
            raise OutOfRange("engine_stops", self.engine_stops, "so few that they are over before the segment is")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedStep:
    """
    A step of the shedding: the loads that name it go off together.

    Off when ``battery`` (the one that feeds its loads where empty) has been below ``off_below_v`` for ``off_delay_s``, on
    again when it has been above ``on_above_v`` for ``on_delay_s``. While ``ignores_crank`` starting the engine does not count.
    """

    key: str
    name: str
    off_below_v: float
    on_above_v: float
    off_delay_s: float = 60.0
    on_delay_s: float = 60.0
    battery: str = ""
    ignores_crank: bool = True

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("off_below_v", self.off_below_v, 1.0, MAX_SYSTEM_V)
        check_within("on_above_v", self.on_above_v, self.off_below_v, MAX_SYSTEM_V)
        check_within("off_delay_s", self.off_delay_s, 0.0, 86_400.0)
        check_within("on_delay_s", self.on_delay_s, 0.0, 86_400.0)
