"""Access points, converters, kinds of source, switches by condition: what each brings to the assessment, and nothing more."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.buyer_rules import DEFAULT_DROP_RULES
from builds.engineering.changes import apply_changes
from builds.engineering.design import AlternatorSpec, Design
from builds.engineering.explaining.explain import explain
from builds.engineering.proposing import propose
from tests.engineering.assess.designs import SOUND, added, changed, without
from tests.engineering.assess.plants_feeding import (
    FEEDING_PLANTS,
    NAMED,
    WITH_24_V,
    WITH_CHARGER,
    WITH_STRAP,
    WITH_STUD,
)


def said(design: Design) -> list[tuple[str, str]]:
    return sorted((finding.id, finding.subject) for finding in assess(design).findings)


@pytest.mark.parametrize(
    "design", [SOUND, WITH_24_V, WITH_STUD, NAMED, WITH_STRAP], ids=["sound", "24 V bus", "stud", "named", "strap"]
)
def test_the_builds_that_faults_are_planted_in_are_sound(design: Design) -> None:
    assert said(design) == []


@pytest.mark.parametrize(
    ("sound", "planted", "expected"), [pytest.param(*plant[1:], id=plant[0]) for plant in FEEDING_PLANTS]
)
def test_a_planted_fault_is_found_and_nothing_else(
    sound: Design, planted: Design, expected: tuple[tuple[str, str], ...]
) -> None:
    assert said(planted) == sorted([*said(sound), *expected])


def test_a_proposed_repair_takes_its_finding_away() -> None:
    repaired = 0
    for _, _, planted, _ in FEEDING_PLANTS:
        for finding in assess(planted).findings:
            if finding.fix is not None:
                repaired += 1
                after = said(apply_changes(planted, finding.fix.changes))
                assert (finding.id, finding.subject) not in after

    assert repaired


@pytest.mark.parametrize("design", [WITH_24_V, WITH_STUD], ids=["24 V bus", "maker's stud"])
def test_proposed_sizes_leave_a_sound_build_sound(design: Design) -> None:
    for proposal in propose(design):
        if not proposal.stands:
            assert [id_ for id_, _ in said(apply_changes(design, proposal.changes))] == [], proposal.subject


def test_what_an_alternator_gives_comes_home_over_its_straps_as_their_resistances_share_it() -> None:
    twin = added(
        WITH_STRAP, "run", replace(next(run for run in WITH_STRAP.runs if run.key == "S4"), key="S5", parallel=1)
    )
    peaks = {run.key: run.peak_a for run in assess(twin).runs}
    # 220 A × 0.8, two conductors beside one of the same size
    assert [peaks[key] for key in ("S3", "S4", "S5")] == pytest.approx([176.0, 176.0 * 2 / 3, 176.0 / 3], rel=1e-6)
    assert explain(twin, "run-peak:S5").result == pytest.approx(peaks["S5"])


def test_a_part_of_twelve_volts_that_no_buyer_asked_for_is_that_part_of_the_loads_own_bus() -> None:
    own = {circuit.number: circuit.drop_base_v for circuit in assess(WITH_24_V).circuits}
    assert (own["101"], own["301"]) == (12.0, 24.0)
    asked = replace(WITH_24_V.buyer, drop_rules=(replace(DEFAULT_DROP_RULES[0], key="theirs", follows_bus=False),))
    assert {circuit.drop_base_v for circuit in assess(replace(WITH_24_V, buyer=asked)).circuits} == {12.0}


def test_a_start_below_the_least_voltage_says_how_long_the_device_bears_it() -> None:
    planted = next(design for name, _, design, _ in FEEDING_PLANTS if name == "a start that takes the load itself down")
    message = next(finding.message for finding in assess(planted).findings if finding.id == "inrush-below-least")
    assert "takes 200 A as it starts" in message
    assert "s at the least" in message


def test_what_a_converter_charges_does_not_come_back_through_it() -> None:
    """A second battery behind a DC-DC keeps alive what hangs on it, and nothing on the converter's own feed."""
    found = {(one.id, one.subject) for one in assess(WITH_CHARGER).findings}

    assert not {
        (id_, subject)
        for id_, subject in found
        if id_ in ("disconnect-missing", "device-leaves-live", "disconnect-leaves-live")
    }


def test_what_a_charging_converter_takes_is_in_the_balance_of_the_source_and_in_its_cables() -> None:
    """40 A at 14.4 V and 90 % take 640 W of what feeds it, so 640 ÷ U."""
    plain = without(without(WITH_CHARGER, "run", "R8", "R9"), "node", "CV")
    alone, charging = (at_idle(design) for design in (plain, WITH_CHARGER))
    feed = next(run for run in assess(WITH_CHARGER).runs if run.key == "R8")

    assert 12.6 < 640.0 / feed.mean_a < 13.0  # the condition's 13.0 V, less what the way there loses
    assert charging == pytest.approx(alone - feed.mean_a, abs=0.2)  # at the lower volts the siren takes a little more


def test_a_source_that_a_charging_converter_overloads_is_told_with_its_part() -> None:
    weak = changed(
        WITH_CHARGER, "node", "ALT", alternator=AlternatorSpec(rated_a=150.0, idle_ratio=0.4, speed_ratio=0.8)
    )

    message = next(one.message for one in assess(weak).findings if one.id == "source-deficit-at-idle")

    assert "A of it into converters that charge, and the alternator gives 60 A" in message


def test_a_converters_own_feed_is_not_behind_its_output() -> None:
    """80 A on its input stand behind the 175 A of the main device, whatever is on its output."""
    facts = {(one.id, one.subject) for one in assess(WITH_CHARGER).findings}

    assert ("device-above-feed", "run:R8") not in facts


def test_turning_the_run_that_was_meant_as_an_output_cures_it() -> None:
    turned = changed(WITH_CHARGER, "run", "R9", from_node="BAT2", to_node="CV")
    finding = next(one for one in assess(turned).findings if one.id == "converter-gives-nothing")

    assert finding.fix is not None
    assert apply_changes(turned, finding.fix.changes) == WITH_CHARGER


def at_idle(design: Design) -> float:
    """What is left of the source in the sound build's condition at idle [A]."""
    result = next(condition for condition in assess(design).conditions if condition.key == "scene")
    assert result.source is not None
    return result.source.margin_a
