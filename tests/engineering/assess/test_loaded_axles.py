"""Loaded axles: everybody counts, whoever has no place is said, and fuel that is gone may load an axle."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import WeightCase
from builds.engineering.design import Design, SeatPlace
from builds.engineering.explaining import explain
from tests.engineering.assess.designs import SOUND, added, changed

SEAT_KG = 68.0388555  # 49 CFR 567.4(g)(3): 150 lb x 0.45359237 kg


def on(design: Design, **fields: object) -> Design:
    return replace(design, platform=replace(design.platform, **fields))


def case(design: Design, name: str) -> WeightCase:
    return next(case for case in assess(design).weight.cases if case.name == name)


def ids(design: Design) -> set[str]:
    return {finding.id for finding in assess(design).findings}


def test_every_designated_seat_weighs_whether_or_not_its_place_is_known() -> None:
    driver = on(SOUND, seat_places=(SeatPlace(name="driver", seats=1, x_mm=1300.0),))
    built, loaded = case(driver, "as built"), case(driver, "150 lb in every seat")

    assert loaded.total_kg - built.total_kg == pytest.approx(5 * SEAT_KG)
    # one at 1300 mm, four midway: of 3600 mm the rear axle takes 1300/3600 and a half
    assert loaded.rear_axle_kg - built.rear_axle_kg == pytest.approx(SEAT_KG * 1300 / 3600 + 4 * SEAT_KG / 2)
    assert "seats-without-place" in ids(driver)
    working = explain(driver, "case-rear:2")
    assert working.result == pytest.approx(loaded.rear_axle_kg)


def test_a_platform_that_says_nothing_of_its_seats_is_said_to_leave_the_loaded_axles_unchecked() -> None:
    nowhere = on(SOUND, seat_places=())

    assert "loaded-axles-not-checked" in ids(nowhere)
    assert not {"loaded-axles-not-checked", "seats-without-place", "seats-placed-above-count"} & ids(SOUND)


def test_a_tank_behind_the_rear_axle_loads_the_front_one_as_it_empties_with_the_crew_aboard() -> None:
    # 100 kg at 4320 mm of 3600 mm: a fifth of it lifts the front axle; nine tenths of that come back
    tank = on(SOUND, fuel_kg=100.0, fuel_x_mm=4320.0)
    crew_kg, empty_kg = (
        case(tank, "crew aboard").front_axle_kg,
        case(tank, "crew aboard, nearly out of fuel").front_axle_kg,
    )

    assert empty_kg - crew_kg == pytest.approx(0.9 * 100.0 * 0.2)

    between = on(tank, gawr_front_kg=(crew_kg + empty_kg) / 2)
    (finding,) = [found for found in assess(between).findings if found.id == "front-axle-over-rating-loaded"]
    assert "crew aboard, nearly out of fuel" in finding.message
    assert explain(between, "case-front:5").result == pytest.approx(empty_kg)


def test_what_is_taken_off_a_zone_earns_nothing_against_its_limit_in_finding_and_working_alike() -> None:
    # common practice: a maker's limit is of what is put there beyond the vehicle as it came
    design = changed(SOUND, "part", "L1", mass_kg=80.0)
    rails = replace(next(part for part in design.parts if part.key == "L1"), key="L9", mass_kg=20.0, removed=True)
    design = added(design, "part", rails)
    (finding,) = [found for found in assess(design).findings if found.id == "zone-over-limit"]
    working = explain(design, "zone-added:roof")

    assert finding.numbers[0].value == pytest.approx(80.0) and working.result == pytest.approx(80.0)
    assert assess(design).weight.added_kg == pytest.approx(80.0 - 20.0 + 120.0)


@pytest.mark.parametrize(("gvwr_kg", "asked"), [(4536.0, True), (4537.0, False)])
def test_a_vehicle_of_exactly_4536_kg_is_light(gvwr_kg: float, *, asked: bool) -> None:
    # 49 CFR 571.110: a GVWR of 4,536 kg (10,000 lb) or less
    design = on(SOUND, gvwr_kg=gvwr_kg)
    design = replace(design, vehicle=replace(design.vehicle, sold_before=False))

    assert ("weight-label" in ids(design)) == asked
