"""
Which conductors lie in one bundle, and how many of them carry current together.

A bundle counts current-carrying conductors: every circuit's way out, its wire back where that lies along the same way, each of
several cables in parallel; a circuit without loads is a spare and does not count. Whether a load runs continuously makes no
difference. Circuits that are on in no operating condition together are left out of the count; what is on in none counts always.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from builds.engineering.design import Circuit, Design, Load, OperatingCondition, Run

__all__ = ["Bundle", "Laid", "bundle_key", "bundles_of"]

_ALONG_RATIO = 0.5  # a wire back at least so long beside the way out lies in the same bundle: common practice


@dataclass(frozen=True, slots=True)
class Laid:
    """A circuit or run of a bundle with how many conductors of it carry current there."""

    part: Circuit | Run
    count: int

    @property
    def subject(self) -> str:
        """Its address."""
        return f"circuit:{self.part.number}" if isinstance(self.part, Circuit) else f"run:{self.part.key}"


@dataclass(frozen=True, slots=True)
class Bundle:
    """Conductors that share a name: those that carry current together at most, in which condition, and those left out."""

    name: str
    laid: tuple[Laid, ...]
    left_out: tuple[Laid, ...]
    condition: str  # empty where nothing is left out

    @property
    def together(self) -> int:
        """Conductors that carry current together, at least 1."""
        return max(1, sum(one.count for one in self.laid))


@lru_cache(maxsize=1024)
def bundle_key(name: str) -> str:
    """Return by what a bundle's name is known: capitals and blanks make no difference, and blanks alone are no name."""
    return " ".join(name.split()).casefold()


def bundles_of(design: Design) -> dict[str, Bundle]:
    """Return the bundles that circuits and runs name, by the key of the name."""
    by_key: dict[str, list[Circuit | Run]] = {}
    parts: list[Circuit | Run] = [*design.circuits, *design.runs]
    for part in parts:
        if part.bundle_name and (key := bundle_key(part.bundle_name)):
            by_key.setdefault(key, []).append(part)
    if not by_key:
        return {}
    loads_of: dict[str, list[Load]] = {}
    for load in design.loads:
        loads_of.setdefault(load.circuit, []).append(load)
    return {
        key: _bundle(named[0].bundle_name.strip(), named, loads_of, design.conditions)
        for key, named in sorted(by_key.items())
    }


def _bundle(
    name: str,
    parts: Iterable[Circuit | Run],
    loads_of: Mapping[str, list[Load]],
    conditions: Iterable[OperatingCondition],
) -> Bundle:
    laid = [Laid(part, count) for part in parts if (count := _conductors(part, loads_of))]
    used = {use.load for condition in conditions for use in condition.uses}
    keys = [{load.key for load in loads_of.get(one.part.number, ())} & used if isinstance(one.part, Circuit) else set()
            for one in laid]  # fmt: skip
    most, at_most, where = -1, list(laid), ""
    for condition in conditions:
        on = {use.load for use in condition.uses}
        lit = [one for one, own in zip(laid, keys, strict=True) if not own or own & on]
        if (count := sum(one.count for one in lit)) > most:
            most, at_most, where = count, lit, condition.key
    left_out = tuple(one for one in laid if one not in at_most)
    return Bundle(name, tuple(at_most), left_out, where if left_out else "")


def _conductors(part: Circuit | Run, loads_of: Mapping[str, list[Load]]) -> int:
    if isinstance(part, Run):
        return part.parallel
    if part.number not in loads_of:
        return 0
    return 2 if 0 < part.length_m * _ALONG_RATIO <= part.return_length_m else 1
