"""Access points, converters, kinds of source, switches by condition: what each brings to the assessment, and nothing more."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.buyer_rules import DEFAULT_DROP_RULES
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design, PowerNode
from builds.engineering.explaining.explain import explain
from builds.engineering.proposing import propose
from builds.engineering.vocabulary import NodeKind
from tests.engineering.assess.designs import SOUND, added, supply, without
from tests.engineering.assess.plants_feeding import FEEDING_PLANTS, NAMED, WITH_24_V, WITH_STRAP, WITH_STUD, converter


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
    design = without(without(SOUND, "run", "R3", "R4"), "node", "ISO")
    charger = PowerNode(
        key="CV", kind=NodeKind.CONVERTER, name="battery charger", zone="cargo",
        converter=replace(converter(output_v=14.4, limit_a=40.0), return_node="G2"),
    )  # fmt: skip
    feed = supply("R8", "DISC", "CV", "4", 3.0, device_family="ANL", device_rating_a=80.0)
    onward = supply("R9", "CV", "BAT2", "6", 1.0, device_family="MRBF", device_rating_a=60.0)

    found = {
        (one.id, one.subject) for one in assess(added(added(design, "node", charger), "run", feed, onward)).findings
    }

    assert not {
        (id_, subject)
        for id_, subject in found
        if id_ in ("disconnect-missing", "device-leaves-live", "disconnect-leaves-live")
    }
