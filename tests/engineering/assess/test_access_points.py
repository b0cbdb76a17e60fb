"""
A circuit fed from an access point that is named and not drawn: what the platform has on file of it stands in for the drawing.

The sound build with the maker's stud on it: 20 A of heater behind the maker's fuse of 60 A, once drawn and once on file.
"""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment, CircuitResult
from builds.engineering.design import AccessPoint, Design
from builds.engineering.document import canonical_text, read_document
from builds.engineering.explaining import explain
from builds.engineering.flows.solve import solve_conditions
from builds.engineering.makers_wires import assumed_mohm, with_makers_wires
from builds.engineering.proposing import propose
from builds.engineering.vocabulary import HotWhen, Polarity
from tests.engineering.assess.designs import SOUND, changed
from tests.engineering.assess.plants_feeding import NAMED, STUD, WITH_STUD, on_in, with_points

ON_FILE = replace(STUD, device_family="MRBF", gauge="6", length_m=1.5)


def named(point: AccessPoint = ON_FILE) -> Design:
    """The stud named and its wire not drawn."""
    return with_points(NAMED, point)


def said(result: Assessment) -> set[tuple[str, str]]:
    return {(item.id, item.subject) for item in result.findings}


def heater(result: Assessment) -> CircuitResult:
    return next(item for item in result.circuits if item.number == "401")


def drawn() -> Design:
    """The same wire drawn as the maker's own, its fuse at the battery."""
    design = changed(WITH_STUD, "run", "R10", makers_own=True, device_distance_m=0.0)
    return with_points(design, ON_FILE)


def test_a_point_on_file_gives_the_figures_of_its_wire_drawn() -> None:
    by_name, by_drawing = assess(named()), assess(drawn())

    assert heater(by_name) == heater(by_drawing)
    assert by_name.conditions == by_drawing.conditions
    assert not {id_ for id_, _ in said(by_name)} & {"not-fed", "load-not-fed", "access-way-assumed"}


def test_nothing_is_put_in_beside_a_wire_that_is_drawn() -> None:
    assert with_makers_wires(WITH_STUD) is WITH_STUD
    assert with_makers_wires(SOUND) is SOUND
    assert with_makers_wires(with_makers_wires(named())) == with_makers_wires(named())


def test_an_unknown_way_is_assumed_and_said_so() -> None:
    # a quarter of a volt at the maker's 60 A: 4.1667 mΩ
    result = assess(named(STUD))

    assert assumed_mohm(STUD) == pytest.approx(250 / 60, abs=1e-4)
    assert ("access-way-assumed", "node:AP1") in said(result)
    assert ("not-fed", "circuit:401") not in said(result)


def test_what_is_measured_stands_in_for_what_is_assumed() -> None:
    """20 A through 15 mΩ are 0.3 V more than through none."""
    some, none = (heater(assess(named(replace(STUD, resistance_mohm=mohm)))) for mohm in (15.0, 0.0))

    assert (some.drop_ratio - none.drop_ratio) * 12.0 == pytest.approx(0.3, abs=0.005)
    assert some.far_end_fault_a < none.far_end_fault_a


def test_continuous_and_peak_allowance_and_group_are_held_against_it() -> None:
    assert ("access-allowance-exceeded", "node:AP1") in said(assess(named(replace(ON_FILE, allowance_a=15.0))))
    assert ("access-peak-exceeded", "node:AP1") in said(assess(named(replace(ON_FILE, peak_allowance_a=19.0))))
    assert ("access-peak-exceeded", "node:AP1") not in said(assess(named(replace(ON_FILE, peak_allowance_a=21.0))))
    group = replace(ON_FILE, group="bar", group_allowance_a=15.0)
    assert ("access-group-exceeded", "node:AP1") in said(assess(named(group)))


def test_a_larger_makers_fuse_cures_no_allowance() -> None:
    larger = replace(ON_FILE, allowance_a=15.0, device_rating_a=100.0)

    assert ("access-allowance-exceeded", "node:AP1") in said(assess(named(larger)))


def test_a_point_that_is_dead_with_the_key_off_feeds_nothing_then() -> None:
    asleep = changed(named(), "load", "HEAT", key_off_a=0.1)
    behind_key = with_points(asleep, replace(ON_FILE, hot_when=HotWhen.IGNITION))

    assert assess(asleep).energy.key_off_ma - assess(behind_key).energy.key_off_ma == pytest.approx(100.0)
    flows = solve_conditions(on_in(behind_key, "parked", "HEAT"))
    assert "HEAT" not in {load.key for load in flows["parked"].loads()}
    assert "HEAT" in {load.key for load in flows["scene"].loads()}
    assert explain(behind_key, "key-off").result == pytest.approx(assess(behind_key).energy.key_off_ma)


def test_a_load_on_at_a_dead_point_is_said_once() -> None:
    dead = on_in(named(replace(ON_FILE, hot_when=HotWhen.ENGINE)), "parked", "HEAT")
    ids = [item.id for item in assess(dead).findings if item.subject == "load:HEAT"]

    assert ids.count("access-not-hot") == 1
    assert "load-not-fed" not in ids


def test_a_platforms_source_that_the_build_lacks_is_said() -> None:
    other = assess(named(replace(ON_FILE, source="BATX")))
    second = assess(named(replace(ON_FILE, source="BAT2")))

    assert ("access-source-unknown", "node:AP1") in said(other)
    assert "access-source-unknown" not in {id_ for id_, _ in said(second)}
    assert heater(second) != heater(other)


def test_devices_behind_the_makers_fuse_are_coordinated_with_it() -> None:
    close = changed(named(replace(ON_FILE, device_rating_a=30.0)), "load", "HEAT", current_a=10.0)

    assert ("device-above-feed", "circuit:401") in said(assess(close))


def test_nothing_is_proposed_for_a_wire_of_the_makers() -> None:
    subjects = {proposal.subject for proposal in propose(named())}

    assert "circuit:401" in subjects
    assert not {subject for subject in subjects if "AP1" in subject}


def test_a_point_that_takes_current_back_needs_no_drawing_either() -> None:
    ground = AccessPoint(key="X9", name="ground bolt", zone="cab", allowance_a=30.0, polarity=Polarity.NEGATIVE)
    design = with_points(WITH_STUD, STUD, ground)
    node = replace(next(node for node in design.nodes if node.key == "AP1"), key="AP9", access_point="X9")
    back = changed(replace(design, nodes=(*design.nodes, node)), "circuit", "401", return_node="AP9")
    measured = with_points(back, STUD, replace(ground, resistance_mohm=0.0))

    assert ("no-way-back", "circuit:401") not in said(assess(back))
    # 20 A through the assumed 250 mV at 30 A: 0.1667 V
    lost_v = (heater(assess(back)).drop_ratio - heater(assess(measured)).drop_ratio) * 12.0
    assert lost_v == pytest.approx(20.0 * 0.25 / 30.0, abs=0.003)


def test_what_a_point_has_on_file_survives_a_document() -> None:
    full = named(replace(ON_FILE, resistance_mohm=3.0, peak_allowance_a=40.0, source="BAT1"))

    assert read_document(canonical_text(full)) == full
    assert "peak_allowance_a" not in canonical_text(WITH_STUD)
