"""
The same distributions solved by ngspice, run here: every node voltage and the source's current to 1e-6.

Compared only below 95 % of the largest power, where both programs' answers are well conditioned.
"""

import pytest

from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import NET_A, NET_B, NET_D, Drawing, made_drawing
from tests.engineering.electrical.spice import solve_with_ngspice

pytestmark = pytest.mark.ngspice

REFERENCE = {"A": NET_A, "B": NET_B, "D": NET_D}
SEEDS = range(1, 31)


@pytest.fixture(scope="module")
def made() -> list[Drawing]:
    return [made_drawing(seed) for seed in SEEDS]


@pytest.fixture(scope="module")
def reference_figures(tmp_path_factory) -> dict[str, dict[str, float]]:
    solved = solve_with_ngspice(list(REFERENCE.values()), tmp_path_factory.mktemp("reference"))
    return dict(zip(REFERENCE, solved, strict=True))


@pytest.fixture(scope="module")
def made_figures(made, tmp_path_factory) -> list[dict[str, float]]:
    return solve_with_ngspice(made, tmp_path_factory.mktemp("made"))


def assert_agree(drawing: Drawing, figures: dict[str, float]) -> None:
    result = drawing.solve()
    ours = dict(zip(result.network.forest.names, result.node_v()[:, 0], strict=True))
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


@pytest.mark.parametrize("at", range(len(SEEDS)), ids=lambda at: f"seed {SEEDS[at]}")
def test_made_nets_agree_with_ngspice(at: int, made, made_figures) -> None:
    assert_agree(made[at], made_figures[at])


def test_the_made_nets_are_below_95_percent_and_hold_every_kind_of_load(made) -> None:
    for drawing in made:
        assert not drawing.scaled(1 / 0.95).solve().no_operating_point
    assert {part.model for drawing in made for part in drawing.loads} == set(LoadModel)
