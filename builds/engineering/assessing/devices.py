"""Each device where it sits: what its family is, what heat leaves of it, the smallest that would do."""

from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache

from builds.engineering.electrical.protection import (
    ROUNDING_RATIO,
    DeviceFamily,
    device_families,
    device_family,
    interrupting_capacity_a,
    rerating_ratio,
)
from builds.engineering.errors import EngineeringError

__all__ = ["Device", "breaks_a", "device_at", "family_of", "stand_in", "strained"]


@dataclass(frozen=True, slots=True)
class Device:
    """A device where it sits; ``family`` is None where no table has it, and heat then leaves all of its rating."""

    name: str
    rating_a: float
    family: DeviceFamily | None
    ambient_c: float
    heat_ratio: float
    ratings_a: tuple[float, ...]  # of its family, smallest first

    @property
    def carries_a(self) -> float:
        """Its rating at the ambient of its place [A]."""
        return self.rating_a * self.heat_ratio

    def smallest_a(
        self, continuous_a: float, all_a: float, loading_ratio: float, stocked_a: frozenset[float] | None = None
    ) -> float | None:
        """The smallest standard rating, of those on the shelf, that carries this load here; None where there is none [A]."""
        if self.heat_ratio <= 0:
            return None
        needed_a = max(continuous_a / loading_ratio, all_a) / self.heat_ratio * (1 - ROUNDING_RATIO)
        enough = self.ratings_a[bisect_left(self.ratings_a, needed_a) :]
        if stocked_a is None:
            return enough[0] if enough else None
        return next((rating_a for rating_a in enough if rating_a in stocked_a), None)


@lru_cache(maxsize=1024)
def family_of(name: str) -> DeviceFamily | None:
    """The family of this name; None where no table has it."""
    try:
        return device_family(name)
    except EngineeringError:
        return None


@lru_cache(maxsize=4096)
def _heat_ratio(name: str, ambient_c: float) -> float:
    return rerating_ratio(family=name, ambient_c=ambient_c) if family_of(name) else 1.0


@lru_cache(maxsize=1024)
def _ratings_a(name: str) -> tuple[float, ...]:
    family = family_of(name)
    return family.ratings_a if family else ()


@lru_cache(maxsize=1024)
def breaks_a(name: str, nominal_v: float) -> float | None:
    """The largest current a family breaks at a voltage; None where it is not known [A]."""
    try:
        return interrupting_capacity_a(family=name, nominal_v=nominal_v)
    except EngineeringError:
        return None


@lru_cache(maxsize=4096)
def device_at(name: str, rating_a: float, ambient_c: float) -> Device:
    """Return a device in its place."""
    return Device(name, rating_a, family_of(name), ambient_c, _heat_ratio(name, ambient_c), _ratings_a(name))


def strained(device: Device, nominal_v: float, prospective_a: float) -> bool:
    """Whether a short draws more than a device is known to break."""
    capacity_a = breaks_a(device.name, nominal_v)
    return capacity_a is not None and prospective_a > capacity_a


def stand_in(device: Device, nominal_v: float, prospective_a: float) -> Device | None:
    """Return what may stand for a device of a family no table has: the first fuse that bears the voltage and breaks the short."""
    for family in device_families():
        enough = family.rated_v >= nominal_v and (breaks_a(family.key, nominal_v) or 0.0) >= prospective_a
        if enough and not family.is_breaker and family.ratings_a[-1] >= device.rating_a:
            return device_at(family.key, device.rating_a, device.ambient_c)
    return None
