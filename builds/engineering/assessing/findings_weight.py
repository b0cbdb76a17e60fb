"""Findings about weight: the whole vehicle, its axles and its sides, with nobody and with everybody aboard."""

from collections.abc import Iterator

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.words import mass, percent
from builds.engineering.assessment import WeightResult
from builds.engineering.catalogue import found
from builds.engineering.findings import Finding, Number
from builds.engineering.weight import SideLoads

__all__ = ["weight_findings"]

_SAME = 1e-9
_LIGHT_VEHICLE_KG = 4536.0  # 49 CFR 571.110 holds for 4,536 kg (10,000 lb) GVWR and under


def weight_findings(index: IndexedDesign, weight: WeightResult) -> Iterator[Finding]:
    """Yield the findings about weight."""
    yield from _vehicle_weight(index, weight)
    yield from _crew(index, weight)
    yield from _axles(index, weight)
    yield from _seats(index)
    yield from _loaded_axles(index, weight)
    yield from _sides(index, weight)
    yield from _label(index, weight)


def _vehicle_weight(index: IndexedDesign, weight: WeightResult) -> Iterator[Finding]:
    """Over the rating with nobody aboard is said instead of over it with everybody aboard."""
    platform, conventions = index.design.platform, index.design.conventions
    empty_kg = weight.front_axle_kg + weight.rear_axle_kg
    if empty_kg > weight.gvwr_kg * (1 + _SAME):
        yield found(
            "gvwr-exceeded", "build", numbers=_kilograms(("mass", empty_kg), ("limit", weight.gvwr_kg)),
            mass=mass(empty_kg, conventions), limit=mass(weight.gvwr_kg, conventions),
        )  # fmt: skip
    elif weight.payload_left_kg < 0:
        yield found(
            "payload-negative", "build", numbers=_kilograms(("payload left", weight.payload_left_kg), ("limit", weight.gvwr_kg)),
            seats=str(platform.seats), over=mass(-weight.payload_left_kg, conventions), limit=mass(weight.gvwr_kg, conventions),
        )  # fmt: skip


def _axles(index: IndexedDesign, weight: WeightResult) -> Iterator[Finding]:
    conventions, near = index.design.conventions, index.numbers["near-margin"]
    axles = (("front", weight.front_axle_kg, weight.gawr_front_kg), ("rear", weight.rear_axle_kg, weight.gawr_rear_kg))
    for axle, mass_kg, limit_kg in axles:
        over = mass_kg > limit_kg * (1 + _SAME)
        if over or mass_kg > limit_kg * (1 - near):
            yield found(
                f"{axle}-axle-{'over' if over else 'near'}-rating", "build", numbers=_kilograms(("mass", mass_kg), ("limit", limit_kg)),
                mass=mass(mass_kg, conventions), limit=mass(limit_kg, conventions),
            )  # fmt: skip


def _label(index: IndexedDesign, weight: WeightResult) -> Iterator[Finding]:
    design = index.design
    light = design.platform.gvwr_kg <= _LIGHT_VEHICLE_KG * (1 + _SAME)
    if light and not design.vehicle.sold_before and weight.added_kg > weight.label_threshold_kg * (1 + _SAME):
        yield found(
            "weight-label", "build", numbers=_kilograms(("added", weight.added_kg), ("limit", weight.label_threshold_kg)),
            mass=mass(weight.added_kg, design.conventions), limit=mass(weight.label_threshold_kg, design.conventions),
        )  # fmt: skip


def _crew(index: IndexedDesign, weight: WeightResult) -> Iterator[Finding]:
    """The buyer's own crew, where 150 lb a seat would do."""
    conventions, each_kg, left_kg = index.design.conventions, index.numbers["crew-mass"], weight.crew_payload_left_kg
    if left_kg is not None and left_kg < -_SAME and weight.payload_left_kg >= 0:
        yield found(
            "crew-over-payload", "build", numbers=_kilograms(("payload left", left_kg), ("limit", weight.gvwr_kg)),
            seats=str(index.design.platform.seats), each=mass(each_kg, conventions), over=mass(-left_kg, conventions),
            limit=mass(weight.gvwr_kg, conventions),
        )  # fmt: skip


def _seats(index: IndexedDesign) -> Iterator[Finding]:
    """Seats that the loaded cases cannot place; silent while nothing is added that could load an axle."""
    platform = index.design.platform
    placed = sum(place.seats for place in platform.seat_places)
    if placed == platform.seats or not any(
        line.mass_kg and line.quantity and not line.removed for line in index.design.parts
    ):
        return
    numbers = (Number(name="placed", value=placed, unit="1"), Number(name="seats", value=platform.seats, unit="1"))
    if not placed:
        id_ = "loaded-axles-not-checked"
    else:
        id_ = "seats-without-place" if placed < platform.seats else "seats-placed-above-count"
    yield found(
        id_, "build", numbers=numbers, seats=str(platform.seats), placed=str(placed), count=str(platform.seats - placed)
    )


def _loaded_axles(index: IndexedDesign, weight: WeightResult) -> Iterator[Finding]:
    """The worst case of each axle that is under its rating as built."""
    conventions = index.design.conventions
    for axle, limit_kg in (("front", weight.gawr_front_kg), ("rear", weight.gawr_rear_kg)):
        masses = [(float(getattr(case, f"{axle}_axle_kg")), case.name) for case in weight.cases]
        mass_kg, name = max(masses, default=(0.0, ""))
        if masses and masses[0][0] <= limit_kg * (1 + _SAME) < mass_kg:
            yield found(
                f"{axle}-axle-over-rating-loaded", "build", numbers=_kilograms(("mass", mass_kg), ("limit", limit_kg)),
                case=name, mass=mass(mass_kg, conventions), limit=mass(limit_kg, conventions),
            )  # fmt: skip


def _sides(index: IndexedDesign, weight: WeightResult) -> Iterator[Finding]:
    """Said once, of the case in which the sides are furthest apart."""
    conventions, limit_ratio = index.design.conventions, index.numbers["side-balance"]
    sides = [
        (SideLoads(left_kg=case.left_kg, right_kg=case.right_kg), case.name)
        for case in weight.cases
        if case.left_kg is not None and case.right_kg is not None and case.left_kg + case.right_kg > 0
    ]
    if not sides:
        return
    loads, name = max(sides, key=lambda side: side[0].difference_ratio)
    if loads.difference_ratio > limit_ratio * (1 + _SAME):
        heavier_kg, lighter_kg = max(loads.left_kg, loads.right_kg), min(loads.left_kg, loads.right_kg)
        yield found(
            "sides-unbalanced", "build", numbers=_kilograms(("left", loads.left_kg), ("right", loads.right_kg)),
            case=name[:1].upper() + name[1:], side="left" if loads.left_kg > loads.right_kg else "right",
            heavier=mass(heavier_kg, conventions), lighter=mass(lighter_kg, conventions),
            ratio=percent(loads.difference_ratio), limit=percent(limit_ratio),
        )  # fmt: skip


def _kilograms(*figures: tuple[str, float]) -> tuple[Number, ...]:
    return tuple(Number(name=name, value=value, unit="kg") for name, value in figures)
