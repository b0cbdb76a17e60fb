"""
Load, then device, then conductor: both chosen, the rule that decided named, every candidate explained.

The device follows from the load; the conductor must carry the load, stand behind the device, keep the drop, let a fault
at its far end open the device, and be one the shop uses. The largest size any of these asks for is the answer.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from builds.engineering.electrical.ampacity import ampacity
from builds.engineering.electrical.conductors import ConductorSize, area_mm2, sizes
from builds.engineering.electrical.fault_current import far_end_fault_a
from builds.engineering.electrical.protection import (
    ROUNDING_RATIO,
    device_family,
    needed_rating_a,
    rerating_ratio,
    smallest_device_a,
)
from builds.engineering.electrical.voltage_drop import resistance_of_run_ohm
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.ranges import check_at_least, check_within
from builds.engineering.vocabulary import GaugeBasis

__all__ = [
    "DecidingRule",
    "SizingCandidate",
    "SizingCheck",
    "SizingChoice",
    "SizingRequest",
    "choose_conductor_and_device",
]


class DecidingRule(StrEnum):
    """What asked for the size; of several that ask for the same, the first here is named."""

    AMPACITY_LOAD = "ampacity_load"
    DEVICE_MARGIN = "device_margin"
    DROP = "drop"
    FAR_END_FAULT = "far_end_fault"
    SHOP_MINIMUM = "shop_minimum"
    STOCKED = "stocked"


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingRequest:
    """
    Everything the choice rests on.

    Currents: ``continuous_a`` RMS of what may stay on, ``intermittent_a`` of what is on for moments, ``drop_current_a``
    the one the drop rule is judged at. ``drop_elsewhere_v`` is lost outside this run; ``fault_source_ohm`` is all
    resistance of a far-end fault outside this run. ``given_rating_a`` keeps a device that is already fixed. ``stocked``
    empty means every size of the basis.
    """

    basis: GaugeBasis
    continuous_a: float
    family: str
    loading_ratio: float
    device_ambient_c: float
    insulation_c: float
    ambient_c: float
    margin_ratio: float
    length_out_m: float
    length_back_m: float
    drop_current_a: float
    drop_limit_v: float
    drop_conductor_c: float
    fault_v: float
    fault_source_ohm: float
    fault_conductor_c: float
    intermittent_a: float = 0.0
    bundle_count: int = 1
    drop_elsewhere_v: float = 0.0
    given_rating_a: float | None = None
    min_gauge: ConductorSize | None = None
    stocked: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("continuous_a", "intermittent_a", "drop_current_a", "drop_elsewhere_v", "fault_source_ohm"):
            check_at_least(name, getattr(self, name), 0.0)
        for name in ("length_out_m", "length_back_m"):
            check_within(name, getattr(self, name), 0.0, 1000.0)
        check_at_least("drop_limit_v", self.drop_limit_v, 0.0)
        check_within("fault_v", self.fault_v, 0.1, 1000.0)
        check_within("margin_ratio", self.margin_ratio, 0.5, 3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingCheck:
    """One rule held against one size: ``value`` against ``limit`` in ``unit``; drop may be at most, the rest at least."""

    rule: DecidingRule
    value: float
    limit: float
    unit: str
    passed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingCandidate:
    """A size with what every rule says of it."""

    size: ConductorSize
    checks: tuple[SizingCheck, ...]

    @property
    def passes(self) -> bool:
        """Whether every rule lets this size through."""
        return all(check.passed for check in self.checks)


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingChoice:
    """
    The chosen pair. ``size`` is None when no size passes; ``decided_by`` is then the rule that none satisfies.

    ``candidates`` runs from the smallest size to the largest of the basis.
    """

    needed_rating_a: float
    rating_a: float
    size: ConductorSize | None
    decided_by: DecidingRule
    candidates: tuple[SizingCandidate, ...]


def choose_conductor_and_device(request: SizingRequest) -> SizingChoice:
    """
    Return the smallest device that carries the load and the smallest conductor that every rule lets through.

    Parameters
    ----------
    request : SizingRequest
        Load, surroundings, lengths, the buyer's rules and the shop's shelf.

    Returns
    -------
    SizingChoice
        Device rating, size, deciding rule, and every candidate with its checks.

    Raises
    ------
    NoStandardSize
        If the family has no rating for the load where the device sits.
    UnknownTableEntry
        If there is no such family.
    OutOfRange
        If a temperature or ratio is outside its range.

    Notes
    -----
    Sizes that the allowable-amperage table does not have (smaller than 18 gauge) are no candidates.
    """
    needed_a, rating_a = _device(request)
    candidates = tuple(
        SizingCandidate(size=size, checks=_checks(request, size, rating_a)) for size in _tabulated_sizes(request.basis)
    )
    chosen = next((candidate.size for candidate in candidates if candidate.passes), None)
    return SizingChoice(
        needed_rating_a=needed_a,
        rating_a=rating_a,
        size=chosen,
        decided_by=_deciding_rule(candidates),
        candidates=candidates,
    )


def _device(request: SizingRequest) -> tuple[float, float]:
    """The rating the load needs, and the rating taken."""
    smallest_a = smallest_device_a(
        family=request.family,
        continuous_a=request.continuous_a,
        intermittent_a=request.intermittent_a,
        loading_ratio=request.loading_ratio,
        ambient_c=request.device_ambient_c,
    )
    needed_a = needed_rating_a(
        continuous_a=request.continuous_a,
        intermittent_a=request.intermittent_a,
        loading_ratio=request.loading_ratio,
        ambient_ratio=rerating_ratio(family=request.family, ambient_c=request.device_ambient_c),
    )
    return needed_a, smallest_a if request.given_rating_a is None else request.given_rating_a


@cache
def _tabulated_sizes(basis: GaugeBasis) -> tuple[ConductorSize, ...]:
    return tuple(size for size in sizes(basis) if _is_tabulated(size))


def _is_tabulated(size: ConductorSize) -> bool:
    try:
        ampacity(size=size, insulation_c=60.0, ambient_c=30.0)
    except UnknownTableEntry:
        return False
    return True


def _checks(request: SizingRequest, size: ConductorSize, rating_a: float) -> tuple[SizingCheck, ...]:
    allowed_a = ampacity(
        size=size,
        insulation_c=request.insulation_c,
        ambient_c=request.ambient_c,
        bundle_count=request.bundle_count,
    ).value_a
    load_a = request.continuous_a + request.intermittent_a
    fault_multiple = device_family(request.family).far_end_multiple_ratio
    drop_v = request.drop_elsewhere_v + request.drop_current_a * _both_legs_ohm(request, size, request.drop_conductor_c)
    return (
        _at_least(DecidingRule.AMPACITY_LOAD, allowed_a, load_a, "A"),
        _at_least(DecidingRule.DEVICE_MARGIN, allowed_a, request.margin_ratio * rating_a, "A"),
        _at_most(DecidingRule.DROP, drop_v, request.drop_limit_v, "V"),
        _at_least(DecidingRule.FAR_END_FAULT, _fault_a(request, size), fault_multiple * rating_a, "A"),
        *_shop_checks(request, size),
    )


def _shop_checks(request: SizingRequest, size: ConductorSize) -> tuple[SizingCheck, SizingCheck]:
    least_mm2 = 0.0 if request.min_gauge is None else area_mm2(request.min_gauge)
    on_shelf = not request.stocked or size.gauge in request.stocked
    return (
        _at_least(DecidingRule.SHOP_MINIMUM, area_mm2(size), least_mm2, "mm²"),
        SizingCheck(rule=DecidingRule.STOCKED, value=float(on_shelf), limit=1.0, unit="on the shelf", passed=on_shelf),
    )


def _both_legs_ohm(request: SizingRequest, size: ConductorSize, temperature_c: float) -> float:
    length_m = request.length_out_m + request.length_back_m
    return resistance_of_run_ohm(size=size, length_m=length_m, temperature_c=temperature_c)


def _fault_a(request: SizingRequest, size: ConductorSize) -> float:
    # A run of no length behind a source of no resistance: a micro-ohm keeps the figure finite and far above any rating.
    own_ohm = max(_both_legs_ohm(request, size, request.fault_conductor_c), 1e-6)
    return far_end_fault_a(source_v=request.fault_v, source_ohm=request.fault_source_ohm, out_ohm=own_ohm, back_ohm=0.0)


def _at_least(rule: DecidingRule, value: float, limit: float, unit: str) -> SizingCheck:
    passed = value >= limit * (1 - ROUNDING_RATIO)
    return SizingCheck(rule=rule, value=value, limit=limit, unit=unit, passed=passed)


def _at_most(rule: DecidingRule, value: float, limit: float, unit: str) -> SizingCheck:
    passed = value <= limit * (1 + ROUNDING_RATIO)
    return SizingCheck(rule=rule, value=value, limit=limit, unit=unit, passed=passed)


def _deciding_rule(candidates: tuple[SizingCandidate, ...]) -> DecidingRule:
    """The rule whose own smallest size is the largest; the shelf only if it asks for more than all others."""
    asked = {rule: _first_passing(candidates, position) for position, rule in enumerate(DecidingRule)}
    if len(candidates) in asked.values():
        return next(rule for rule, index in asked.items() if index == len(candidates))
    engineering = {rule: index for rule, index in asked.items() if rule is not DecidingRule.STOCKED}
    largest = max(engineering.values())
    if not candidates[largest].passes:
        return DecidingRule.STOCKED
    return next(rule for rule, index in engineering.items() if index == largest)


def _first_passing(candidates: tuple[SizingCandidate, ...], position: int) -> int:
    """Index of the smallest size that one rule lets through; one past the end if none."""
    indices = (index for index, candidate in enumerate(candidates) if candidate.checks[position].passed)
    return next(indices, len(candidates))
