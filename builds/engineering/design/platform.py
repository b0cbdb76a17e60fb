"""A version of a vehicle model as the shop knows it: weights, zones, ways for wire, places to leave alone."""

from dataclasses import dataclass

from builds.engineering.ranges import check_at_least, check_count, check_key, check_within

__all__ = ["NoMountZone", "Platform", "Route", "Zone"]


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
