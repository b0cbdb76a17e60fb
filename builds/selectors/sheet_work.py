"""Parts, conditions and hours of a build's sheet, row by row, as they are printed."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from builds.engineering.assessing.words import days
from builds.engineering.assessment import ConditionResult
from builds.engineering.design import Design, OperatingCondition, Operation, PartsBillLine
from builds.engineering.vocabulary import SourceState, SuppliedBy
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import ampere, hours, money, volts
from builds.selectors.sheet_findings import Margin, margins_of, row_id

__all__ = [
    "ConditionRow",
    "HoursFoot",
    "OperationRow",
    "PartRow",
    "PartsFoot",
    "UseRow",
    "condition_rows",
    "hours_foot",
    "no_mount_words",
    "operation_rows",
    "part_rows",
    "parts_foot",
    "use_rows",
]

_NOTHING = Margin()
_STATE_WORDS = {
    SourceState.ENGINE_OFF: "engine off",
    SourceState.IDLE: "engine idling",
    SourceState.AT_SPEED: "at road speed",
    SourceState.KEY_OFF: "key off",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One line of the parts bill."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    part_number: str
    description: str
    quantity: str
    zone: str
    supplied_by: str
    price: str
    total: str
    mass: str
    removed: bool

    @property
    def counted(self) -> str:
        """What and how many in one: "2 × Rear bench", "3 m of Trim"."""
        amount = self.quantity.removesuffix(" each")
        return f"{amount} {'×' if amount != self.quantity else 'of'} {self.description}"


@dataclass(frozen=True, slots=True)
class PartsFoot:
    """The sums under the parts bill."""

    count: int
    parts: str
    labour: str
    tax: str
    total: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionRow:
    """One operating condition; mean, RMS and peak stand apart."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    name: str
    fed_by: str
    voltage: str
    mean: str
    rms: str
    peak: str
    mean_a: float
    available_a: float | None
    estimate: bool
    battery: str
    battery_h: float | None
    stands: bool
    min_hours: float | None
    lowest: str
    reserve: str
    loads_on: int


@dataclass(frozen=True, slots=True)
class UseRow:
    """A load that may be on in a condition."""

    key: str
    name: str
    circuit: str
    on: bool
    duty: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationRow:
    """One operation."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    name: str
    place: str
    phase: str
    skill: str
    standard: str
    quantity: int
    crew: int
    crew_hours: str
    after: str


@dataclass(frozen=True, slots=True)
class HoursFoot:
    """The sums of the hours: people's time and the time the work takes, and how they divide."""

    crew: str
    elapsed: str
    by_phase: tuple[tuple[str, str], ...]
    by_place: tuple[tuple[str, str], ...]
    by_skill: tuple[tuple[str, str], ...]


def part_rows(sheet: Sheet) -> list[PartRow]:
    """Return the lines of the parts bill in their order."""
    margins = margins_of(sheet)
    zones = {zone.key: zone.name for zone in sheet.design.platform.zones}
    return [_part_row(sheet, part, margins, zones) for part in sheet.design.parts]


def _part_row(sheet: Sheet, part: PartsBillLine, margins: dict[str, Margin], zones: dict[str, str]) -> PartRow:
    subject = f"part:{part.key}"
    ours = part.supplied_by is SuppliedBy.SHOP and not part.removed
    sign = -1 if part.removed else 1
    return PartRow(
        subject=subject,
        element_id=row_id(subject),
        key=part.key,
        margin=margins.get(subject, _NOTHING),
        part_number=part.part_number,
        description=part.description,
        quantity=sheet.measures.quantity(part.quantity, part.unit),
        zone=zones.get(part.zone, part.zone) or "–",
        supplied_by=part.supplied_by.value,
        price=(money(Decimal(repr(part.unit_price))) if part.unit_price else "no price") if ours else "–",
        total=money(_line_total(part)) if ours else "–",
        mass=sheet.measures.mass_words(sign * part.mass_kg * part.quantity) if part.mass_kg else "not known",
        removed=part.removed,
    )


def _line_total(part: PartsBillLine) -> Decimal:
    amount = Decimal(repr(part.unit_price)) * Decimal(repr(part.quantity))
    return amount.quantize(Decimal("0.01"), ROUND_HALF_UP)


def parts_foot(sheet: Sheet) -> PartsFoot:
    """Return the sums of the price as the core made them."""
    price = sheet.assessment.price
    return PartsFoot(
        len(sheet.design.parts), money(price.parts), money(price.labour), money(price.tax), money(price.total)
    )


def condition_rows(sheet: Sheet) -> list[ConditionRow]:
    """Return the operating conditions in their order."""
    margins = margins_of(sheet)
    results = {item.key: item for item in sheet.assessment.conditions}
    standing_d = sheet.assessment.energy.key_off_days
    return [
        _condition_row(item, results.get(item.key), margins, standing_d, _reserve_words(sheet, item.key))
        for item in sheet.design.conditions
    ]


def _reserve_words(sheet: Sheet, key: str) -> str:
    """What the engine-off test of a condition takes of what it may, on the battery that it asks most of."""
    found = [item for item in sheet.assessment.reserves if item.key == key]
    if not found:
        return ""
    worst = max(found, key=lambda item: item.used_ratio)
    return f"engine-off test: {worst.used_ah:.1f} of {worst.allowed_ah:.1f} Ah"


def _condition_row(
    condition: OperatingCondition,
    result: ConditionResult | None,
    margins: dict[str, Margin],
    standing_d: float | None,
    reserve: str,
) -> ConditionRow:
    subject = f"condition:{condition.key}"
    source = result.source if result else None
    battery_h = result.battery_h if result else None
    lowest = result.lowest_load_v if result else None
    return ConditionRow(
        subject=subject,
        element_id=row_id(subject),
        key=condition.key,
        margin=margins.get(subject, _NOTHING),
        name=condition.name,
        fed_by=_STATE_WORDS[condition.source_state],
        voltage=f"{condition.source_low_v:g} to {condition.source_high_v:g}",
        mean=ampere(result.mean_a) if result else "–",
        rms=ampere(result.rms_a) if result else "–",
        peak=ampere(result.peak_a) if result else "–",
        mean_a=result.mean_a if result else 0.0,
        available_a=source.available_a if source else None,
        estimate=bool(source and source.estimate),
        battery=_battery_words(condition, battery_h, standing_d),
        battery_h=battery_h,
        stands=condition.stands,
        min_hours=condition.min_hours,
        lowest=f"{volts(lowest)} V at {result.lowest_load_key}" if result and lowest is not None else "",
        reserve=reserve,
        loads_on=len(condition.uses),
    )


def _battery_words(condition: OperatingCondition, battery_h: float | None, standing_d: float | None) -> str:
    """How long the batteries carry a condition; a vehicle that only stands is told in days, the one figure of standing."""
    if condition.stands:
        return "" if standing_d is None else days(standing_d)
    return "" if battery_h is None else f"{hours(battery_h)} h"


def use_rows(sheet: Sheet, key: str) -> list[UseRow]:
    """Return every load of the build with whether it is on in a condition."""
    condition = next(item for item in sheet.design.conditions if item.key == key)
    on = {use.load: use.duty_ratio for use in condition.uses}
    return [
        UseRow(load.key, load.name, load.circuit, load.key in on, _percent(on.get(load.key)))
        for load in sheet.design.loads
    ]


def _percent(ratio: float | None) -> str:
    return "" if ratio is None else f"{ratio * 100:g}"


def operation_rows(sheet: Sheet) -> list[OperationRow]:
    """Return the operations in their order."""
    margins = margins_of(sheet)
    return [_operation_row(item, margins.get(f"operation:{item.key}", _NOTHING)) for item in sheet.design.operations]


def _operation_row(operation: Operation, margin: Margin) -> OperationRow:
    subject = f"operation:{operation.key}"
    return OperationRow(
        subject=subject,
        element_id=row_id(subject),
        key=operation.key,
        margin=margin,
        name=operation.name,
        place=operation.place.value,
        phase=operation.phase.value,
        skill=operation.skill,
        standard=f"{operation.standard_h:g}",
        quantity=operation.quantity,
        crew=operation.crew,
        crew_hours=hours(operation.standard_h * operation.quantity * operation.crew),
        after=", ".join(operation.after),
    )


def hours_foot(sheet: Sheet) -> HoursFoot:
    """Return the sums of the hours as the core made them."""
    labour = sheet.assessment.labour
    return HoursFoot(
        hours(labour.crew_h),
        hours(labour.elapsed_h),
        _shares(labour.by_phase),
        _shares(labour.by_place),
        _shares(labour.by_skill),
    )


def _shares(items: tuple[tuple[str, float], ...]) -> tuple[tuple[str, str], ...]:
    return tuple((name, hours(time_h)) for name, time_h in items)


def no_mount_words(design: Design) -> list[tuple[str, str, str]]:
    """Return place, reason and guide of each place where nothing is mounted."""
    names = {zone.key: zone.name for zone in design.platform.zones}
    return [(names.get(item.zone, item.zone), item.name, item.guide) for item in design.platform.no_mount_zones]
