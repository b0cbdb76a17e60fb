"""A version of a vehicle model as the shop knows it: weights, zones, ways for wire, places to leave alone."""

from dataclasses import dataclass

from builds.engineering.ranges import MAX_SYSTEM_V, check_at_least, check_count, check_key, check_within
from builds.engineering.vocabulary import HotWhen, Polarity

__all__ = ["AccessPoint", "NoMountZone", "Platform", "Route", "SeatPlace", "Zone"]

MOST_PLACE_MM = 30_000.0


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
class AccessPoint:
    """
    A place where the vehicle's maker lets others take or give current: a stud, a connector's pin, an upfitter switch.

    ``device_rating_a`` is the maker's own fuse. ``allowance_a`` is the most that may be taken here, whatever that fuse is, and
    ``peak_allowance_a`` the most for a moment; points of one ``group`` share ``group_allowance_a`` besides.
    ``source`` is the node that the maker feeds it from, the build's first battery where it is empty. The maker's wire to it
    has a ``resistance_mohm``, or a ``gauge`` and a ``length_m``; where neither is known its resistance is assumed.
    """

    key: str
    name: str
    zone: str
    allowance_a: float
    function: str = ""
    polarity: Polarity = Polarity.POSITIVE
    hot_when: HotWhen = HotWhen.ALWAYS
    device_rating_a: float | None = None
    group: str = ""
    group_allowance_a: float | None = None
    guide: str = ""
    peak_allowance_a: float | None = None
    source: str = ""
    device_family: str = ""
    gauge: str = ""
    length_m: float | None = None
    resistance_mohm: float | None = None

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("allowance_a", self.allowance_a, 0.0, 5000.0)
        for name, most in (("peak_allowance_a", 5000.0), ("length_m", 100.0), ("resistance_mohm", 10_000.0)):
            if getattr(self, name) is not None:
                check_within(name, getattr(self, name), 0.0, most)
        if self.device_rating_a is not None:
            check_within("device_rating_a", self.device_rating_a, 0.1, 5000.0)
        if self.group_allowance_a is not None:
            check_within("group_allowance_a", self.group_allowance_a, 0.0, 5000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatPlace:
    """Seats side by side in one place, with the middle of their occupants."""

    name: str
    seats: int
    x_mm: float
    y_mm: float = 0.0

    def __post_init__(self) -> None:
        check_count("seats", self.seats, least=1)
        check_within("x_mm", self.x_mm, -MOST_PLACE_MM, MOST_PLACE_MM)
        check_within("y_mm", self.y_mm, -MOST_PLACE_MM, MOST_PLACE_MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Platform:
    """
    One version of a vehicle model as the shop knows it.

    Its curb weight has all fluids and a full tank in it; ``fuel_kg`` and ``fuel_x_mm`` say how much of it is fuel, and where.
    ``jump_posts`` says where the maker wants a jump start connected, ``jump_order`` in which order and by which guide.
    ``crank_a``, ``crank_least_v`` and ``crank_cable_mohm`` are its starting system: what the starter takes, the least voltage at
    which it works, and the way from the battery's posts to it and back.
    """

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
    access_points: tuple[AccessPoint, ...] = ()
    seat_places: tuple[SeatPlace, ...] = ()
    track_mm: float | None = None
    curb_left_kg: float | None = None
    fuel_kg: float = 0.0
    fuel_x_mm: float = 0.0
    jump_posts: str = ""
    jump_order: str = ""
    crank_a: float | None = None
    crank_least_v: float | None = None
    crank_cable_mohm: float | None = None

    def __post_init__(self) -> None:
        for name in ("wheelbase_mm", "gvwr_kg", "gawr_front_kg", "gawr_rear_kg", "curb_front_kg", "curb_rear_kg"):
            check_at_least(name, getattr(self, name), 1.0)
        check_count("seats", self.seats, least=1)
        if self.track_mm is not None:
            check_within("track_mm", self.track_mm, 500.0, 5000.0)
        if self.curb_left_kg is not None:
            check_within("curb_left_kg", self.curb_left_kg, 1.0, 100_000.0)
        for name, least, most in (
            ("crank_a", 0.1, 5000.0),
            ("crank_least_v", 0.1, MAX_SYSTEM_V),
            ("crank_cable_mohm", 0.0, 1000.0),
        ):
            if getattr(self, name) is not None:
                check_within(name, getattr(self, name), least, most)
        check_within("fuel_kg", self.fuel_kg, 0.0, 5000.0)
        check_within("fuel_x_mm", self.fuel_x_mm, -MOST_PLACE_MM, MOST_PLACE_MM)
