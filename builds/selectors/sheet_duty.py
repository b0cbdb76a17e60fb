"""Duty profiles, their segments and the steps of the shedding as rows of a build's sheet."""

from dataclasses import dataclass

from builds.drawings.margin_bar import figure
from builds.engineering.assessment import ProfileBattery, ProfileResult
from builds.engineering.design import DutyProfile, DutySegment, ShedStep
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import percent, volts
from builds.selectors.sheet_findings import Margin, margins_of, row_id

__all__ = ["DutyRow", "SegmentRow", "ShedRow", "duty_rows", "lasts", "segment_rows", "shed_rows"]

_NOTHING = Margin()


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyRow:
    """One profile: how long it is, and the battery that is left with the least above the part that is kept back."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    name: str
    begins: str
    at_c: str
    length: str
    battery: str
    lowest_percent: float | None
    kept_percent: float
    starts: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentRow:
    """One segment: when it begins, how long it lasts and in which condition."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    profile: str
    begins: str
    condition: str
    condition_key: str
    length: str
    stops: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedRow:
    """One step of the shedding and what it does in the profiles."""

    subject: str
    element_id: str
    key: str
    margin: Margin
    name: str
    off: str
    on: str
    watches: str
    loads: str
    did: str


def lasts(minutes: float) -> str:
    """
    Return a length of time as people say it.

    >>> lasts(25), lasts(90), lasts(1440), lasts(0.5)
    ('25 min', '1 h 30 min', '24 h', '0.5 min')
    """
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{minutes:g} min"
    return f"{hours:g} h {rest:g} min" if rest else f"{hours:g} h"


def duty_rows(sheet: Sheet) -> list[DutyRow]:
    """Return the profiles in their order."""
    margins, results = margins_of(sheet), {item.key: item for item in sheet.assessment.profiles}
    return [_duty_row(sheet, item, results.get(item.key), margins) for item in sheet.design.duty_profiles]


def _duty_row(sheet: Sheet, profile: DutyProfile, result: ProfileResult | None, margins: dict[str, Margin]) -> DutyRow:
    subject = f"duty:{profile.key}"
    kept = {node.key: 1 - node.battery.usable_ratio for node in sheet.design.nodes if node.battery is not None}
    worst = _worst(result, kept)
    minutes = sum(item.duration_min for item in sheet.design.duty_segments if item.profile == profile.key)
    return DutyRow(
        subject=subject,
        element_id=row_id(subject),
        key=profile.key,
        margin=margins.get(subject, _NOTHING),
        name=profile.name,
        begins=f"{percent(profile.start_ratio)} %",
        at_c=f"{profile.battery_c:g} °C",
        length=lasts(minutes) if minutes else "",
        battery=worst.key if worst else "",
        lowest_percent=worst.lowest_ratio * 100 if worst else None,
        kept_percent=kept[worst.key] * 100 if worst else 0.0,
        starts=_starts(result),
    )


def _worst(result: ProfileResult | None, kept: dict[str, float]) -> ProfileBattery | None:
    batteries = result.batteries if result else ()
    return min(batteries, key=lambda item: item.lowest_ratio - kept[item.key], default=None)


def _starts(result: ProfileResult | None) -> str:
    """How the lowest of its starts stands."""
    if result is None or not result.starts:
        return ""
    lowest = min(result.starts, key=lambda start: start.starter_v - start.least_v)
    return f"{volts(lowest.starter_v)} V at the starter, {volts(lowest.least_v)} V asked"


def segment_rows(sheet: Sheet) -> list[SegmentRow]:
    """Return the segments in their order, each with the time at which it begins."""
    margins, begins = margins_of(sheet), dict.fromkeys((item.key for item in sheet.design.duty_profiles), 0.0)
    names = {item.key: item.name for item in sheet.design.conditions}
    rows = []
    for segment in sheet.design.duty_segments:
        rows.append(_segment_row(segment, begins[segment.profile], names, margins))
        begins[segment.profile] += segment.duration_min
    return rows


def _segment_row(
    segment: DutySegment, begins_min: float, names: dict[str, str], margins: dict[str, Margin]
) -> SegmentRow:
    subject = f"segment:{segment.key}"
    return SegmentRow(
        subject=subject,
        element_id=row_id(subject),
        key=segment.key,
        margin=margins.get(subject, _NOTHING),
        profile=segment.profile,
        begins=f"after {lasts(begins_min)}" if begins_min else "at its start",
        condition=names[segment.condition],
        condition_key=segment.condition,
        length=lasts(segment.duration_min),
        stops=f"{segment.engine_stops} × {segment.stop_s:g} s" if segment.engine_stops else "",
    )


def shed_rows(sheet: Sheet) -> list[ShedRow]:
    """Return the steps in their order."""
    margins = margins_of(sheet)
    return [_shed_row(sheet, step, margins) for step in sheet.design.shed_steps]


def _shed_row(sheet: Sheet, step: ShedStep, margins: dict[str, Margin]) -> ShedRow:
    subject = f"shed:{step.key}"
    loads = [load for load in sheet.design.loads if load.shed_step == step.key]
    kept_on = sum(load.never_shed for load in loads)
    words = ", ".join(load.key for load in loads)
    return ShedRow(
        subject=subject,
        element_id=row_id(subject),
        key=step.key,
        margin=margins.get(subject, _NOTHING),
        name=step.name,
        off=f"below {step.off_below_v:g} V for {step.off_delay_s:g} s",
        on=f"above {step.on_above_v:g} V for {step.on_delay_s:g} s",
        watches=step.battery or "the battery of its loads",
        loads=f"{words}{f', {kept_on} of them never shed' if kept_on else ''}" or "nothing",
        did=_did(sheet, step.key),
    )


def _did(sheet: Sheet, key: str) -> str:
    """What a step does in the profiles: when it first goes off, and how often in all."""
    found = [(profile, item) for profile in sheet.assessment.profiles for item in profile.shedding if item.step == key]
    if not found:
        return "stays on" if sheet.assessment.profiles else ""
    profile, first = min(found, key=lambda pair: pair[1].first_h)
    times = sum(item.count for _, item in found)
    at_least = "at least " if any(item.at_least for _, item in found) else ""
    often = f", {at_least}{times} times in all" if times > 1 else ""
    return f"off after {figure(first.first_h, places=1)} h of {profile.key}{often}"
