"""
The same distributions solved by ngspice, run here: every node voltage and the source's current to 1e-6.

Compared only below 95 % of the largest power, where both programs' answers are well conditioned.
"""

import pytest
from hypothesis import Phase, given, settings

from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import NET_A, NET_B, NET_C, NET_D, Drawing, drawings
from tests.engineering.electrical.spice import solve_with_ngspice

pytestmark = pytest.mark.ngspice

REFERENCE = {"A": NET_A, "B": NET_B, "C": NET_C, "D": NET_D}
HOW_MANY = 220


@pytest.fixture(scope="module")
def made() -> list[Drawing]:
    """Trees and meshes with loads of every kind, as hypothesis makes them."""
    found: dict[Drawing, None] = {}

    @settings(max_examples=HOW_MANY, phases=[Phase.generate], database=None)
    @given(drawings)
    def collect(drawing: Drawing) -> None:
        found[drawing] = None

    collect()
    return list(found)


@pytest.fixture(scope="module")
def reference_figures(tmp_path_factory) -> dict[str, dict[str, float]]:
    solved = solve_with_ngspice(list(REFERENCE.values()), tmp_path_factory.mktemp("reference"))
    return dict(zip(REFERENCE, solved, strict=True))


def assert_agree(drawing: Drawing, figures: dict[str, float]) -> None:
    result = drawing.solve()
    ours = dict(zip(result.network.forest.names, result.node_v[:, 0], strict=True))
    assert ours.keys() == figures.keys() - {"source"}
    for node, volts in ours.items():
        # relative to the voltage itself; a millivolt of chassis rise may also be off by a tenth of a microvolt
        assert figures[node] == pytest.approx(volts, rel=1e-6, abs=1e-7), node
    assert figures["source"] == pytest.approx(result.source_a[0, 0], rel=1e-6)


@pytest.mark.parametrize("name", REFERENCE)
def test_reference_nets_agree_with_ngspice(name: str, reference_figures) -> None:
    assert_agree(REFERENCE[name], reference_figures[name])


def test_ngspice_gives_the_printed_figures_of_net_b_too(reference_figures) -> None:
    figures = reference_figures["B"]

    assert figures["source"] == pytest.approx(33.208918, abs=5e-7)
    assert figures["G"] == pytest.approx(0.066418, abs=5e-7)


def test_two_hundred_made_nets_agree_with_ngspice(made, tmp_path) -> None:
    for drawing, figures in zip(made, solve_with_ngspice(made, tmp_path), strict=True):
        assert_agree(drawing, figures)


def test_the_made_nets_are_what_the_comparison_needs(made) -> None:
    assert len(made) >= 200
    assert sum(bool(drawing.build().forest.rings.closers) for drawing in made) >= 60
    assert {part.model for drawing in made for part in drawing.loads} == set(LoadModel)
    for drawing in made:
        assert not drawing.scaled(1 / 0.95).solve().no_operating_point
