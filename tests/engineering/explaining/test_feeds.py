"""Workings of a panel's feed drop and of an alternator's hot output: they end at the figure of the sheet."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import AlternatorPoint, Design
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining import explain
from tests.engineering.assess.designs import SOUND, changed
from tests.engineering.assess.test_rings import RINGED


@pytest.mark.parametrize("design", [SOUND, *RINGED.values()], ids=["tree", *RINGED])
def test_a_feed_drop_is_the_sum_of_what_each_run_and_joint_on_the_way_takes(design: Design) -> None:
    for panel in assess(design).panels:
        working = explain(design, f"panel-feed-drop:{panel.key}")

        assert working.result == pytest.approx(100 * panel.feed_drop_ratio)
        assert working.steps[-1].value == pytest.approx(working.result)  # type: ignore[union-attr]


def test_hot_output_is_the_part_of_the_rating_and_no_more_than_the_curve() -> None:
    # 220 A, 0.4 of it at idle and 0.8 at speed
    assert explain(SOUND, "alternator-idle:ALT").result == pytest.approx(88.0)
    assert explain(SOUND, "alternator-speed:ALT").result == pytest.approx(176.0)

    spec = next(node.alternator for node in SOUND.nodes if node.alternator is not None)
    curve = tuple(
        AlternatorPoint(speed_rpm=speed, ambient_c=93.0, output_a=a) for speed, a in ((1500.0, 60.0), (6000.0, 150.0))
    )
    curved = changed(SOUND, "node", "ALT", alternator=replace(spec, points=curve))
    assert explain(curved, "alternator-idle:ALT").result == pytest.approx(60.0)
    assert explain(curved, "alternator-speed:ALT").result == pytest.approx(150.0)


def test_hours_one_after_the_other_leave_the_crew_out() -> None:
    assert (
        explain(SOUND, "hours-elapsed").result == pytest.approx(assess(SOUND).labour.elapsed_h) == pytest.approx(18.0)
    )


def test_what_is_no_panel_and_no_alternator_has_no_such_working() -> None:
    for key in ("panel-feed-drop:BAT1", "alternator-idle:BAT1"):
        with pytest.raises(UnknownTableEntry):
            explain(SOUND, key)
