"""The order of the work, and work that waits for itself."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.design import Operation
from builds.engineering.operation_order import waiting_rings, working_order
from builds.engineering.vocabulary import Phase, Place


def work(key: str, *after: str, phase: Phase = Phase.WIRE) -> Operation:
    return Operation(key=key, name=key, place=Place.VEHICLE, phase=phase, skill="", standard_h=1.0, after=after)


def order_of(*operations: Operation) -> str:
    return "".join(operation.key for operation in working_order(operations))


def test_work_without_waits_keeps_its_order_within_its_phase() -> None:
    assert order_of(work("B"), work("A"), work("C", phase=Phase.STRIP)) == "CBA"


def test_work_comes_after_what_it_waits_for() -> None:
    assert order_of(work("A", "C"), work("B"), work("C", "B")) == "BCA"


def test_waiting_for_a_later_phase_comes_after_it() -> None:
    assert order_of(work("A", "Z"), work("Z", phase=Phase.CLOSE)) == "ZA"


def test_waiting_for_what_is_not_there_waits_for_nothing() -> None:
    assert order_of(work("A", "gone")) == "A"
    assert waiting_rings((work("A", "gone"),)) == ()


def test_rings_keep_the_given_order_and_lose_nobody() -> None:
    assert sorted(order_of(work("A", "B"), work("B", "A"), work("C", "A"))) == ["A", "B", "C"]


@pytest.mark.parametrize(
    ("operations", "rings"),
    [
        ((work("A", "A"),), (("A",),)),
        ((work("A", "B"), work("B", "A")), (("A", "B"),)),
        ((work("A", "B"), work("B", "C"), work("C", "A"), work("D", "A")), (("A", "B", "C"),)),
        ((work("A", "B"), work("B", "A"), work("C", "D"), work("D", "C")), (("A", "B"), ("C", "D"))),
        ((work("A"), work("B", "A"), work("C", "A", "B")), ()),
    ],
    ids=["itself", "two", "three with a follower", "two rings", "a diamond"],
)
def test_rings_of_waiting_are_named(operations: tuple[Operation, ...], rings: tuple[tuple[str, ...], ...]) -> None:
    assert waiting_rings(operations) == rings


def test_long_chain_does_not_exhaust_the_stack() -> None:
    chain = [work("W0"), *(work(f"W{number}", f"W{number - 1}") for number in range(1, 5000))]

    assert waiting_rings(tuple(reversed(chain))) == ()


@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=20))
def test_order_is_right_exactly_where_there_is_no_ring(waits: list[tuple[int, int]]) -> None:
    after: dict[int, list[str]] = {}
    for one, other in waits:
        after.setdefault(one, []).append(f"W{other}")
    operations = tuple(work(f"W{number}", *after.get(number, ())) for number in range(8))
    order = [operation.key for operation in working_order(operations)]
    kept = all(order.index(wait) < order.index(one.key) for one in operations for wait in one.after)

    assert kept == (waiting_rings(operations) == ())
