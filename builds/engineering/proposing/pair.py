"""One conductor with its device: the smallest rating, the smallest gauge behind it, every rule held against both."""

from bisect import bisect_left
from collections.abc import Iterator
from typing import Any, NamedTuple

from builds.engineering.assessing.circuit_results import Needs, gauge_for
from builds.engineering.assessing.devices import Device, device_at
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.wires import Wire
from builds.engineering.electrical.protection import ROUNDING_RATIO
from builds.engineering.findings import Change
from builds.engineering.proposing.values import Refusal, RuleCheck, SizingProposal, SizingRule

__all__ = [
    "AS_IT_STANDS",
    "KEPT",
    "NO_SIZE",
    "Asked",
    "Kept",
    "Made",
    "Pair",
    "made_of",
    "pair_for",
    "proposal_for",
    "rating_for",
    "stands_of",
]

NO_SIZE = "kept: no size leaves the circuits their part of the drop"
_NO_RATING = "kept: no rating of its family on the shelf will do"
KEPT = "kept for its neighbours: with less, what feeds it or hangs beside it asks for more of it again"
_RULE_OF = {str(rule): rule for rule in SizingRule}
_COPPER_KG_PER_M_MM2 = 8.89e-3  # density 8.89 g/cm³, IEC 60028


class Kept(NamedTuple):
    """The conductor (row) and the rating that a part may not fall below: with less, its neighbours ask for more again."""

    row: int
    rating_a: float


class Asked(NamedTuple):
    """
    What is asked of one circuit or run.

    ``needs`` are those of what may be chosen, ``needs_now`` of what is there, its drop apart in ``drop_now``. ``device`` is its own or the one that stands before it (``owns`` tells), None where there is none. ``least_a`` is the
    largest device behind it, which its own must exceed. ``least_row`` and ``most_row`` keep the conductor within rows of the
    wire's choice as far as hard rules let them, each with the words of its policy. ``soft_drop`` says that the drop asked for
    is a policy and no limit. ``kept`` is what it may not fall below for what others then ask; ``stuck`` the rule of others that
    whatever would do for this one breaks.
    """

    subject: str
    gauge: str
    family_now: str
    rating_now_a: float | None
    wire: Wire
    needs: Needs
    needs_now: Needs
    drop_now: RuleCheck | None
    device: Device | None
    owns: bool
    least_a: float = 0.0
    least_row: int = 0
    least_policy: str = ""
    most_row: int | None = None
    most_policy: str = ""
    soft_drop: bool = False
    kept: Kept | None = None
    stuck: RuleCheck | None = None

    def asking(self, needs: Needs, kept: Kept | None) -> "Asked":
        """The same part with other needs: quicker than by name, as it is done for every circuit in every round."""
        fields: list[Any] = list(self)
        fields[_NEEDS], fields[_KEPT] = needs, kept
        return Asked(*fields)


_NEEDS, _KEPT = (Asked._fields.index(name) for name in ("needs", "kept"))


class Made(NamedTuple):
    """What is made of a circuit's or run's fields of these names; None where one stays as it stands."""

    gauge: str | None
    device_family: str | None
    device_rating_a: float | None


AS_IT_STANDS = Made(None, None, None)


class Pair(NamedTuple):
    """A conductor (row) with its device, the rule that asked for each, and the policy; ``fits`` unless no rating will do."""

    device: Device | None
    rating_rule: SizingRule | None
    row: int | None
    gauge_rule: SizingRule
    policy: str
    fits: bool


def pair_for(index: IndexedDesign, asked: Asked) -> Pair:
    """Return the smallest device, and the smallest conductor behind it, that every rule and policy lets through."""
    device, rating_rule, policy = _device_for(index, asked)
    fits = policy != _NO_RATING
    row, gauge_rule, kept = _gauge_for(index, asked, device)
    if asked.kept is not None and row is not None and row < asked.kept.row and kept != NO_SIZE:
        row, kept = asked.kept.row, KEPT
    if kept and kept != policy:
        policy = f"{policy}; {kept}" if policy else kept
    return Pair(device, rating_rule, row, gauge_rule, policy, fits)


def made_of(asked: Asked, pair: Pair) -> Made:
    """Return what is made of a part by what was chosen for it: nothing where that does not stand."""
    if pair.row is None or not pair.fits or asked.stuck is not None:
        return AS_IT_STANDS
    gauge, device = asked.wire.choice.gauges[pair.row], pair.device if asked.owns else None
    return Made(
        None if gauge == asked.gauge else gauge,
        None if device is None or device.name == asked.family_now else device.name,
        None if device is None or device.rating_a == asked.rating_now_a else device.rating_a,
    )


def stands_of(asked: Asked) -> Made:
    """Return what stands of a part."""
    return Made(asked.gauge, asked.family_now, asked.rating_now_a)


def proposal_for(index: IndexedDesign, asked: Asked, pair: Pair, unmet: tuple[RuleCheck, ...] = ()) -> SizingProposal:
    """Return what is said of a pair; ``unmet`` are rules no size can mend."""
    device, row = pair.device, pair.row
    choice, gauge = asked.wire.choice, "" if row is None else asked.wire.choice.gauges[row]
    checks = () if row is None else tuple(_checks(index, asked, row, device))
    return SizingProposal(
        subject=asked.subject,
        gauge_now=asked.gauge,
        family_now=asked.family_now,
        rating_now_a=asked.rating_now_a,
        gauge=gauge,
        family=device.name if device and asked.owns else "",
        rating_a=device.rating_a if device and asked.owns else None,
        gauge_rule=pair.gauge_rule,
        rating_rule=pair.rating_rule,
        policy=pair.policy,
        checks=checks if asked.stuck is None else (*checks, asked.stuck),
        unmet=unmet,
        now=tuple(_now(index, asked)),
        next_gauge=_next_gauge(index, asked, row, device),
        next_rating=_next_rating(index, asked, device),
        changes=tuple(_changes(asked, gauge, device)),
        ampacity_now_a=asked.wire.ampacity_a,
        ampacity_a=None if row is None else choice.ampacity_a[row] * asked.wire.parallel,
        own_mohm_now=1000 * asked.wire.ohm,
        own_mohm=0.0 if row is None else 1000 * _ohm(asked.wire, row),
        current_a=asked.needs.current_a,
        copper_kg=_copper_kg(asked.wire, row),
    )


def rating_for(index: IndexedDesign, asked: Asked) -> float | None:
    """Return the rating alone that would be proposed; None where it has and needs no device of its own [A]."""
    device, _, _ = _device_for(index, asked)
    return device.rating_a if device is not None and asked.owns else None


def _gauge_for(index: IndexedDesign, asked: Asked, device: Device | None) -> tuple[int | None, SizingRule, str]:
    """The row of the gauge proposed, the rule that asked for it, and the policy that kept it from being another."""
    row, rule = _row_for(index, asked, asked.needs, device)
    if not asked.soft_drop:
        return row, rule, ""
    hard_row, hard_rule = _row_for(index, asked, asked.needs._replace(most_drop_ohm=float("inf")), device)
    if hard_row is None:
        return None, hard_rule, ""
    most_row = max(hard_row, asked.most_row) if asked.most_row is not None else None
    if row is None or (most_row is not None and row > most_row):
        kept = max(hard_row, asked.wire.row or 0, asked.least_row)
        words = asked.most_policy if row is not None else NO_SIZE
        return kept, hard_rule, words
    if row < asked.least_row:
        return asked.least_row, rule, asked.least_policy
    return row, rule, ""


def _row_for(index: IndexedDesign, asked: Asked, needs: Needs, device: Device | None) -> tuple[int | None, SizingRule]:
    gauge, rule = gauge_for(index, asked.wire, needs, device)
    return asked.wire.choice.row_of.get(gauge), _RULE_OF[rule]


def _device_for(index: IndexedDesign, asked: Asked) -> tuple[Device | None, SizingRule | None, str]:
    """The device proposed, the rule that asked for its rating, and the policy that kept or raised it."""
    device = asked.device
    if device is None or not asked.owns:
        return device, None, ""
    if device.family is None:
        return device, None, f"kept: no table has the family “{device.name}”"
    if not asked.needs.current_a:
        return _with_nothing_on(index, device)
    return _loaded(index, asked, device)


def _loaded(index: IndexedDesign, asked: Asked, device: Device) -> tuple[Device, SizingRule, str]:
    """The smallest rating of its family on the shelf that every rule lets through."""
    wanted = _wanted(index, asked, device)
    stocked_a = index.stocked_ratings_a
    least_a = max(limit for _, limit in wanted) * (1 - ROUNDING_RATIO)
    made = device.ratings_a[bisect_left(device.ratings_a, least_a) :]
    here = made if stocked_a is None else tuple(rating_a for rating_a in made if rating_a in stocked_a)
    if not here:
        return device, _strictest(wanted), _NO_RATING
    if asked.kept is not None and here[0] < asked.kept.rating_a in here:
        return device_at(device.name, asked.kept.rating_a, device.ambient_c), _strictest(wanted), KEPT
    chosen = device_at(device.name, here[0], device.ambient_c)
    if here[0] != made[0]:
        return chosen, SizingRule.STOCKED, f"the shelf has no {made[0]:g} A"
    return chosen, _strictest(wanted), ""


def _with_nothing_on(index: IndexedDesign, device: Device) -> tuple[Device, None, str]:
    """The device as it is; one that is not made in its rating in the next that is."""
    made = index.on_shelf(device.ratings_a, device.rating_a, float("inf"))
    if device.rating_a in device.ratings_a or not made:
        return device, None, "kept: nothing is on here in any condition"
    return device_at(device.name, made[0], device.ambient_c), None, "nothing is on here; the next rating that is made"


def _wanted(index: IndexedDesign, asked: Asked, device: Device) -> list[tuple[SizingRule, float]]:
    """What a rating must reach by each rule [A]; a device must exceed those behind it."""
    needs, heat = asked.needs, device.heat_ratio
    limits = [
        (SizingRule.LOADING, needs.continuous_a / index.numbers["device-loading"] / heat if heat else float("inf")),
        (SizingRule.CARRIES, needs.current_a / heat if heat else float("inf")),
    ]
    if asked.least_a:
        larger = next((rating_a for rating_a in device.ratings_a if rating_a > asked.least_a), float("inf"))
        limits.append((SizingRule.BEHIND, larger))
    return limits


def _of_rating(wanted: list[tuple[SizingRule, float]], rating_a: float) -> list[RuleCheck]:
    return [RuleCheck(rule, rating_a, limit, "A") for rule, limit in wanted]


def _strictest(wanted: list[tuple[SizingRule, float]]) -> SizingRule:
    return max(wanted, key=lambda pair: pair[1])[0]


def _ohm(wire: Wire, row: int) -> float:
    return -wire.choice.minus_ohm_per_m[row] * wire.length_m / wire.parallel


def _checks(index: IndexedDesign, asked: Asked, row: int, device: Device | None) -> Iterator[RuleCheck]:
    """Every rule held against a size and a device."""
    yield from _conductor_checks(index, asked, row, device)
    if device is not None and asked.owns and device.family is not None and asked.needs.current_a:
        yield from _of_rating(_wanted(index, asked, device), device.rating_a)


def _now(index: IndexedDesign, asked: Asked) -> Iterator[RuleCheck]:
    """The rules held against what is there."""
    if asked.wire.row is None:
        return
    device = asked.device if asked.rating_now_a is not None or not asked.owns else None
    if device is not None and asked.owns and asked.rating_now_a is not None:
        device = device_at(asked.family_now, asked.rating_now_a, device.ambient_c)
    yield from _checks(index, asked.asking(asked.needs_now, asked.kept), asked.wire.row, device)
    if asked.drop_now is not None:
        yield asked.drop_now


def _conductor_checks(index: IndexedDesign, asked: Asked, row: int, device: Device | None) -> Iterator[RuleCheck]:
    wire, needs = asked.wire, asked.needs
    carried_a, ohm = wire.choice.ampacity_a[row] * wire.parallel, _ohm(wire, row)
    yield RuleCheck(SizingRule.LOAD, carried_a, needs.current_a, "A")
    if device is not None:
        yield RuleCheck(SizingRule.DEVICE, carried_a, index.numbers["conductor-margin"] * device.rating_a, "A")
    if needs.most_drop_ohm != float("inf"):
        yield RuleCheck(
            SizingRule.DROP, 1000 * ohm, 1000 * needs.most_drop_ohm, "mΩ", at_most=True, soft=asked.soft_drop
        )
    if device is not None and device.family is not None and needs.fault_v is not None:
        fault_a = needs.fault_v / max(needs.loop_ohm + ohm * needs.fault_temp_ratio, 1e-6)
        wanted_a = device.family.far_end_multiple_ratio * device.rating_a
        yield RuleCheck(SizingRule.FAR_END, fault_a, wanted_a, "A")
    yield RuleCheck(SizingRule.SMALLEST, wire.choice.area_mm2[row], index.least_area_mm2, "mm²")


def _next_gauge(index: IndexedDesign, asked: Asked, row: int | None, device: Device | None) -> Refusal | None:
    """The next smaller conductor on the shelf with the rule it fails; None where there is none or a policy keeps this one."""
    if row is None:
        return None
    stocked, gauges = index.stocked_gauges, asked.wire.choice.gauges
    smaller = next((at for at in range(row - 1, -1, -1) if stocked is None or gauges[at] in stocked), None)
    if smaller is None:
        return None
    failed = next((c for c in _conductor_checks(index, asked, smaller, device) if not c.passed), None)
    return Refusal(name=gauges[smaller], check=failed) if failed else None


def _next_rating(index: IndexedDesign, asked: Asked, device: Device | None) -> Refusal | None:
    if device is None or not asked.owns or device.family is None or not asked.needs.current_a:
        return None
    stocked_a = index.stocked_ratings_a
    smaller = [
        rating_a
        for rating_a in device.ratings_a
        if rating_a < device.rating_a and (stocked_a is None or rating_a in stocked_a)
    ]
    if not smaller:
        return None
    checks = _of_rating(_wanted(index, asked, device), smaller[-1])
    failed = next((check for check in checks if not check.passed), None)
    return Refusal(name=f"{smaller[-1]:g} A", check=failed) if failed else None


def _changes(asked: Asked, gauge: str, device: Device | None) -> Iterator[Change]:
    if not gauge:
        return
    if gauge != asked.gauge:
        yield Change(subject=asked.subject, field="gauge", value=gauge)
    if device is not None and asked.owns:
        if device.name != asked.family_now:
            yield Change(subject=asked.subject, field="device_family", value=device.name)
        if device.rating_a != asked.rating_now_a:
            yield Change(subject=asked.subject, field="device_rating_a", value=device.rating_a)


def _copper_kg(wire: Wire, row: int | None) -> float:
    if row is None or wire.row is None:
        return 0.0
    more_mm2 = wire.choice.area_mm2[row] - wire.choice.area_mm2[wire.row]
    return more_mm2 * wire.length_m * wire.parallel * _COPPER_KG_PER_M_MM2
