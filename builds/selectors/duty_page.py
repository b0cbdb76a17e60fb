"""A duty profile as its page shows it: plots, words, and a line for each segment."""

from dataclasses import dataclass

import numpy as np

from builds.drawings.duty_lines import duty_panels, duty_segments, duty_stretches, duty_switchings
from builds.drawings.duty_plot import Panel, Stretch, Switching
from builds.drawings.margin_bar import figure
from builds.engineering.design import Design, DutyProfile
from builds.engineering.duty_runs import ProfileRun, simulate_profile
from builds.engineering.electrical.energy.run_records import Event, EventKind
from builds.selectors.figure_words import ampere, percent
from builds.selectors.sheet_duty import lasts

__all__ = ["DutyPage", "Happening", "StretchRow", "duty_page"]

_S_PER_H = 3600.0
_LOADS_STYLE = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchRow:
    """One segment in figures: how it ends, and the lowest and the mean of what flows in it."""

    number: str
    key: str
    condition: str
    begins: str
    length: str
    lowest_v: tuple[str, ...]
    end_charge: tuple[str, ...]
    load: str
    source: str
    batteries: tuple[str, ...]

    @property
    def of_batteries(self) -> list[tuple[str, str, str]]:
        """Name, lowest voltage and charge at the end, battery by battery."""
        return list(zip(self.batteries, self.lowest_v, self.end_charge, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """Something that happened: when, in words, and the shape that stands beside it."""

    at: str
    words: str
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Ampere-hours of one battery or of all of it."""

    name: str
    given: str
    taken: str
    extra: str
    lost: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyPage:
    """Everything the page prints."""

    profile: DutyProfile
    length: str
    batteries: tuple[str, ...]
    panels: tuple[Panel, ...]
    stretches: tuple[Stretch, ...]
    switchings: tuple[Switching, ...]
    rows: tuple[StretchRow, ...]
    happenings: tuple[Happening, ...]
    accounts: tuple[Account, ...]
    source_ah: str
    load_ah: str
    crank_ah: str

    @property
    def line_words(self) -> list[str]:
        """How the lines are drawn, in words."""
        dashes = ("a whole line", "a dashed line", "a dotted line", "a line of dashes and dots")
        batteries = [f"{name} is {dashes[at % len(dashes)]}" for at, name in enumerate(self.batteries)]
        return [*batteries, f"Loads are {dashes[_LOADS_STYLE]}", f"What sources could give is {dashes[1]}"]


def duty_page(design: Design, key: str) -> DutyPage | None:
    """Return a profile's page; None where there is nothing to simulate."""
    done = simulate_profile(design, key)
    if done is None:
        return None
    run, banks = done.run, done.plan.plan.banks
    stretches = duty_stretches(design, done)
    return DutyPage(
        profile=done.profile,
        length=lasts(round(stretches[-1].end_h * 60, 2)),
        batteries=tuple(bank.key for bank in banks),
        panels=duty_panels(done),
        stretches=stretches,
        switchings=duty_switchings(done),
        rows=tuple(_rows(design, done, stretches)),
        happenings=tuple(_happening(design, event) for event in run.events if event.kind in _WORDS),
        accounts=tuple(
            Account(
                name=bank.key,
                given=figure(account.given_ah, places=1),
                taken=figure(account.taken_ah, places=1),
                extra=figure(account.peukert_extra_ah, places=1),
                lost=figure(account.charge_lost_ah, places=1),
            )
            for bank, account in zip(banks, run.accounts.banks, strict=True)
        ),
        source_ah=figure(run.accounts.source_ah, places=1),
        load_ah=figure(run.accounts.load_ah, places=1),
        crank_ah=figure(run.accounts.crank_ah, places=1),
    )


def _rows(design: Design, done: ProfileRun, stretches: tuple[Stretch, ...]) -> list[StretchRow]:
    trace, of_segment = done.run.trace, np.array(done.plan.segments)
    rows = []
    for (key, condition, minutes), stretch in zip(duty_segments(design, done), stretches, strict=True):
        inside = of_segment[trace.stage] == int(stretch.label) - 1
        last = int(np.flatnonzero(inside)[-1])
        rows.append(
            StretchRow(
                number=stretch.label,
                key=key,
                condition=condition,
                begins=lasts(round(stretch.begin_h * 60, 2)),
                length=lasts(minutes),
                lowest_v=tuple(figure(float(column.min()), places=2) for column in trace.bank_v[inside].T),
                end_charge=tuple(percent(float(ratio)) for ratio in trace.charge_ratio[last]),
                load=ampere(_mean(trace.time_s[inside], trace.load_a[inside])),
                source=ampere(_mean(trace.time_s[inside], trace.source_a[inside])),
                batteries=tuple(bank.key for bank in done.plan.plan.banks),
            )
        )
    return rows


def _mean(time_s: np.ndarray, current_a: np.ndarray) -> float:
    span_s = float(time_s[-1] - time_s[0])
    return float(np.trapezoid(current_a, time_s)) / span_s if span_s > 0 else float(current_a[-1])


_WORDS = {
    EventKind.SHED: ("step {what} goes off at {voltage} V", "caution"),
    EventKind.RESTORED: ("step {what} is on again at {voltage} V", "pass"),
    EventKind.CUT_OUT: ("load {what} cuts out: {voltage} V at the battery", "caution"),
    EventKind.FLOOR: ("battery {what} has given the part that may be used, at {voltage} V", "blocking"),
    EventKind.EMPTY: ("battery {what} is empty", "blocking"),
    EventKind.OVERLOADED: ("battery {what} cannot carry its loads: they go off", "blocking"),
    EventKind.CRANK: ("the engine is started: {voltage} V at {what}", "note"),
}


def _happening(design: Design, event: Event) -> Happening:
    words, state = _WORDS[event.kind]
    names = {step.key: f"{step.key} ({step.name})" for step in design.shed_steps}
    what = event.what.removeprefix("load:")
    return Happening(
        at=f"{figure(event.at_s / _S_PER_H, places=2)} h",
        words=words.format(what=names.get(what, what), voltage=figure(event.voltage_v, places=2)),
        state=state,
    )
