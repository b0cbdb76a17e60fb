"""Proposals on builds nobody thought of: each passes, the next smaller on the shelf fails a named rule, all hold together."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from builds.engineering.assess import assess
from builds.engineering.changes import FAMILIES, apply_changes
from builds.engineering.design import Circuit, Design, Run
from builds.engineering.document import read_document
from builds.engineering.electrical.ampacity import ampacity
from builds.engineering.electrical.conductors import ConductorSize, area_mm2, resistance_ohm_per_m, sizes
from builds.engineering.electrical.protection import device_family
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.findings import Severity
from builds.engineering.proposing import SizingProposal, SizingRule, changes_of, preview, propose
from builds.engineering.vocabulary import LoadModel
from tests.engineering.assess.designs import SOUND, changed, with_rule
from tests.engineering.assess.plants import PLANTS, Plant
from tests.engineering.assess.plants_feeding import WITH_24_V

CASES = Path(__file__).parents[2] / "cases"

SIZING_IDS = {
    "conductor-below-load", "device-above-conductor", "conductor-below-margin", "conductor-below-minimum", "device-below-load",
    "device-loading-exceeded", "device-not-standard", "drop-over-limit", "fault-not-cleared", "feed-fault-not-cleared",
    "run-unprotected", "device-above-feed",
}  # fmt: skip
SHELVES = ("all", "18, 14, 10, 6, 2, 2/0", "16 12 8 4 1/0 4/0")
RATING_SHELVES = ("all", "5, 10, 20, 30, 40, 60, 100, 150, 200", "7.5 15 25 40 80 125 175")

circuits = st.fixed_dictionaries(
    {
        "gauge": st.sampled_from(("18", "16", "14", "12", "10", "8")),
        "device_rating_a": st.sampled_from((3.0, 5.0, 10.0, 14.0, 20.0, 30.0)),
        "length_m": st.floats(0.2, 15.0),
        "bundle": st.sampled_from((1, 3, 8)),
    }
)
loads = st.fixed_dictionaries(
    {
        "current_a": st.floats(0.0, 20.0),
        "model": st.sampled_from(list(LoadModel)),
        "can_be_steady": st.booleans(),
        "continuous": st.booleans(),
    }
)


@st.composite
def designs(draw: st.DrawFn) -> Design:
    design = SOUND
    for number in ("101", "103", "202"):
        design = changed(design, "circuit", number, **draw(circuits))
    for key in ("BAR", "SCENE", "LOCKER"):
        design = changed(design, "load", key, min_v=0.0, quantity=1, **draw(loads))
    for key in ("R2", "R6"):
        design = changed(
            design, "run", key, gauge=draw(st.sampled_from(("8", "6", "4", "2"))), length_m=draw(st.floats(0.3, 6.0))
        )
    design = with_rule(design, "conductor-margin", draw(st.sampled_from((0.8, 1.0, 1.25))))
    design = with_rule(design, "stocked-gauges", draw(st.sampled_from(SHELVES)))
    return with_rule(design, "stocked-ratings", draw(st.sampled_from(RATING_SHELVES)))


def part_of(design: Design, subject: str) -> Circuit | Run:
    family, _, key = subject.partition(":")
    chosen = FAMILIES[family]
    return next(part for part in getattr(design, chosen.field) if chosen.key_of(part) == key)


def shelf(design: Design, key: str) -> set[str] | None:
    text = next((str(rule.value) for rule in design.buyer.rules if rule.key == key), "all")
    return None if text == "all" else set(text.replace(",", " ").split())


def tabulated(design: Design) -> list[str]:
    """Gauges that the amperage table has, smallest first."""
    found = []
    for size in sizes(design.conventions.gauge_basis):
        try:
            ampacity(size=size, insulation_c=125.0, ambient_c=30.0)
        except UnknownTableEntry:
            continue
        found.append(size.gauge)
    return found


def figure(design: Design, proposal: SizingProposal, gauge: str, rule: SizingRule) -> float | None:
    """What a rule says of a gauge, worked from the public formulas; None for the far end, which asks for the whole loop."""
    part, basis = part_of(design, proposal.subject), design.conventions.gauge_basis
    size = ConductorSize(basis, gauge)
    parallel = part.parallel if isinstance(part, Run) else 1
    length_m = part.length_m + (part.return_length_m if isinstance(part, Circuit) else 0.0)
    zones = {zone.key: zone.ambient_c for zone in design.platform.zones}
    nodes = {node.key: node.zone for node in design.nodes}
    if isinstance(part, Circuit):
        ends = [nodes[part.panel], *(load.zone for load in design.loads if load.circuit == part.number)]
    else:
        ends = [nodes[part.from_node], nodes[part.to_node]]
    if rule in (SizingRule.LOAD, SizingRule.DEVICE):
        ambient_c = max(zones[key] for key in part.zones or ends)
        found = ampacity(size=size, insulation_c=part.insulation_c, ambient_c=ambient_c, bundle_count=part.bundle)
        return found.value_a * parallel
    if rule is SizingRule.DROP:
        return 1000 * resistance_ohm_per_m(size=size) * length_m / parallel
    return area_mm2(size) if rule is SizingRule.SMALLEST else None


def check_next_gauge(design: Design, proposal: SizingProposal) -> None:
    stocked, gauges = shelf(design, "stocked-gauges"), tabulated(design)
    smaller = [g for g in gauges[: gauges.index(proposal.gauge)] if stocked is None or g in stocked]
    if proposal.next_gauge is None:
        assert not smaller or proposal.policy
        return
    assert proposal.next_gauge.name == smaller[-1]
    check = proposal.next_gauge.check
    assert not check.passed
    worked = figure(design, proposal, smaller[-1], check.rule)
    assert worked is None or check.value == pytest.approx(worked)


def check_next_rating(design: Design, proposal: SizingProposal) -> None:
    if proposal.rating_a is None or proposal.policy.startswith("kept: no"):
        return
    stocked = shelf(design, "stocked-ratings")
    ratings = device_family(proposal.family).ratings_a
    smaller = [r for r in ratings if r < proposal.rating_a and (stocked is None or f"{r:g}" in stocked)]
    if proposal.next_rating is None:
        assert not smaller or proposal.policy
        return
    assert proposal.next_rating.name == f"{smaller[-1]:g} A"
    assert proposal.next_rating.check.value == smaller[-1] < proposal.next_rating.check.limit


def said(design: Design) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assess(design).findings}


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(designs())
def test_every_proposal_passes_and_the_next_smaller_fails_a_named_rule(design: Design) -> None:
    proposals = propose(design)

    for proposal in proposals:
        for check in proposal.checks:
            worked = figure(design, proposal, proposal.gauge, check.rule)
            assert worked is None or check.value == pytest.approx(worked)
        if proposal.stands:
            check_next_gauge(design, proposal)
            check_next_rating(design, proposal)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(designs())
def test_all_applied_at_once_hold_together(design: Design) -> None:
    proposals = propose(design)

    after = said(apply_changes(design, changes_of(proposals)))

    fixed = {proposal.subject for proposal in proposals if proposal.stands and not proposal.unmet}
    assert {(id_, subject) for id_, subject in after if id_ in SIZING_IDS and subject in fixed} == set()


def proposal_of(design: Design, subject: str) -> SizingProposal:
    return next(proposal for proposal in propose(design) if proposal.subject == subject)


def test_the_load_asks_for_the_device_and_the_device_for_the_wire() -> None:
    # 12 A on 80 % of a blade fuse that keeps 93.75 % at 50 °C is 16 A: 20 A; short wire, so no drop: 20 A of ampacity on the
    # roof (0.827) is 18 gauge (25 × 0.827 = 20.7 A); a margin of 1.25 asks for 25 A, which 16 gauge (24.8 A) just misses
    design = with_rule(changed(SOUND, "circuit", "101", length_m=0.3, return_length_m=0.3), "conductor-margin", 1.25)

    proposal = proposal_of(design, "circuit:101")

    assert (proposal.rating_a, proposal.rating_rule) == (20.0, SizingRule.LOADING)
    assert (proposal.gauge, proposal.gauge_rule) == ("14", SizingRule.DEVICE)
    assert proposal.next_gauge is not None and proposal.next_gauge.check.rule is SizingRule.DEVICE
    assert proposal.next_rating is not None and proposal.next_rating.name == "15 A"


def test_what_the_shelf_lacks_is_rounded_up_and_said() -> None:
    design = with_rule(SOUND, "stocked-ratings", "10, 30")
    design = with_rule(design, "stocked-gauges", "12, 8")

    proposal = proposal_of(design, "circuit:101")

    assert (proposal.rating_a, proposal.rating_rule) == (30.0, SizingRule.STOCKED)
    assert "20 A" in proposal.policy
    assert (proposal.gauge, proposal.gauge_rule) == ("12", SizingRule.STOCKED)


def test_a_shelf_without_any_size_that_will_do_proposes_nothing() -> None:
    proposal = proposal_of(with_rule(SOUND, "stocked-gauges", "22"), "circuit:101")

    assert not proposal.stands
    assert proposal.changes == ()
    assert proposal.gauge_rule is SizingRule.STOCKED


def test_what_breaks_a_rule_now_is_marked_as_needed() -> None:
    thin = changed(SOUND, "circuit", "101", gauge="18", length_m=9.0)

    found = {proposal.subject: proposal.needed for proposal in propose(thin)}

    assert found["circuit:101"]
    assert not any(needed for subject, needed in found.items() if subject != "circuit:101")


def test_a_cable_off_a_battery_without_a_device_gets_one() -> None:
    bare = changed(SOUND, "run", "R5", device_family="", device_rating_a=None, device_distance_m=0.0)

    proposal = proposal_of(bare, "run:R5")
    after = said(apply_changes(bare, proposal.changes))

    assert proposal.family == "MRBF"  # it breaks 10 kA at 12 V; a short at this post draws 3.6 kA
    assert ("run-unprotected", "run:R5") not in after


def test_links_between_sources_and_charging_cables_are_left_alone() -> None:
    subjects = {proposal.subject for proposal in propose(SOUND)}

    assert subjects.isdisjoint({"run:R1", "run:R3", "run:R4", "run:R7"})


def test_ways_back_are_never_proposed_smaller() -> None:
    proposal = proposal_of(changed(SOUND, "run", "S2", gauge="4/0"), "run:S2")

    assert proposal.gauge == "4/0"
    assert "starter" in proposal.policy


def test_a_feed_is_not_thickened_beyond_what_devices_behind_it_break() -> None:
    # nothing is cited as back-up, and blades break 1 kA: a thick feed would let 3 kA through
    design = with_rule(SOUND, "backup-device", "not cited")
    design = changed(changed(design, "run", "R2", gauge="12", length_m=5.0), "run", "R6", gauge="12", length_m=5.0)
    assert {"interrupting-capacity-low"}.isdisjoint(id_ for id_, _ in said(design))

    after = said(apply_changes(design, changes_of(propose(design))))

    assert {"interrupting-capacity-low"}.isdisjoint(id_ for id_, _ in after)


def test_a_feed_device_exceeds_those_behind_it() -> None:
    proposals = {proposal.subject: proposal for proposal in propose(SOUND)}

    largest = max(proposals[f"circuit:{number}"].rating_a or 0 for number in ("101", "102", "103", "104"))
    assert (proposals["run:R2"].rating_a or 0) > largest


def test_a_device_that_cannot_break_a_short_stays_said_beside_the_pair() -> None:
    proposal = proposal_of(with_rule(SOUND, "backup-device", "not cited"), "circuit:101")

    assert [check.rule for check in proposal.unmet] == [SizingRule.BREAKING]
    assert proposal.stands


def test_chosen_proposals_alone_are_applied() -> None:
    proposals = propose(SOUND)

    changes = changes_of(proposals, {"circuit:102"})

    assert {change.subject for change in changes} == {"circuit:102"}
    assert len(changes_of(proposals)) > len(changes)


def test_a_preview_tells_findings_that_go_and_come_and_drops_that_move() -> None:
    thin = changed(SOUND, "circuit", "101", gauge="18", length_m=9.0)

    seen = preview(thin, assess(thin), changes_of(propose(thin), {"circuit:101"}))

    assert ("drop-over-limit", "circuit:101") in {(finding.id, finding.subject) for finding in seen.gone}
    assert not {finding.id for finding in seen.come} & SIZING_IDS
    shift = next(shift for shift in seen.drops if shift.number == "101")
    assert shift.after_ratio is not None and shift.before_ratio is not None
    assert shift.after_ratio <= shift.limit_ratio < shift.before_ratio


def test_after_applying_all_none_is_needed_again() -> None:
    once = apply_changes(SOUND, changes_of(propose(SOUND)))

    again = [proposal for proposal in propose(once) if proposal.subject.startswith("circuit:")]

    assert all(proposal.stands for proposal in again)
    assert not any(proposal.needed for proposal in again)


@pytest.mark.parametrize(
    "planted",
    [plant for plant in PLANTS if "past what its wire can carry" not in plant.name],
    ids=lambda plant: plant.name,
)
def test_proposals_of_every_planted_build_bring_nothing_but_notes(planted: Plant) -> None:
    design = planted.design

    seen = preview(design, assess(design), changes_of(propose(design)))

    assert [(finding.id, finding.subject) for finding in seen.come if finding.severity is not Severity.NOTE] == []


def test_conductors_in_parallel_stay_able_to_carry_the_whole() -> None:
    # 180 A over two conductors: should one open, the other carries it all
    design = next(plant.design for plant in PLANTS if plant.name == "source short at road speed")

    proposal = proposal_of(design, "run:H1")

    assert (proposal.ampacity_a or 0) / 2 >= 180
    assert "should one" in proposal.policy


def test_a_circuit_whose_condition_collapses_is_given_a_wire_within_its_limit() -> None:
    design = read_document((CASES / "17-no-operating-point.json").read_bytes())

    after = said(apply_changes(design, changes_of(propose(design))))

    assert {subject for id_, subject in after if id_ in SIZING_IDS} == set()
    assert "no-operating-point" not in {id_ for id_, _ in after}


def test_a_feed_behind_a_converter_says_that_what_it_gives_opens_no_device_of_that_size() -> None:
    # the converter gives 30 A into a short; a bolt-in fuse of 30 A, the smallest made, wants 3.5 times that to open quickly
    design = changed(WITH_24_V, "run", "R9", device_family="MIDI", device_rating_a=40.0, device_distance_m=0.1)

    proposal = proposal_of(design, "run:R9")

    (check,) = [check for check in proposal.unmet if check.rule is SizingRule.FAR_END]
    assert (proposal.rating_a, check.limit) == (30.0, 105.0)
    assert check.value < 31
