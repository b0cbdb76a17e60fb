"""
A function schedule played on a page: where the controls stand, what every output does there, what time would change.

All of it travels in the address, so that a state can be sent to somebody, and the server keeps nothing: ``in:NAME`` is where
an input stands, ``past`` what came before while timers run, ``wait`` lets time pass, ``moment`` steps through the flashing.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import ceil
from urllib.parse import urlencode

from builds.drawings.vehicle_lights import draw_vehicle_lights, lamp_numbers
from builds.engineering.design import Design, OperatingCondition
from builds.engineering.functions.checks import ScheduleReport
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.coupling import condition_setting
from builds.engineering.functions.evaluate import Outcome
from builds.engineering.functions.playing import MOST_ACTS, Act, Played, levels_at, moments_of, play, play_of_trace
from builds.engineering.functions.printing import print_duration
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.schedule import Channel, Input
from builds.engineering.functions.settings import AT_REST, Setting, setting_of
from builds.engineering.functions.vocabulary import LOST, ChannelKind, InputKind, SignalMeaning
from builds.engineering.functions.words import outcome_words, setting_words, shown_words, still_word

__all__ = [
    "PREFIX",
    "Control",
    "OutputRow",
    "PlayView",
    "acts_asked",
    "condition_choices",
    "has_lights",
    "play_view",
    "start_of_claim",
]

PREFIX = "in:"
SHORTEST_RUN_MS = 400  # a page that runs by itself flashes 1.25 times a second at most; WCAG 2.3.1 bears three
MOST_MOMENTS = 20  # a second each, then it stands still again
_LONGEST_PAST = 8000
_KIND_WORDS = {
    InputKind.SIGNAL: "signal", InputKind.SELECTOR: "selector", InputKind.DIMMER: "dimmer", InputKind.PUSH: "push button",
    InputKind.HOLD: "held button", InputKind.LATCHING: "latching button", InputKind.TOGGLE: "switch",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Choice:
    """One place in which a control can stand."""

    element_id: str
    value: str
    word: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Control:
    """An input with every place it can stand in."""

    name: str
    label: str
    kind: str
    away: bool
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class OutputRow:
    """One output in words; ``number`` is that of its lamp on the picture, empty for what is no lamp."""

    number: str
    name: str
    shows: str
    why: str
    lit: bool
    now: str
    waiting: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayView:
    """Everything the picture with its controls prints."""

    by_hand: tuple[Control, ...]
    signals: tuple[Control, ...]
    picture: str
    lit: tuple[OutputRow, ...]
    dark: tuple[OutputRow, ...]
    still_word: str
    setting_words: str
    past: str
    wait_ms: int
    run_ms: int
    wait_words: str
    moment: int
    moments: int
    playing: bool
    running: bool
    flashes: bool
    query: str


def start_of_claim(report: ScheduleReport, key: str) -> tuple[tuple[Act, ...], bool] | None:
    """Return the play that shows why a claim is refuted; None where it is not."""
    for result in report.claims:
        if result.claim.key == key and result.counterexample is not None:
            trace = result.counterexample.trace
            if trace.settled:
                return (Act(result.counterexample.setting),), False
            return play_of_trace(trace), True
    return None


def acts_asked(compiled: CompiledSchedule, asked: Mapping[str, str]) -> tuple[tuple[Act, ...], bool]:
    """Return the play that an address asks for, and whether it begins as the module wakes; unknown names are read over."""
    acts, woken = _past(compiled, asked.get("past", ""))
    values = {name.removeprefix(PREFIX): value for name, value in asked.items() if name.startswith(PREFIX)}
    setting = _setting(compiled, values) if values else None
    waited_ms = _whole(asked.get("wait", "0"))
    if acts and waited_ms:
        return (*acts[:-1], replace(acts[-1], stood_ms=acts[-1].stood_ms + waited_ms)), woken
    if setting is not None and (not acts or acts[-1].setting != setting):
        acts = (*acts, Act(setting))[-MOST_ACTS:]
    return acts or (Act(AT_REST),), woken


def _past(compiled: CompiledSchedule, text: str) -> tuple[tuple[Act, ...], bool]:
    if not text:
        return (), False
    try:
        kept = json.loads(text[:_LONGEST_PAST])
        acts = tuple(Act(_setting(compiled, dict(away)), max(0, int(stood_ms))) for away, stood_ms in kept["acts"])
        return acts[-MOST_ACTS:], bool(kept.get("woken"))
    except (ValueError, TypeError, KeyError, AttributeError):
        return (), False  # an address that was cut short begins anew


def _setting(compiled: CompiledSchedule, values: Mapping[str, str]) -> Setting:
    declared = {part.key: part for part in compiled.schedule.inputs}
    known = {key: value for key, value in values.items() if key in declared and value in declared[key].values}
    return setting_of(compiled.schedule, known)


def _whole(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) <= 9 else 0


def play_view(
    design: Design, compiled: CompiledSchedule, acts: tuple[Act, ...], asked: Mapping[str, str], *, woken: bool = False
) -> PlayView:
    """
    Return what the picture shows for a play.

    Parameters
    ----------
    design : Design
        Its platform places the lamps.
    compiled : CompiledSchedule
        Its schedule.
    acts : tuple of Act
        What was done; see :func:`acts_asked`.
    asked : mapping of str to str
        The address: which moment of the flashing, whether it plays or timers run.
    woken : bool
        Whether the play begins as the module wakes.
    """
    played = play(compiled, acts, woken=woken)
    moments = moments_of(played.outcomes, most=MOST_MOMENTS)
    stepping = asked.get("moment", "") != ""
    moment = min(_whole(asked.get("moment", "0")), len(moments) - 1)
    at = {outcome.channel: ceil(outcome.shows.level_percent) for outcome in played.outcomes}
    now = at
    if stepping:
        levels = levels_at(played.outcomes, at_ms=moments[moment])
        now = {outcome.channel: level for outcome, level in zip(played.outcomes, levels, strict=True)}
    numbers = lamp_numbers(design, compiled.schedule)
    rows = [
        _row(compiled, channel, outcome, numbers.get(channel.key), now if stepping else None)
        for channel, outcome in zip(compiled.schedule.channels, played.outcomes, strict=True)
    ]
    controls = [(part, _control(part, played.setting.value(part))) for part in compiled.schedule.inputs]
    return PlayView(
        by_hand=tuple(control for part, control in controls if _is_by_hand(part)),
        signals=tuple(control for part, control in controls if not _is_by_hand(part)),
        picture=draw_vehicle_lights(design, compiled.schedule, now),
        lit=tuple(row for row in rows if row.lit),
        dark=tuple(row for row in rows if not row.lit),
        still_word=still_word(channel.kind for channel in compiled.schedule.channels),
        setting_words=setting_words(played.setting),
        past=_kept(played),
        wait_ms=played.next_ms or 0,
        run_ms=max(played.next_ms or 0, SHORTEST_RUN_MS),
        wait_words=print_duration(played.next_ms) if played.next_ms else "",
        moment=moment + 1 if stepping else 0,
        moments=len(moments),
        playing=asked.get("playing") == "1" and stepping and moment + 1 < len(moments),
        running=asked.get("running") == "1",
        flashes=len(moments) > 1,
        query=urlencode({f"{PREFIX}{key}": value for key, value in played.setting.away}),
    )


def _is_by_hand(part: Input) -> bool:
    return part.kind is not InputKind.SIGNAL and part.means is SignalMeaning.OTHER


def _control(part: Input, value: str) -> Control:
    slug = "".join(letter if letter.isalnum() else "-" for letter in part.key)
    return Control(
        name=f"{PREFIX}{part.key}",
        label=part.key,
        kind=_KIND_WORDS[part.kind],
        away=value != part.rest,
        choices=tuple(
            Choice(f"in-{slug}-{number}", one, "lost" if one == LOST else one, one == value)
            for number, one in enumerate(part.values)
        ),
    )


def _row(
    compiled: CompiledSchedule, channel: Channel, outcome: Outcome, number: int | None, now: Mapping[str, int] | None
) -> OutputRow:
    said = outcome_words(compiled, outcome)
    shows = shown_words(compiled, outcome.shows, channel.kind)
    lamp = channel.kind is ChannelKind.LAMP
    stepped = now is not None and bool(outcome.shows.steps)
    is_on = now is not None and now[channel.key] > 0
    worked = {ChannelKind.LAMP: "lit", ChannelKind.SIREN: "sounding"}.get(channel.kind, "on")
    moment = f"{worked if is_on else still_word((channel.kind,))} now" if stepped else ""
    why = next((said[said.index(word) :] for word in (", cut by", ", for", " by rule") if word in said), "")
    return OutputRow(
        number="" if number is None else str(number),
        name=channel.key,
        shows=shows
        if lamp
        else shows.replace("steady", "on").replace("flash", "sounds" if _sounds(channel) else "flash"),
        why=why.lstrip(", "),
        lit=outcome.is_lit,
        now=moment,
        waiting=stepped and not is_on,
    )


def _sounds(channel: Channel) -> bool:
    return channel.kind is ChannelKind.SIREN


def _kept(played: Played) -> str:
    kept = {"acts": [[[list(pair) for pair in act.setting.away], act.stood_ms] for act in played.acts]}
    return json.dumps(kept | ({"woken": 1} if played.woken else {}), separators=(",", ":"), ensure_ascii=False)


def has_lights(design: Design) -> bool:
    """Whether there are agreed conditions whose lamps can be shown."""
    compiled = report_of(design.function_schedule).compiled
    return compiled is not None and any(condition.input_settings for condition in design.conditions)


def condition_choices(
    compiled: CompiledSchedule, conditions: tuple[OperatingCondition, ...]
) -> Iterator[tuple[OperatingCondition, str]]:
    """Yield the conditions that set inputs, each with the address that shows it."""
    for condition in conditions:
        if condition.input_settings:
            away = condition_setting(compiled, condition).away
            yield condition, urlencode({f"{PREFIX}{key}": value for key, value in away})
