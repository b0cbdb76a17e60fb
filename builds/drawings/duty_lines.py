"""The lines of a duty profile's plots, read from its simulation."""

import numpy as np

from builds.drawings.duty_plot import Line, Panel, Stretch, Switching
from builds.engineering.design import Design
from builds.engineering.duty_runs import ProfileRun
from builds.engineering.electrical.energy.run_records import EventKind, Trace
from builds.engineering.electrical.energy.stages import Stage

__all__ = ["duty_panels", "duty_segments", "duty_stretches", "duty_switchings"]

_S_PER_H = 3600.0
_LOADS_STYLE = 2


def duty_segments(design: Design, done: ProfileRun) -> list[tuple[str, str, float]]:
    """Return key, condition and minutes of the segments of a profile."""
    names = {condition.key: condition.name for condition in design.conditions}
    return [
        (item.key, names[item.condition], item.duration_min)
        for item in design.duty_segments
        if item.profile == done.profile.key
    ]


def duty_stretches(design: Design, done: ProfileRun) -> tuple[Stretch, ...]:
    """Return the segments of a simulated profile with their ends on the axis of time."""
    found, now_h = [], 0.0
    for place, (_, _, minutes) in enumerate(duty_segments(design, done), start=1):
        found.append(Stretch(str(place), now_h, now_h + minutes / 60))
        now_h += minutes / 60
    return tuple(found)


def duty_switchings(done: ProfileRun) -> tuple[Switching, ...]:
    """Return what a simulated profile sheds and restores, in the order of time."""
    return tuple(
        Switching(event.at_s / _S_PER_H, event.kind is EventKind.SHED)
        for event in done.run.events
        if event.kind in (EventKind.SHED, EventKind.RESTORED)
    )


def duty_panels(done: ProfileRun) -> tuple[Panel, ...]:
    """Return the plots of a simulated profile: charge, voltage, what batteries and loads take, what sources give."""
    trace, banks = done.run.trace, done.plan.plan.banks
    hours = (trace.time_s / _S_PER_H).tolist()

    def lines(columns: np.ndarray) -> tuple[Line, ...]:
        return tuple(Line(bank.key, hours, columns[:, at].tolist(), at) for at, bank in enumerate(banks))

    kept = sorted({round(100 * bank.floor_ratio, 1) for bank in banks})
    cranked = np.array([stage.cranks for stage in done.plan.plan.stages])[trace.stage]
    calm = np.flatnonzero(~cranked)
    quiet_h = trace.time_s[calm] / _S_PER_H

    def calm_line(name: str, figures: np.ndarray, style: int) -> Line:
        return Line(name, quiet_h.tolist(), figures[calm].tolist(), style)

    could_a = np.array([_could_give_a(stage) for stage in done.plan.plan.stages])[trace.stage]
    return (
        Panel(
            "Charge, %", lines(100 * trace.charge_ratio), 0.0, 100.0, tuple((f"kept back {at:g} %", at) for at in kept)
        ),
        Panel("Voltage at the battery, V", lines(trace.bank_v), *_usual_v(trace)),
        Panel(
            "Batteries and loads, A",
            (
                *(calm_line(bank.key, trace.bank_a[:, at], at) for at, bank in enumerate(banks)),
                calm_line("loads", trace.load_a, _LOADS_STYLE),
            ),
            0.0, 10.0,
        ),
        Panel(
            "Sources, A", (calm_line("give", trace.source_a, 0), calm_line("could give", could_a, 1)), 0.0, 10.0
        ),
    )  # fmt: skip


def _could_give_a(stage: Stage) -> float:
    """The most that what charges could give in a stage; a converter only hands on."""
    return sum(supply.limit_a for post in stage.posts for supply in post.supplies if supply.transfer is None)


def _usual_v(trace: Trace) -> tuple[float, float]:
    """A volt more than the voltages run over, so that a quiet battery is a level line and not a mountain range."""
    return float(np.floor(trace.bank_v.min())), float(np.ceil(trace.bank_v.max()))
