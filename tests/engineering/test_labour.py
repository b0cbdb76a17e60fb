"""Crew hours and elapsed hours."""

import pytest

from builds.engineering.design import Operation
from builds.engineering.errors import OutOfRange
from builds.engineering.labour import Hours, hours_by, hours_of, total_hours
from builds.engineering.vocabulary import Phase, Place


def operation(
    key: str, *, standard_h: float, quantity: int = 1, crew: int = 1, skill: str = "electrician"
) -> Operation:
    return Operation(
        key=key,
        name=key,
        place=Place.VEHICLE,
        phase=Phase.WIRE,
        skill=skill,
        standard_h=standard_h,
        quantity=quantity,
        crew=crew,
    )


WORK = [
    operation("1", standard_h=1.5, quantity=2, crew=2),  # 3 h long, 6 h of people
    operation("2", standard_h=0.25, quantity=4),  # 1 h and 1 h
    operation("3", standard_h=2.0, skill="fitter"),  # 2 h and 2 h
]


def test_hours_are_standard_times_quantity_and_for_people_times_crew() -> None:
    assert hours_of(standard_h=1.5, quantity=2, crew=2) == Hours(crew_h=6.0, elapsed_h=3.0)


def test_one_person_spends_as_long_as_it_takes() -> None:
    hours = hours_of(standard_h=0.75, quantity=3)

    assert hours.crew_h == hours.elapsed_h == 2.25


def test_totals_add_crew_and_elapsed_apart() -> None:
    assert total_hours(WORK) == Hours(crew_h=9.0, elapsed_h=6.0)


def test_no_work_takes_no_time() -> None:
    assert total_hours([]) == Hours(crew_h=0.0, elapsed_h=0.0)


def test_hours_by_skill_add_up_to_the_total() -> None:
    by_skill = hours_by(WORK, lambda op: op.skill)

    assert list(by_skill) == ["electrician", "fitter"]
    assert by_skill["electrician"] == Hours(crew_h=7.0, elapsed_h=4.0)
    assert sum(hours.crew_h for hours in by_skill.values()) == total_hours(WORK).crew_h


@pytest.mark.parametrize("wrong", [{"standard_h": -1}, {"standard_h": 1, "crew": 0}, {"standard_h": 1, "quantity": 0}])
def test_hours_out_of_range_are_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(OutOfRange):
        hours_of(**wrong)
