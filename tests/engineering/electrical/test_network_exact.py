"""Small linear distributions solved exactly, in fractions, by nodal analysis."""

from dataclasses import replace
from fractions import Fraction

import pytest
import sympy

from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import NET_A, NET_B, NET_C, Drawing, branch, made_drawing, made_mesh
from tests.engineering.electrical.test_network import TWO_BATTERIES


def exact(value: float) -> sympy.Rational:
    return sympy.Rational(Fraction(value))


def exact_voltages(drawing: Drawing) -> dict[str, sympy.Rational]:
    """Node voltages above the first source's negative post: conductances, then one unknown current a source."""
    ground = drawing.sources[0].negative_node
    nodes = {end for b in drawing.branches for end in (b.from_node, b.to_node)}
    nodes |= {post for s in drawing.sources for post in (s.positive_node, s.negative_node)}
    at = {name: index for index, name in enumerate([ground, *sorted(nodes - {ground})])}
    size = len(at) + len(drawing.sources)
    system, known = sympy.zeros(size, size), sympy.zeros(size, 1)
    siemens = [(b.from_node, b.to_node, 1 / exact(b.resistance_ohm)) for b in drawing.branches]
    for part in drawing.loads:
        if part.model is LoadModel.RESISTIVE:
            siemens.append((part.supply_node, part.return_node, exact(part.current_a) / exact(part.at_v)))
        else:
            known[at[part.supply_node]] -= exact(part.current_a)
            known[at[part.return_node]] += exact(part.current_a)
    for one, other, conductance in siemens:
        for here, there in ((at[one], at[other]), (at[other], at[one])):
            system[here, here] += conductance
            system[here, there] -= conductance
    for row, source in enumerate(drawing.sources, start=len(at)):
        # v(+) - v(-) + R i = E
        for node, sign in ((source.positive_node, 1), (source.negative_node, -1)):
            system[row, at[node]] += sign
            system[at[node], row] -= sign
        system[row, row] += exact(drawing.source_ohm)
        known[row] = exact(drawing.emf_v)
    # the ground's own equation and unknown are struck out
    solved = system[1:, 1:].LUsolve(known[1:, :])
    return {name: sympy.Integer(0) if index == 0 else solved[index - 1] for name, index in at.items()}


LINEAR = (LoadModel.CONSTANT_CURRENT, LoadModel.RESISTIVE)
CASES = {
    "net A": NET_A,
    "net B": NET_B,
    "net C": NET_C,
    "two batteries": TWO_BATTERIES,
    "two batteries joined": replace(
        TWO_BATTERIES, branches=(*TWO_BATTERIES.branches, branch("isolator", "panel", "rack", 0.001))
    ),
    **{f"made {seed}": made_drawing(seed, models=LINEAR, loads=2) for seed in (11, 12, 13, 14)},
    **{f"mesh {seed}": made_mesh(seed, models=LINEAR, loads=2) for seed in (21, 22, 23, 24, 25, 26)},
}


@pytest.mark.parametrize("name", CASES)
def test_linear_nets_equal_the_exact_solution(name: str) -> None:
    result = CASES[name].solve()
    expected = exact_voltages(CASES[name])

    ours = dict(zip(result.network.forest.names, result.node_v[:, 0], strict=True))
    assert ours.keys() == expected.keys()
    for node, volts in ours.items():
        # resistive loads are iterated to 1e-9 A; through milliohms that is some 1e-11 V
        assert volts == pytest.approx(float(expected[node]), rel=1e-10, abs=1e-10), node
