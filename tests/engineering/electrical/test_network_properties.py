"""What holds in every distribution: proportions, sums, and independence of how it is drawn."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.electrical.loads import current_at_voltage_a
from builds.engineering.electrical.network_solver import RESIDUAL_A
from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import (
    Drawing,
    branch,
    constant_current_drawings,
    drawings,
    linear_drawings,
    load,
    resistive_drawings,
)

seldom = settings(max_examples=25)


def drops_of(drawing: Drawing) -> np.ndarray:
    result = drawing.solve()
    return result.emf_v[0, 0] - result.load_v[:, 0]


@seldom
@given(constant_current_drawings, st.floats(0.1, 1.5))
def test_drops_are_proportional_to_current(drawing: Drawing, factor: float) -> None:
    assert drops_of(drawing.scaled(factor)) == pytest.approx(factor * drops_of(drawing), rel=1e-9, abs=1e-12)


@seldom
@given(constant_current_drawings, st.floats(0.1, 2))
def test_drops_are_proportional_to_length(drawing: Drawing, factor: float) -> None:
    longer = replace(
        drawing,
        branches=tuple(replace(b, resistance_ohm=factor * b.resistance_ohm) for b in drawing.branches),
        source_ohm=factor * drawing.source_ohm,
    )

    assert drops_of(longer) == pytest.approx(factor * drops_of(drawing), rel=1e-9, abs=1e-12)


@seldom
@given(drawings)
def test_each_load_takes_what_it_takes_at_its_voltage(drawing: Drawing) -> None:
    result = drawing.solve()

    for row, part in enumerate(drawing.loads):
        expected = current_at_voltage_a(
            model=part.model, current_a=part.current_a, at_v=part.at_v, voltage_v=result.load_v[row, 0]
        )
        assert abs(result.load_a[row, 0] - expected) <= RESIDUAL_A


def misses(drawing: Drawing) -> tuple[np.ndarray, np.ndarray]:
    """By how much currents miss at every node, and voltages over every branch: worked out from the parts alone."""
    result = drawing.solve()
    position, amps = result.network.forest.position, result.branch_a()[:, 0]
    leaving, over = np.zeros(len(position)), np.zeros(len(drawing.branches))
    flows = [(b.from_node, b.to_node, a) for b, a in zip(drawing.branches, amps, strict=True)]
    flows += [(p.supply_node, p.return_node, a) for p, a in zip(drawing.loads, result.load_a[:, 0], strict=True)]
    flows += [
        (s.negative_node, s.positive_node, a) for s, a in zip(drawing.sources, result.source_a[:, 0], strict=True)
    ]
    for one, other, ampere in flows:
        leaving[position[one]] += ampere
        leaving[position[other]] -= ampere
    for at, (part, ampere) in enumerate(zip(drawing.branches, amps, strict=True)):
        lost = result.node_v[position[part.from_node], 0] - result.node_v[position[part.to_node], 0]
        over[at] = lost - part.resistance_ohm * ampere
    return leaving, over


@seldom
@given(drawings)
def test_currents_sum_at_every_node_and_voltages_over_every_branch(drawing: Drawing) -> None:
    leaving, over = misses(drawing)

    assert np.abs(leaving).max() <= 1e-9
    assert np.abs(over).max() <= 1e-12


@seldom
@given(drawings)
def test_the_sources_power_is_the_loads_and_the_losses(drawing: Drawing) -> None:
    result = drawing.solve()

    ohm = np.array([part.resistance_ohm for part in drawing.branches])
    losses = (ohm * result.branch_a()[:, 0] ** 2).sum() + drawing.source_ohm * result.source_a[0, 0] ** 2
    used = (result.load_v[:, 0] * result.load_a[:, 0]).sum()
    assert drawing.emf_v * result.source_a[0, 0] == pytest.approx(losses + used, rel=1e-9)


@seldom
@given(drawings)
def test_every_way_explained_adds_up(drawing: Drawing) -> None:
    result = drawing.solve()

    for part in drawing.loads:
        way = result.explain(part.key, 0)
        assert math.fsum(b.drop_v for b in way.branches) == pytest.approx(way.drop_v, abs=1e-10)


@seldom
@given(drawings, st.randoms(use_true_random=False))
def test_the_order_of_loads_and_branches_does_not_matter(drawing: Drawing, random) -> None:
    loads, branches = list(drawing.loads), list(drawing.branches)
    random.shuffle(loads)
    random.shuffle(branches)
    shuffled = replace(drawing, loads=tuple(loads), branches=tuple(branches))

    one, other = drawing.solve(), shuffled.solve()
    for row, part in enumerate(drawing.loads):
        assert other.load_v[other.row_of(part.key), 0] == pytest.approx(one.load_v[row, 0], rel=1e-10)


@seldom
@given(drawings, st.randoms(use_true_random=False))
def test_the_direction_a_branch_is_drawn_in_does_not_matter(drawing: Drawing, random) -> None:
    turned = tuple(
        replace(b, from_node=b.to_node, to_node=b.from_node) if random.random() < 0.5 else b for b in drawing.branches
    )

    assert drops_of(replace(drawing, branches=turned)) == pytest.approx(drops_of(drawing), rel=1e-10)


@seldom
@given(drawings, st.data())
def test_a_conductor_cut_in_two_changes_nothing(drawing: Drawing, data) -> None:
    at = data.draw(st.integers(0, len(drawing.branches) - 1))
    part = data.draw(st.floats(0, 1))
    whole = drawing.branches[at]
    pieces = (
        replace(whole, to_node="splice", resistance_ohm=part * whole.resistance_ohm),
        branch("rest", "splice", whole.to_node, (1 - part) * whole.resistance_ohm),
    )
    cut = replace(drawing, branches=drawing.branches[:at] + pieces + drawing.branches[at + 1 :])

    assert drops_of(cut) == pytest.approx(drops_of(drawing), rel=1e-9, abs=1e-12)


@seldom
@given(drawings, st.data())
def test_two_equal_conductors_are_one_of_half_the_resistance(drawing: Drawing, data) -> None:
    at = data.draw(st.integers(0, len(drawing.branches) - 1))
    one = drawing.branches[at]
    doubled = replace(drawing, branches=(*drawing.branches, replace(one, key="twin")))
    halved = replace(
        drawing,
        branches=(
            *drawing.branches[:at],
            replace(one, resistance_ohm=one.resistance_ohm / 2),
            *drawing.branches[at + 1 :],
        ),
    )

    assert drops_of(doubled) == pytest.approx(drops_of(halved), rel=1e-9, abs=1e-12)


@seldom
@given(linear_drawings, st.floats(0.2, 3))
def test_linear_nets_scale_with_their_sources(drawing: Drawing, factor: float) -> None:
    """Superposition: every voltage and every constant current scaled alike scales every answer."""
    scaled = replace(
        drawing,
        emf_v=factor * drawing.emf_v,
        loads=tuple(
            replace(part, current_a=factor * part.current_a) if part.model is LoadModel.CONSTANT_CURRENT else part
            for part in drawing.loads
        ),
    )

    assert drops_of(scaled) == pytest.approx(factor * drops_of(drawing), rel=1e-8)


@seldom
@given(constant_current_drawings, st.data())
def test_drops_of_two_sets_of_loads_add(drawing: Drawing, data) -> None:
    first = [data.draw(st.booleans()) for _ in drawing.loads]
    second = [not on for on in first]

    def drops(on: list[bool]) -> np.ndarray:
        return drawing.emf_v - drawing.solve(scale=[float(x) for x in on]).load_v[:, 0]

    assert drops(first) + drops(second) == pytest.approx(drops([True] * len(first)), abs=1e-10)


def with_ideal_return(drawing: Drawing) -> Drawing:
    """The same supply side with every load returned straight to the battery."""
    back = {"-"} | {b.to_node for b in drawing.branches if b.key[0] in "sr"}
    kept = tuple(b for b in drawing.branches if not {b.from_node, b.to_node} & back)
    return replace(drawing, branches=kept, loads=tuple(replace(part, return_node="-") for part in drawing.loads))


@seldom
@given(resistive_drawings, st.floats(0.1, 30), st.data())
def test_another_load_never_raises_a_node(drawing: Drawing, amperes: float, data) -> None:
    """
    Resistive nets on a common return.

    (With a shared return it is not true of every single node: a load that is starved at the supply side lifts the return
    less, and its neighbour there gains.)
    """
    plain = with_ideal_return(drawing)
    names = plain.build().forest.names
    at = data.draw(st.sampled_from([name for name in names if name != "-"]))
    more = replace(plain, loads=(*plain.loads, load("more", at, "-", LoadModel.RESISTIVE, amperes)))

    before, after = plain.solve().node_v[:, 0], more.solve().node_v[:, 0]

    assert (after <= before + 1e-10).all()


@seldom
@given(resistive_drawings, st.floats(0.1, 30), st.data())
def test_another_load_never_lowers_the_sources_current(drawing: Drawing, amperes: float, data) -> None:
    """Rayleigh's law, with the shared return in place."""
    part = data.draw(st.sampled_from(drawing.loads))
    more = replace(drawing, loads=(*drawing.loads, replace(part, key="more", current_a=amperes)))

    assert more.solve().source_a[0, 0] >= drawing.solve().source_a[0, 0] - 1e-9


@seldom
@given(drawings, st.floats(0.1, 1.0))
def test_longer_conductors_never_raise_what_a_constant_power_is_left_with(drawing: Drawing, more: float) -> None:
    power = replace(drawing, loads=tuple(replace(part, model=LoadModel.CONSTANT_POWER) for part in drawing.loads))
    longer = replace(
        power, branches=tuple(replace(b, resistance_ohm=(1 + more) * b.resistance_ohm) for b in power.branches)
    )

    before, after = power.solve(), longer.solve()
    if not after.no_operating_point:
        assert (after.load_v <= before.load_v + 1e-9).all()
