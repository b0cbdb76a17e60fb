"""Labour, weight, price and standing as the assessment sums them, by hand and against the core's formulas."""

from dataclasses import replace
from decimal import Decimal

import pytest

from builds.engineering.assess import assess
from builds.engineering.vocabulary import SuppliedBy
from builds.engineering.weight import PlacedMass, loaded_axles
from tests.engineering.assess.designs import SOUND, changed, with_rule, without
from tests.engineering.assess.plants_feeding import WITH_24_V, converter


def test_hours_count_the_crew_and_the_clock_apart() -> None:
    labour = assess(SOUND).labour

    # strip 2, bench 6, harness 8 h by two people, trim 2
    assert (labour.crew_h, labour.elapsed_h) == (26.0, 18.0)
    assert labour.by_phase == (("strip", 2.0), ("wire", 22.0), ("close", 2.0))
    assert labour.by_place == (("bench", 6.0), ("vehicle", 20.0))
    assert labour.by_skill == (("electrician", 22.0), ("fitter", 4.0))


def test_price_is_parts_labour_and_tax_on_taxed_parts() -> None:
    design = with_rule(changed(SOUND, "part", "L2", taxed=False), "tax-ratio", 0.0825)
    price = assess(design).price

    assert price.parts == Decimal("1700.00")
    assert price.labour == Decimal("2600.00")  # 26 crew hours at 100
    assert price.tax == Decimal("74.25")  # 8.25 % of 900
    assert price.total == Decimal("4374.25")


def test_customers_own_transferred_and_removed_parts_have_no_price() -> None:
    theirs = changed(SOUND, "part", "L1", supplied_by=SuppliedBy.CUSTOMER)
    moved = changed(theirs, "part", "L2", supplied_by=SuppliedBy.TRANSFERRED)
    removed = changed(SOUND, "part", "L1", removed=True)

    assert assess(moved).price.parts == Decimal("0.00")
    assert assess(removed).price.parts == Decimal("800.00")


def test_axles_are_those_of_the_weight_module() -> None:
    platform = SOUND.platform
    bar, lockers = PlacedMass(mass_kg=14.0, x_mm=1500.0), PlacedMass(mass_kg=120.0, x_mm=2600.0)
    expected = loaded_axles(
        curb_front_kg=platform.curb_front_kg,
        curb_rear_kg=platform.curb_rear_kg,
        wheelbase_mm=platform.wheelbase_mm,
        masses=[bar, lockers],
    )
    weight = assess(SOUND).weight

    assert (weight.front_axle_kg, weight.rear_axle_kg) == pytest.approx((expected.front_kg, expected.rear_kg))


def test_removed_part_takes_its_weight_away() -> None:
    assert assess(changed(SOUND, "part", "L2", removed=True)).weight.added_kg == pytest.approx(14.0 - 120.0)


def test_payload_leaves_one_hundred_fifty_pounds_a_seat() -> None:
    # 49 CFR 567.4(g)(3): 4500 - 2700 curb - 134 added - 5 × 68.0389
    assert assess(SOUND).weight.payload_left_kg == pytest.approx(4500 - 2700 - 134 - 5 * 68.0388555)


def test_part_that_weighs_more_than_a_ship_is_a_finding_not_an_error() -> None:
    absurd = changed(SOUND, "part", "L2", quantity=100_000, mass_kg=20_000)

    assert "gvwr-exceeded" in {finding.id for finding in assess(absurd).findings}


def test_standing_is_decided_by_the_battery_that_ends_first() -> None:
    # radio 10 mA on 100 Ah, siren 2 mA on 90 Ah, 40 % of each, and 0.1 % a day by themselves: 117.6 and 260.9 days
    assert assess(SOUND).energy.key_off_days == pytest.approx(0.4 * 100 / (24 * 0.010 + 0.001 * 100))


def test_nothing_asleep_stands_for_ever() -> None:
    awake = changed(changed(SOUND, "load", "RADIO", key_off_a=0.0), "load", "SIREN", key_off_a=0.0)

    assert assess(awake).energy.key_off_days is None
    assert assess(awake).energy.key_off_ma == 0.0


def test_label_note_is_for_light_vehicles_before_their_first_sale() -> None:
    new = replace(SOUND, vehicle=replace(SOUND.vehicle, sold_before=False))
    heavy = replace(new, platform=replace(new.platform, gvwr_kg=4600.0))
    nothing_added = without(new, "part", "L1", "L2")

    assert [finding.id for finding in assess(new).findings] == ["weight-label"]
    assert assess(heavy).findings == ()
    assert assess(nothing_added).findings == ()


def test_recorded_reason_quiets_the_vin() -> None:
    foreign = replace(SOUND, vehicle=replace(SOUND.vehicle, vin="WVWZZZ1JZ3W386752"))
    accepted = replace(foreign, vehicle=replace(foreign.vehicle, vin_exception="built for Europe, no check digit"))

    assert [finding.id for finding in assess(foreign).findings] == ["vin-check-digit"]
    assert assess(accepted).findings == ()


def test_what_sleeps_behind_a_converter_counts_as_the_amperes_it_takes_of_the_battery() -> None:
    # a 12 V battery, a step-up converter to 24 V with 90 % and 0 W of its own: 0.1 A at its output is 24 / (0.9 × 12) = 2.22 times that
    spec = converter(output_v=24.0, efficiency_ratio=0.9, idle_w=0.0)
    quiet = changed(WITH_24_V, "node", "CV", converter=spec)
    before = assess(quiet).energy.key_off_ma

    asleep = assess(changed(quiet, "load", "CAM", key_off_a=0.1)).energy.key_off_ma

    assert asleep - before == pytest.approx(1000 * 0.1 * 24 / (0.9 * 12))
    idle = changed(quiet, "node", "CV", converter=replace(spec, idle_w=3.0))
    assert assess(idle).energy.key_off_ma - before == pytest.approx(1000 * 3 / 12)
