"""Weight of the whole build: what is added, what is left, and what each axle and side carries in every case."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessment import WeightCase, WeightResult
from builds.engineering.weight import SEAT_ALLOWANCE_KG, label_threshold_kg

__all__ = ["NEARLY_OUT_RATIO", "Aboard", "aboard", "weight_result", "zone_load_kg"]

NEARLY_OUT_RATIO = 0.1  # of a full tank is left; common practice


def weight_result(index: IndexedDesign) -> WeightResult:
    """
    Return the mass added and what each axle carries, with nobody aboard and in every case.

    A part in no zone, and one whose zone the platform does not have, counts midway between the axles on the centre line.
    """
    platform, gear = index.design.platform, list(_gear(index))
    built = _case(index, "as built", gear)
    added_kg = sum(mass.kg for mass in gear)
    curb_kg = platform.curb_front_kg + platform.curb_rear_kg
    left_kg = platform.gvwr_kg - curb_kg - added_kg
    return WeightResult(
        added_kg=added_kg,
        payload_left_kg=left_kg - SEAT_ALLOWANCE_KG * platform.seats,
        front_axle_kg=built.front_axle_kg,
        rear_axle_kg=built.rear_axle_kg,
        gvwr_kg=platform.gvwr_kg,
        gawr_front_kg=platform.gawr_front_kg,
        gawr_rear_kg=platform.gawr_rear_kg,
        label_threshold_kg=label_threshold_kg(gvwr_kg=platform.gvwr_kg),
        crew_payload_left_kg=left_kg - index.numbers["crew-mass"] * platform.seats,
        cases=(built, *_cases(index, gear)),
    )


@dataclass(frozen=True, slots=True)
class _Mass:
    """A mass at a place; unlike :class:`builds.engineering.weight.PlacedMass`, any that a parts bill can hold."""

    kg: float
    x_mm: float
    y_mm: float = 0.0


def _gear(index: IndexedDesign) -> Iterator[_Mass]:
    middle_mm = index.design.platform.wheelbase_mm / 2
    for line in index.design.parts:
        zone = index.zones.get(line.zone)
        mass_kg = line.quantity * line.mass_kg * (-1 if line.removed else 1)
        yield _Mass(mass_kg, zone.x_mm, zone.y_mm) if zone else _Mass(mass_kg, middle_mm)


@dataclass(frozen=True, slots=True)
class Aboard:
    """People in a place, or fuel that is gone (negative), at its middle."""

    words: str
    kg: float
    x_mm: float
    y_mm: float = 0.0


_OUT, _REGULATION, _CREW, _CREW_OUT = (
    "nearly out of fuel",
    "150 lb in every seat",
    "crew aboard",
    "crew aboard, nearly out of fuel",
)


def aboard(index: IndexedDesign, name: str) -> tuple[Aboard, ...]:
    """
    Return what a case has aboard beside the gear; nothing for a case that the platform has no figures for.

    Every designated seat has somebody in it (49 CFR 567.4(g)(3)). Where some have no place on file their people count midway
    between the axles on the centre line, as gear in no zone does; where none has, no case has people. Fuel that is gone takes
    load off one axle and, beyond the other, puts some on: with the crew aboard that can be the most an axle sees.
    """
    each_kg = {_REGULATION: SEAT_ALLOWANCE_KG, _CREW: index.numbers["crew-mass"], _CREW_OUT: index.numbers["crew-mass"]}
    people = _people(index, each_kg[name]) if name in each_kg else ()
    fuel = _fuel(index) if name in (_OUT, _CREW_OUT) else ()
    return () if name == _CREW_OUT and not (people and fuel) else (*fuel, *people)


def _fuel(index: IndexedDesign) -> tuple[Aboard, ...]:
    platform = index.design.platform
    gone_kg = platform.fuel_kg * (1 - NEARLY_OUT_RATIO)
    return (Aboard("Fuel that is gone", -gone_kg, platform.fuel_x_mm),) if gone_kg else ()


def _people(index: IndexedDesign, each_kg: float) -> tuple[Aboard, ...]:
    platform = index.design.platform
    placed = tuple(Aboard(one.name, each_kg * one.seats, one.x_mm, one.y_mm) for one in platform.seat_places)
    more = platform.seats - sum(one.seats for one in platform.seat_places)
    if not placed or more <= 0:
        return placed
    words = f"Seats without a place on file ({more}), taken midway"
    return (*placed, Aboard(words, each_kg * more, platform.wheelbase_mm / 2))


def zone_load_kg(index: IndexedDesign, zone: str) -> float:
    """
    Return what is put on a zone, against the maker's limit of it [kg].

    Such a limit is of what is put there beyond the vehicle as it came, so a factory part taken off earns nothing: common practice.
    """
    return sum(line.quantity * line.mass_kg for line in index.design.parts if line.zone == zone and not line.removed)


def _cases(index: IndexedDesign, gear: list[_Mass]) -> Iterator[WeightCase]:
    for name in (_OUT, _REGULATION, _CREW, _CREW_OUT):
        if with_it := aboard(index, name):
            yield _case(index, name, [*gear, *(_Mass(one.kg, one.x_mm, one.y_mm) for one in with_it)])


def _case(index: IndexedDesign, name: str, masses: list[_Mass]) -> WeightCase:
    """Moments about the front axle and the centre line, as :func:`builds.engineering.weight.loaded_axles` takes them."""
    platform = index.design.platform
    added_kg = sum(mass.kg for mass in masses)
    rear_kg = sum(mass.kg * mass.x_mm for mass in masses) / platform.wheelbase_mm
    left_kg: float | None = None
    right_kg: float | None = None
    if platform.track_mm is not None:
        curb_kg = platform.curb_front_kg + platform.curb_rear_kg
        curb_left_kg = curb_kg / 2 if platform.curb_left_kg is None else platform.curb_left_kg
        to_right_kg = sum(mass.kg * (0.5 + mass.y_mm / platform.track_mm) for mass in masses)
        left_kg, right_kg = curb_left_kg + added_kg - to_right_kg, curb_kg - curb_left_kg + to_right_kg
    return WeightCase(
        name=name,
        front_axle_kg=platform.curb_front_kg + added_kg - rear_kg,
        rear_axle_kg=platform.curb_rear_kg + rear_kg,
        left_kg=left_kg,
        right_kg=right_kg,
    )
