"""What stands before a conductor, what opens on a short, and repairs that must cure what they are offered for."""

from dataclasses import replace
from typing import Any

import pytest

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.design import BuyerRule, Design, PowerNode, Run
from builds.engineering.explaining.explain import explain
from builds.engineering.findings import Finding, Severity
from builds.engineering.proposing import propose
from builds.engineering.vocabulary import NodeKind, RunSide
from tests.engineering.assess.designs import AUXILIARY, SOUND, STARTING, added, changed, supply, without
from tests.engineering.assess.plants_feeding import WITH_24_V, WITH_STUD, converter


def finding_of(design: Design, id_: str, subject: str) -> Finding:
    """The one finding of this id about this subject."""
    (found,) = (item for item in assess(design).findings if (item.id, item.subject) == (id_, subject))
    return found


def test_a_short_that_draws_least_at_a_converter_is_named_by_the_converter() -> None:
    weak = changed(WITH_24_V, "node", "BAT1", battery=replace(STARTING, internal_mohm=60.0))

    finding = finding_of(weak, "feed-fault-not-cleared", "run:R8")

    assert "a short at the input of CV (24 V converter) draws" in finding.message


def said(design: Design) -> set[tuple[str, str]]:
    return {(item.id, item.subject) for item in assess(design).findings}


def two_feeds() -> Design:
    """A bus fed by two cables of 60 A each, and on from it a bare cable to the panel."""
    bus = PowerNode(key="BUS", kind=NodeKind.BUS, name="bus", zone="cab", rating_a=300.0)
    design = added(without(SOUND, "run", "R2"), "node", bus)
    feeds = [supply(key, "DISC", "BUS", "6", 0.5, device_family="ANL", device_rating_a=60.0) for key in ("FA", "FB")]
    return added(design, "run", *feeds, supply("FC", "BUS", "P1", "6", 1.0))


def test_a_conductor_behind_two_feeds_is_held_against_both_devices_together() -> None:
    finding = finding_of(two_feeds(), "device-above-conductor", "run:FC")

    assert {number.name: number.value for number in finding.numbers}["device"] == 120.0
    assert "120 A (runs FA and FB together)" in finding.message
    assert ("device-above-conductor", "run:FC") not in said(changed(two_feeds(), "run", "FC", gauge="2"))


def test_a_return_is_held_against_the_largest_device_that_drives_a_short_through_it() -> None:
    """R2's 100 A before panel P1, whose circuits come back over the body and S1."""
    thin = changed(SOUND, "run", "S1", gauge="8")

    finding = finding_of(thin, "device-above-conductor", "run:S1")

    assert "100 A (run R2)" in finding.message
    assert finding.fix is not None
    assert ("device-above-conductor", "run:S1") not in said(apply_changes(thin, finding.fix.changes))


def with_return_bus(**more: Any) -> Design:
    """The radio returns to a bus of its own, which a run takes to the body."""
    bus = PowerNode(key="RB", kind=NodeKind.BUS, name="return bus", zone="cargo")
    run = Run(key="S3", from_node="BODY", to_node="RB", side=RunSide.RETURN, gauge="10", length_m=0.5, **more)
    return changed(added(added(SOUND, "node", bus), "run", run), "circuit", "201", return_node="RB")


def test_a_return_that_only_circuits_use_is_held_against_their_devices() -> None:
    assert said(with_return_bus()) == set()

    thin = changed(changed(with_return_bus(), "run", "S3", gauge="18"), "circuit", "201", device_rating_a=30.0)

    assert "30 A (circuit 201)" in finding_of(thin, "device-above-conductor", "run:S3").message


def test_a_device_in_a_return_is_judged_like_any_other() -> None:
    fused = with_return_bus(device_family="ATO", device_rating_a=5.0)

    assert ("device-below-load", "run:S3") in said(fused)


def test_a_device_in_a_radios_return_is_noted_with_the_ways_that_are_left() -> None:
    """The antenna lead always; a second lead where one is drawn; from a body on the vehicle's own bonds."""
    fused = with_return_bus(device_family="ATO", device_rating_a=20.0)
    second = Run(key="S4", from_node="BODY", to_node="RB", side=RunSide.RETURN, gauge="10", length_m=0.5)

    assert "antenna lead" in finding_of(fused, "return-device-bypassed", "run:S3").message
    assert "over run S4" in finding_of(added(fused, "run", second), "return-device-bypassed", "run:S3").message
    main = changed(without(SOUND, "run", "S2"), "run", "S1", device_family="MRBF", device_rating_a=100.0)
    assert "own bonds" in finding_of(main, "return-device-bypassed", "run:S1").message


def test_every_load_that_is_joined_otherwise_is_named_whatever_its_drop_class() -> None:
    fused = changed(with_return_bus(device_family="ATO", device_rating_a=20.0), "circuit", "202", return_node="RB")
    plain = changed(fused, "load", "RADIO", drop_class="critical")
    told = changed(changed(plain, "load", "RADIO", other_return=True), "load", "LOCKER", other_return=True)

    assert ("return-device-bypassed", "run:S3") not in said(plain)
    assert "RADIO and LOCKER may return over" in finding_of(told, "return-device-bypassed", "run:S3").message


def test_one_of_two_conductors_behind_a_common_device_must_stand_behind_it() -> None:
    thin = changed(SOUND, "run", "R7", gauge="2/0")

    finding = finding_of(thin, "parallel-member-unprotected", "run:R7")

    assert {number.name: round(number.value) for number in finding.numbers} == {"device": 300, "ampacity": 230}


def test_a_charging_cable_without_a_device_is_a_caution_unless_its_source_is_an_electric_vehicles_own() -> None:
    bare = changed(SOUND, "run", "R7", device_family="", device_rating_a=None)
    makers = changed(bare, "node", "ALT", kind=NodeKind.DCDC)

    assert finding_of(bare, "charging-cable-unprotected", "run:R7").severity is Severity.CAUTION
    assert ("charging-cable-unprotected", "run:R7") not in said(makers)


def test_the_vehicle_makers_own_cable_is_left_as_its_maker_protects_it() -> None:
    bare = changed(
        SOUND, "run", "R7", device_family="", device_rating_a=None, gauge="8", device_distance_m=2.0, parallel=1
    )
    makers = changed(bare, "run", "R7", makers_own=True)

    assert [subject for _, subject in said(bare)].count("run:R7") >= 2
    assert "run:R7" not in [subject for _, subject in said(makers)]


def test_loads_that_overload_the_vehicle_makers_own_cable_are_told_and_nothing_on_it_is_changed() -> None:
    # R1 feeds all of the cab; as the maker's own 14 gauge it is asked for more than it carries
    makers = changed(SOUND, "run", "R1", makers_own=True, gauge="14", device_family="", device_rating_a=None)

    finding = finding_of(makers, "makers-cable-overloaded", "run:R1")

    assert finding.severity is Severity.CAUTION and finding.fix is None
    numbers = {number.name: number.value for number in finding.numbers}
    assert numbers["current"] > numbers["carries"]
    assert ("run-unprotected", "run:R1") not in said(makers)
    offered = [one.fix.changes for one in assess(makers).findings if one.fix is not None]
    assert "run:R1" not in {change.subject for changes in offered for change in changes}
    assert "run:R1" not in {proposal.subject for proposal in propose(makers)}


def test_the_buyer_says_how_far_apart_ratings_stand() -> None:
    # 100 A behind 175 A is 1.75 times: far enough by default, not for a buyer who asks for twice
    asks = replace(
        SOUND,
        buyer=replace(
            SOUND.buyer, rules=(*SOUND.buyer.rules, BuyerRule(key="feed-ratio", value=2.0, source="the buyer"))
        ),
    )

    assert ("device-close-to-feed", "run:R2") not in said(SOUND)
    assert finding_of(asks, "device-close-to-feed", "run:R2").severity is Severity.NOTE
    # the second battery's own device has nothing before it
    assert ("device-close-to-feed", "run:R4") not in said(asks)


def test_a_conductor_behind_a_converter_is_held_against_its_limit() -> None:
    thin = changed(WITH_24_V, "run", "R9", gauge="18")

    assert "30 A (limit of converter CV)" in finding_of(thin, "device-above-conductor", "run:R9").message


def test_a_device_fitted_at_a_battery_is_what_all_behind_it_stands_behind() -> None:
    """P2's feed behind a bare battery cable: 8 gauge bears less than the 2 gauge before it; its circuits have 20 A at most."""
    bare = changed(SOUND, "run", "R5", device_family="", device_rating_a=None)
    bare = changed(bare, "run", "R6", gauge="8")

    finding = finding_of(bare, "run-unprotected", "run:R5")

    assert finding.fix is not None
    assert {change.field: change.value for change in finding.fix.changes} == {
        "device_family": "MRBF",
        "device_rating_a": 30.0,
    }
    assert not [
        item for item in assess(apply_changes(bare, finding.fix.changes)).findings if item.severity is Severity.BLOCKING
    ]


def test_a_device_fitted_in_a_link_between_sources_is_the_largest_that_it_bears() -> None:
    """What charges the second battery is in no load: the same 150 A as before, of 2 gauge at 50 °C in the cargo area."""
    bare = changed(SOUND, "run", "R4", device_family="", device_rating_a=None)

    values, _ = mended(bare, "run-unprotected", "run:R4")

    assert float(values["device_rating_a"]) >= 150.0


def joined_batteries(**fields: Any) -> Design:
    return added(SOUND, "run", supply("R9", "BAT1", "BAT2", "1", 3.0, **fields))


def test_what_mends_a_bare_cable_between_two_batteries_protects_it_at_both() -> None:
    bare = joined_batteries()

    values, fitted = mended(bare, "run-unprotected", "run:R9")

    assert values["device_at_both_ends"] is True
    assert ("run-unprotected", "run:R9") not in blocking(fitted)
    assert ("link-unprotected-end", "run:R9") not in blocking(fitted)


def test_a_second_device_mends_a_link_that_is_protected_at_one_end() -> None:
    one_end = joined_batteries(device_family="MRBF", device_rating_a=150.0, device_distance_m=0.1)

    values, fitted = mended(one_end, "link-unprotected-end", "run:R9")

    assert values == {"device_at_both_ends": True}
    assert blocking(fitted) <= blocking(one_end) - {("link-unprotected-end", "run:R9")}


def test_devices_at_both_ends_must_break_what_a_short_at_the_worse_end_draws() -> None:
    """Beside a tired second battery the short at the isolator's end, nearer the good one, draws more."""
    tired = changed(SOUND, "node", "BAT2", battery=replace(AUXILIARY, internal_mohm=60.0))

    one, both = (
        next(run.prospective_a for run in assess(design).runs if run.key == "R4")
        for design in (tired, changed(tired, "run", "R4", device_at_both_ends=True))
    )
    isolator = next(
        run.prospective_a for run in assess(tired).runs if run.key == "R3"
    )  # at the disconnect, 0.5 m nearer

    assert one is not None and both is not None and isolator is not None
    assert one < both < isolator
    working = explain(changed(tired, "run", "R4", device_at_both_ends=True), "run-short:R4")
    assert (working.title, working.result) == ("Prospective current at ISO", both)


def mended(design: Design, id_: str, subject: str) -> tuple[dict[str, str | float | int], Design]:
    """What a finding's repair sets, and the design with it."""
    fix = finding_of(design, id_, subject).fix
    assert fix is not None
    return {change.field: change.value for change in fix.changes}, apply_changes(design, fix.changes)


def blocking(design: Design) -> set[tuple[str, str]]:
    return {(item.id, item.subject) for item in assess(design).findings if item.severity is Severity.BLOCKING}


def test_beyond_the_largest_blade_fuse_the_next_family_is_offered_with_its_conductor() -> None:
    """38 A continuous asks for 48 A at 80 %: ATO ends at 40 A, MAXI has 60 where 50 is rerated at the panel's 50 °C."""
    heavy = changed(SOUND, "load", "BAR", current_a=38.0)
    heavy = changed(heavy, "circuit", "101", device_rating_a=30.0, gauge="6")

    values, after = mended(heavy, "device-below-load", "circuit:101")

    assert values["device_family"] == "MAXI"
    assert not {id_ for id_, subject in blocking(after) if subject == "circuit:101"}


def test_a_blade_fuse_above_its_voltage_gets_the_first_family_that_breaks_there_what_it_must() -> None:
    """A type 3 breaker is made for 48 V and breaks 1,500 A; behind a stronger source only a class T fuse does."""
    weak = replace(STARTING, internal_mohm=40.0)
    high = changed(changed(SOUND, "node", "P1", nominal_v=48.0), "node", "BAT1", battery=weak)
    high = changed(high, "node", "BAT2", battery=weak)

    values, after = mended(high, "device-voltage-low", "circuit:101")

    assert values == {"device_family": "breaker-3"}
    assert ("device-voltage-low", "circuit:101") not in said(after)
    assert (
        mended(changed(SOUND, "node", "P1", nominal_v=48.0), "device-voltage-low", "circuit:101")[0]["device_family"]
        == "class-T"
    )


@pytest.mark.parametrize(("gauge", "neighbour"), [("13", "12"), ("15", "14"), ("3", "2")])
def test_a_size_that_no_table_has_gets_the_next_thicker_one(gauge: str, neighbour: str) -> None:
    values, after = mended(changed(SOUND, "circuit", "104", gauge=gauge), "size-unknown", "circuit:104")

    assert values == {"gauge": neighbour}
    assert said(after) == set()


def test_a_drop_that_the_feed_decides_is_mended_in_the_run_that_takes_most() -> None:
    far = changed(SOUND, "run", "R6", length_m=24.0)

    finding = finding_of(far, "drop-over-limit", "circuit:201")
    values, after = mended(far, "drop-over-limit", "circuit:201")

    assert "of it run R6" in finding.hint
    assert finding.fix is not None
    assert {change.subject for change in finding.fix.changes} == {"run:R6"}
    assert ("drop-over-limit", "circuit:201") not in said(after)
    assert values["gauge"] in ("2", "1", "1/0", "2/0", "3/0", "4/0")


def test_no_gauge_is_offered_where_a_converter_gives_less_than_a_device_needs() -> None:
    limited = changed(WITH_24_V, "node", "CV", converter=converter(limit_a=8.0))

    assert finding_of(limited, "fault-not-cleared", "circuit:301").fix is None


def test_a_thin_return_that_keeps_a_feeds_device_shut_is_thickened_and_the_device_left() -> None:
    """The second battery's lead of 14 gauge takes most of the loop: a smaller main fuse would not be the cure."""
    thin = changed(SOUND, "run", "S2", gauge="14", length_m=3.0)

    values, after = mended(thin, "feed-fault-not-cleared", "run:R5")

    assert list(values) == ["gauge"]
    assert ("feed-fault-not-cleared", "run:R5") not in said(after)
    assert blocking(after) <= blocking(thin)


def test_a_makers_device_at_an_access_point_is_offered_no_other() -> None:
    """The same fault at a run of the build's own offers another family."""
    weak = changed(WITH_STUD, "run", "R10", device_family="ATO", device_rating_a=30.0, gauge="6")
    fixes = [item.fix for item in assess(weak).findings if item.subject == "run:R10" and item.fix is not None]

    assert ("interrupting-capacity-low", "run:R10") in said(weak)
    assert not [change for fix in fixes for change in fix.changes if change.field.startswith("device_")]
    thin = changed(WITH_STUD, "run", "R10", gauge="12")
    assert list(mended(thin, "device-above-conductor", "run:R10")[0]) == ["gauge"]


def test_a_device_behind_two_feeds_is_held_against_both_together() -> None:
    """80 A behind 60 + 60 A is smaller than what feeds it, 125 A is not."""
    behind = changed(two_feeds(), "run", "FC", gauge="2", device_family="ANL", device_rating_a=80.0)

    assert ("device-above-feed", "run:FC") not in said(behind)
    assert (
        "runs FA and FB"
        not in finding_of(changed(behind, "run", "FC", device_rating_a=130.0), "device-above-feed", "run:FC").message
    )
