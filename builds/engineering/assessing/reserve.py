"""The engine-off test of the batteries' reserve, and whether the engine starts after it."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.assessing.condition_results import solved_conditions
from builds.engineering.assessing.duty_plan import bank_of, cranks_after, start_battery
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessment import ReserveResult
from builds.engineering.design import OperatingCondition, PowerNode
from builds.engineering.electrical.battery import check_reserve
from builds.engineering.electrical.energy.crank import cranking_v
from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.stages import Crank

__all__ = ["TEST_C", "AfterTest", "after_test", "reserve_results"]

TEST_C = 25.0  # a reserve is stated near it, so the test is too


@dataclass(frozen=True, slots=True)
class AfterTest:
    """Starting the engine when the test is over: the starter, and what stands behind and before the battery's posts."""

    crank: Crank
    charge_ratio: float
    emf_v: float
    internal_ohm: float
    post_v: float
    starter_v: float


def reserve_results(index: IndexedDesign, network: Network) -> tuple[ReserveResult, ...]:
    """Return the engine-off tests of every condition that has one, a result for each battery it loads that states a reserve."""
    held = solved_conditions(network)
    results = []
    for place, condition in enumerate(index.design.conditions):
        if condition.reserve_test_min is not None and place in held:
            results += [_reserve(index, network, condition, *pair) for pair in _loaded(index, *held[place])]
    return tuple(results)


def _loaded(index: IndexedDesign, state: State, column: int) -> Iterator[tuple[PowerNode, float]]:
    """Batteries that state a reserve, more than none, and carry something, with the mean current of it."""
    mean_a = state.feeding.battery @ state.worst.mean_a[:, column]
    for node, current_a in zip(index.batteries(), mean_a.tolist(), strict=True):
        if node.battery is not None and node.battery.reserve_min and current_a > 0:
            yield node, current_a


def _reserve(
    index: IndexedDesign, network: Network, condition: OperatingCondition, node: PowerNode, current_a: float
) -> ReserveResult:
    spec = node.battery
    assert spec is not None and spec.reserve_min is not None and condition.reserve_test_min is not None
    check = check_reserve(
        current_a=current_a,
        reserve_min=spec.reserve_min,
        test_min=condition.reserve_test_min,
        usable_ratio=index.numbers["reserve-usable"],
    )
    after = after_test(index, network, condition, node, current_a)
    return ReserveResult(
        key=condition.key,
        battery=node.key,
        minutes=condition.reserve_test_min,
        load_a=current_a,
        used_ah=check.used_ah,
        allowed_ah=check.allowed_ah,
        used_ratio=check.used_ah / (check.allowed_ah / index.numbers["reserve-usable"]),
        starter_v=after.starter_v if after else None,
        least_v=after.crank.least_v if after else None,
    )


def after_test(
    index: IndexedDesign, network: Network, condition: OperatingCondition, node: PowerNode, current_a: float
) -> AfterTest | None:
    """
    Return how the engine starts after a test, its loads still on; None for a battery that does not start it.

    The battery is warm and full to begin with. Where profiles of this condition state different starters, the one counts that
    comes nearest to failing.
    """
    place = start_battery(index, network)
    if index.batteries()[place] is not node or condition.reserve_test_min is None:
        return None
    bank = bank_of(node, TEST_C)
    removed_ah = (current_a + bank.extra_a(current_a)) * condition.reserve_test_min / 60
    emf_v, internal_ohm = bank.rest_v(removed_ah) - bank.recovery_ohm * current_a, bank.cranked_ohm(removed_ah)
    ratio = max(0.0, 1.0 - removed_ah / bank.capacity_ah)
    starts = [
        AfterTest(crank, ratio, emf_v, internal_ohm, *_cranked(crank, emf_v, internal_ohm, current_a))
        for crank in cranks_after(index, condition, place)
    ]
    return min(starts, key=lambda start: start.starter_v - start.crank.least_v)


def _cranked(crank: Crank, emf_v: float, internal_ohm: float, current_a: float) -> tuple[float, float]:
    return cranking_v(
        emf_v=emf_v,
        internal_ohm=internal_ohm,
        crank_a=crank.current_a,
        cable_ohm=crank.cable_ohm,
        law=LoadLaw(current_a),
    )
