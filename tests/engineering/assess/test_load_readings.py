"""A current that was read is compared with one calculated at the same voltage, each load by its own model."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import Design, LoadUse
from builds.engineering.load_readings import calculated_at_a
from builds.engineering.vocabulary import LoadModel
from tests.engineering.assess.designs import SOUND, changed


def watched(model: LoadModel) -> Design:
    """The radio alone in the watch, 6 A at 12.8 V, on a way that loses next to nothing."""
    design = changed(SOUND, "load", "RADIO", model=model, min_v=0.0)
    design = changed(design, "condition", "watch", uses=(LoadUse(load="RADIO"),))
    return changed(design, "circuit", "201", length_m=0.0, return_length_m=0.0)


@pytest.mark.parametrize(
    ("model", "expected_a"),
    [
        (LoadModel.CONSTANT_CURRENT, 6.0),
        (LoadModel.RESISTIVE, 6.0 * 13.4 / 12.8),
        (LoadModel.CONSTANT_POWER, 6.0 * 12.8 / 13.4),
    ],
)
def test_a_load_is_brought_to_the_volts_of_the_reading_by_its_model(model: LoadModel, expected_a: float) -> None:
    # the ways lose some 0.2 % of the voltage
    assert calculated_at_a(watched(model), "watch", 13.4) == pytest.approx(expected_a, rel=5e-3)


def test_at_the_conditions_own_worst_voltage_it_is_the_assessments_figure() -> None:
    design = changed(SOUND, "condition", "driving", source_high_v=13.2)
    mean_a = next(item.mean_a for item in assess(design).conditions if item.key == "driving")

    assert calculated_at_a(design, "driving", 13.2) == pytest.approx(mean_a, rel=1e-3)


def test_what_cannot_be_compared_has_no_figure() -> None:
    no_battery = replace(SOUND, nodes=tuple(node for node in SOUND.nodes if node.battery is None))

    assert calculated_at_a(SOUND, "nowhere", 13.0) is None
    assert calculated_at_a(SOUND, "driving", 0.0) is None
    assert calculated_at_a(no_battery, "driving", 13.0) is None
