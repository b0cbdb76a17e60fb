"""Shedding that goes off again and again: what brings it back, and that the proposed change cures it."""

import pytest

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Finding
from tests.engineering.assess.designs import SOUND
from tests.engineering.assess.plants_duty import day, step, stopping

CHATTER = {"shedding-chatters", "shedding-follows-charging"}


def chatter(design: Design) -> list[Finding]:
    return [finding for finding in assess(design).findings if finding.id in CHATTER]


def test_a_step_that_every_start_brings_back_is_not_said_to_be_lifted_by_letting_go() -> None:
    (finding,) = chatter(stopping(SOUND))

    assert finding.id == "shedding-follows-charging"
    assert "goes off 3 times" in finding.message and "charging brings it back" in finding.message


@pytest.mark.parametrize(
    "figures", [{}, {"off_below_v": 11.8, "off_delay_s": 0.0, "on_delay_s": 2.0, "ignores_crank": False}]
)
def test_what_is_proposed_against_following_the_engine_cures_it_at_once(figures: dict[str, float | bool]) -> None:
    design = stopping(SOUND, **figures)
    (finding,) = chatter(design)
    assert finding.fix is not None

    assert chatter(apply_changes(design, finding.fix.changes)) == []


def test_cranking_that_pulls_a_step_down_is_named_as_the_cause() -> None:
    (finding,) = chatter(stopping(SOUND, off_below_v=11.8, off_delay_s=0.0, on_delay_s=2.0, ignores_crank=False))

    assert finding.id == "shedding-follows-charging"
    assert "cranking pulls the battery down" in finding.message


@pytest.mark.parametrize("on_above_v", [12.6, 12.62, 12.7])
def test_the_voltage_proposed_against_letting_go_is_above_the_present_one_and_cures(on_above_v: float) -> None:
    design = step(day(SOUND, ("watch", 240)), "RADIO", off_below_v=12.6, on_above_v=on_above_v)

    for finding in chatter(design):
        assert finding.id == "shedding-chatters" and finding.fix is not None
        assert finding.fix.changes[0].value > on_above_v
        assert chatter(apply_changes(design, finding.fix.changes)) == []
