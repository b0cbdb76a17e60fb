"""An alternator whose maker's curve stands on file: read where it can be, said and never flattered where it cannot."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import AlternatorUse
from builds.engineering.design import AlternatorPoint, AlternatorSpec, Design
from builds.engineering.explaining import explain
from tests.engineering.assess.designs import SOUND, changed

# a small diesel alternator, marine diesel technical data: at 1300, 2500 and 5000 1/min hot 16, 41, 48 A, cold 24, 50 A
POINTS = tuple(
    AlternatorPoint(speed_rpm=speed, ambient_c=ambient, output_a=output)
    for speed, ambient, output in ((1300, 25, 24), (2500, 25, 50), (1300, 93, 16), (2500, 93, 41), (5000, 93, 48))
)
SPEC = AlternatorSpec(rated_a=140.0, idle_ratio=0.45, speed_ratio=0.8, points=POINTS)


def fitted(spec: AlternatorSpec, **condition: float) -> Design:
    return changed(changed(SOUND, "node", "ALT", alternator=spec), "condition", "scene", **condition)


def given(design: Design) -> AlternatorUse:
    found = next(result.source for result in assess(design).conditions if result.key == "scene")
    assert found is not None
    return found


def unread(design: Design) -> list[str]:
    return [finding.message for finding in assess(design).findings if finding.id == "alternator-curve-unread"]


def test_without_its_pulley_the_curve_is_said_to_be_unread_and_its_least_hot_point_counts_at_idle() -> None:
    design = fitted(SPEC, engine_rpm=700)

    assert given(design) == AlternatorUse(available_a=16.0, margin_a=given(design).margin_a, estimate=True)
    (message,) = unread(design)
    assert "its pulley ratio" in message


def test_without_the_engine_speed_the_condition_is_named() -> None:
    (message,) = unread(fitted(replace(SPEC, pulley_ratio=2.5)))

    assert "the condition's engine speed" in message and "scene" in message


def test_a_curve_with_everything_it_takes_is_read_and_no_estimate() -> None:
    # 700 x 2.5 = 1750 1/min: 16 + 25 x 450/1200 A hot
    design = fitted(replace(SPEC, pulley_ratio=2.5), engine_rpm=700)

    assert given(design).available_a == pytest.approx(16 + 25 * 450 / 1200) and not given(design).estimate


def test_a_rating_below_the_curve_stays_the_estimate() -> None:
    assert given(fitted(replace(SPEC, rated_a=30.0))).available_a == pytest.approx(30.0 * 0.45)


@pytest.mark.parametrize("ambient_c", [None, 120.0])
def test_the_working_says_what_stands_in_for_the_curve(ambient_c: float | None) -> None:
    design = fitted(SPEC if ambient_c is None else replace(SPEC, pulley_ratio=2.5), engine_rpm=700, ambient_c=ambient_c)
    step = explain(design, "condition-source:scene").steps[0]

    said = "the lesser of 140 A × 0.45" if ambient_c is None else "hotter than its hottest curve"
    assert said in step.rows[0].words  # type: ignore[union-attr]
