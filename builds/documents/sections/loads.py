"""Load by condition and weight, calculated beside measured."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.documents.packet_context import Measured, PacketContext, calculated_beside
from builds.documents.sections.cover import measured_payload_kg
from builds.drawings.duty_lines import duty_panels, duty_segments, duty_stretches, duty_switchings
from builds.drawings.duty_plot import draw_duty
from builds.drawings.palette import PRINT
from builds.engineering.assessing.source_outputs import output_of_rating
from builds.engineering.assessing.words import days, kind_words
from builds.engineering.assessment import ConditionResult
from builds.engineering.design import Load
from builds.engineering.duty_runs import ProfileRun, simulate_profile

__all__ = ["ConditionLine", "LoadLine", "Loads", "ProfilePlot", "SourceLine", "WeightLine", "loads_of"]

_PLOT_W, _PLOT_H = 680.0, 92.0  # all four plots of a profile stand on one sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceLine:
    """A battery, an alternator or another charger as its plate says."""

    key: str
    name: str
    rated: str
    more: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionLine:
    """A condition: what all loads take together and what is left."""

    name: str
    mean: str
    rms: str
    peak: str
    available: str
    left: str
    over: bool
    lasts: str
    lowest: str
    measured: str
    there: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    """A load as designed."""

    name: str
    circuit: str
    quantity: str
    current: str
    at: str
    duty: str
    together: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightLine:
    """An axle or the whole vehicle against its rating."""

    name: str
    calculated: str
    measured: str
    rating: str
    left: str
    over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfilePlot:
    """A duty profile over time: its plots as calculated, its segments by number, and what happened to each battery."""

    name: str
    drawing: str
    segments: tuple[tuple[str, str, str], ...]
    batteries: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """Section 9."""

    sources: tuple[SourceLine, ...]
    conditions: tuple[ConditionLine, ...]
    continuous: tuple[LoadLine, ...]
    intermittent: tuple[LoadLine, ...]
    key_off: tuple[str, str, str]
    weights: tuple[WeightLine, ...]
    payload: tuple[str, str]
    added: str
    threshold: str
    seats: int
    profiles: tuple[ProfilePlot, ...]


def loads_of(context: PacketContext) -> Loads:
    """Return the load analysis and the weights."""
    energy, weight, units = context.assessment.energy, context.assessment.weight, context.quantities
    key_off = context.measured.get("key-off")
    payload_kg = measured_payload_kg(context)
    return Loads(
        sources=tuple(_sources(context)),
        conditions=tuple(_condition(context, item) for item in context.assessment.conditions),
        continuous=tuple(_load(context, load) for load in context.design.loads if load.continuous),
        intermittent=tuple(_load(context, load) for load in context.design.loads if not load.continuous),
        key_off=(f"{energy.key_off_ma:.1f}", key_off.figure if key_off else "", f"{energy.key_off_limit_ma:.0f}"),
        weights=tuple(_weights(context)),
        payload=(units.mass(weight.payload_left_kg), units.mass(payload_kg) if payload_kg is not None else ""),
        added=units.mass(weight.added_kg),
        threshold=units.mass(weight.label_threshold_kg),
        seats=context.design.platform.seats,
        profiles=tuple(_profiles(context)),
    )


def _profiles(context: PacketContext) -> Iterator[ProfilePlot]:
    """Duty profiles that have segments, simulated from the frozen design as their figures were."""
    for profile in context.design.duty_profiles:
        done = simulate_profile(context.design, profile.key)
        if done is None:
            continue
        name = profile.name or profile.key
        drawing = draw_duty(
            f"Charge, voltage and currents over “{name}”", duty_panels(done), duty_stretches(context.design, done),
            duty_switchings(done), width_px=_PLOT_W, panel_px=_PLOT_H, palette=PRINT,
        )  # fmt: skip
        yield ProfilePlot(
            name=name,
            drawing=drawing,
            segments=tuple(
                (str(place), condition, f"{minutes:g} min")
                for place, (_, condition, minutes) in enumerate(duty_segments(context.design, done), start=1)
            ),
            batteries=tuple(_over_time(done, place) for place in range(len(done.plan.plan.banks))),
        )


def _over_time(done: ProfileRun, place: int) -> str:
    """One battery's lowest charge and voltage, and its charge at the end."""
    run, key = done.run, done.plan.plan.banks[place].key
    lowest, end = max(run.lowest_ratio[place], 0.0), max(float(run.trace.charge_ratio[-1, place]), 0.0)
    return (
        f"{key}: lowest charge {100 * lowest:.0f} %, lowest {run.lowest_v[place]:.2f} V, {100 * end:.0f} % at its end"
    )


def _sources(context: PacketContext) -> list[SourceLine]:
    lines = []
    for node in context.design.nodes:
        if node.alternator:
            spec = node.alternator
            idle_a, speed_a = (output_of_rating(spec, idle=idle).available_a for idle in (True, False))
            hot = f"hot: {idle_a:.0f} A idling, {speed_a:.0f} A driving"
            lines.append(SourceLine(key=node.key, name=node.name, rated=f"{spec.rated_a:g} A", more=hot))
        if node.source:
            set_to = f"{kind_words(node.kind)}, set to {node.source.low_v:g} to {node.source.high_v:g} V"
            lines.append(SourceLine(key=node.key, name=node.name, rated=f"{node.source.limit_a:g} A", more=set_to))
        if node.battery:
            used = f"{node.battery.usable_ratio:.0%} of it used under load".replace("%", " %")
            rated = f"{node.battery.capacity_ah:g} Ah at {node.battery.rated_hours:g} h"
            lines.append(SourceLine(key=node.key, name=node.name, rated=rated, more=used))
    return lines


def _condition(context: PacketContext, result: ConditionResult) -> ConditionLine:
    units = context.quantities
    source, estimate = result.source, " est." if result.source and result.source.estimate else ""
    measured = context.measured.get(f"load/{result.key}")
    energy = context.assessment.energy
    stands = next((item.stands for item in context.design.conditions if item.key == result.key), False)
    if stands:
        lasts = "" if energy.key_off_days is None else days(energy.key_off_days)
    else:
        lasts = "" if result.battery_h is None else units.battery_time(result.battery_h)
    return ConditionLine(
        name=result.name,
        mean=units.amperes(result.mean_a),
        rms=units.amperes(result.rms_a),
        peak=units.amperes(result.peak_a),
        available=f"{units.amperes(source.available_a)}{estimate}" if source else "",
        left=units.amperes(source.margin_a) if source else "",
        over=bool(source and source.margin_a < 0),
        lasts=lasts,
        lowest="" if result.lowest_load_v is None else f"{result.lowest_load_v:.2f} V at {result.lowest_load_key}",
        measured=measured.figure if measured else "",
        there=_there(context, measured),
    )


def _there(context: PacketContext, measured: Measured | None) -> str:
    """What is calculated at the volts at which the current was read."""
    there = calculated_beside(context.design, measured) if measured else ""
    return f"{there} calculated at {measured.tick.reading_at_v:.2f} V" if there and measured and measured.tick else ""


def _load(context: PacketContext, load: Load) -> LoadLine:
    units = context.quantities
    return LoadLine(
        name=load.name,
        circuit=load.circuit,
        quantity=str(load.quantity),
        current=f"{load.current_a:g}",
        at=f"{load.at_v:g}",
        duty="steady" if load.duty_ratio == 1 else f"{load.duty_ratio:.0%}".replace("%", " %"),
        together=units.amperes(load.current_a * load.quantity * load.duty_ratio),
    )


def _weights(context: PacketContext) -> list[WeightLine]:
    weight = context.assessment.weight
    rows = (
        ("Front axle", weight.front_axle_kg, weight.gawr_front_kg, _scale(context, "front")),
        ("Rear axle", weight.rear_axle_kg, weight.gawr_rear_kg, _scale(context, "rear")),
        ("Whole vehicle", weight.front_axle_kg + weight.rear_axle_kg, weight.gvwr_kg, _both(context)),
    )
    units = context.quantities
    return [
        WeightLine(
            name=name,
            calculated=units.mass(calculated),
            measured=units.mass(measured) if measured is not None else "",
            rating=units.mass(rating),
            left=units.mass(rating - (calculated if measured is None else measured)),
            over=(calculated if measured is None else measured) > rating,
        )
        for name, calculated, rating, measured in rows
    ]


def _scale(context: PacketContext, axle: str) -> float | None:
    measured = context.measured.get(f"weigh/{axle}")
    return float(measured.tick.reading) if measured and measured.tick and measured.tick.reading is not None else None


def _both(context: PacketContext) -> float | None:
    front, rear = _scale(context, "front"), _scale(context, "rear")
    return None if front is None or rear is None else front + rear
