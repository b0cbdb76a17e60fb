"""
Which loads a setting lights, and how: an operating condition is a setting, and its currents come from the lamps.

Mean current is what a battery and its source see, so a flash counts by its duty and a dimmed lamp by its level. A head that
dims by current is counted like one that switches quickly: the same mean, and an RMS on the high side.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache

from builds.engineering.design import Design, InputSetting, LoadUse, OperatingCondition
from builds.engineering.functions.appearances import Appearance
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.names import folded
from builds.engineering.functions.patterns import FlashPattern, flash_figures
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.schedule import Channel, FunctionSchedule
from builds.engineering.functions.settings import Setting, setting_of

__all__ = [
    "compiled_setting",
    "condition_setting",
    "coupled",
    "load_shares",
    "settings_left_out",
    "uses_by_rules",
    "uses_of",
]

_MOST_KEPT = 1024  # some tens of settings a build


def uses_of(compiled: CompiledSchedule, setting: Setting) -> tuple[LoadUse, ...]:
    """
    Return the loads that are on at a setting that has stood for a long time.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    setting : Setting
        What an operating condition sets.

    Returns
    -------
    tuple of LoadUse
        Loads of the channels that are lit, in schedule order, each with its duty. A load that several channels feed has
        the mean of their duties by the current each takes, dark ones counted; a channel without a load is in no figure.

    Examples
    --------
    >>> from builds.engineering.functions.compiled import compile_schedule
    >>> from builds.engineering.functions.language import parse_schedule
    >>> from builds.engineering.functions.settings import setting_of
    >>> schedule = parse_schedule('''
    ... input mode: selector off, respond
    ... channel bar: lamp; load L1
    ... pattern beat: 300 ms on, 500 ms off
    ... rule go (priority 1): bar flash beat when mode is respond; if lost, does not apply
    ... ''')
    >>> uses_of(compile_schedule(schedule), setting_of(schedule, {"mode": "respond"}))
    (LoadUse(load='L1', duty_ratio=0.375),)
    """
    means: dict[str, float] = {}
    shares = load_shares(compiled.schedule)
    for channel, outcome in zip(compiled.schedule.channels, evaluate(compiled, setting), strict=True):
        if channel.load:
            duty_ratio = shares[channel.key] * _duty_ratio(outcome.shows)
            means[channel.load] = means.get(channel.load, 0.0) + duty_ratio
    return tuple(LoadUse(load=load, duty_ratio=min(1.0, mean)) for load, mean in means.items() if mean > 0)


def load_shares(schedule: FunctionSchedule) -> Mapping[str, float]:
    """Return by channel its part of the load it feeds, a ratio from 0 to 1: by current, evenly where one states none."""
    by_load: dict[str, list[Channel]] = {}
    for channel in schedule.channels:
        by_load.setdefault(channel.load, []).append(channel)
    shares: dict[str, float] = {}
    for channels in by_load.values():
        stated_a = sum(one.current_a for one in channels) if all(one.current_a for one in channels) else 0.0
        shares |= {one.key: one.current_a / stated_a if stated_a else 1 / len(channels) for one in channels}
    return shares


def _duty_ratio(shows: Appearance) -> float:
    level_ratio = shows.level_percent / 100
    if not shows.steps:
        return level_ratio
    return level_ratio * flash_figures(FlashPattern(key="shown", steps=shows.steps)).duty_ratio


def coupled(design: Design) -> Design:
    """
    Return a design in whose conditions the rules say what is on of all they drive.

    Parameters
    ----------
    design : Design
        A condition without input settings, and a design without a schedule that can be read, stay as they are.

    Returns
    -------
    Design
        In each condition with input settings, the loads that the rules light at their duty, and of its own ``uses`` those
        of loads that no channel feeds.
    """
    compiled = report_of(design.function_schedule).compiled
    if compiled is None or not any(condition.input_settings for condition in design.conditions):
        return design
    known = {load.key for load in design.loads}
    driven = {channel.load for channel in compiled.schedule.channels}
    return replace(
        design,
        conditions=tuple(
            replace(condition, uses=_joined(design.function_schedule, condition, driven, known))
            if condition.input_settings
            else condition
            for condition in design.conditions
        ),
    )


def _joined(text: str, condition: OperatingCondition, driven: set[str], known: set[str]) -> tuple[LoadUse, ...]:
    by_hand = [use for use in condition.uses if use.load not in driven]
    return (*by_hand, *(use for use in uses_by_rules(text, condition) if use.load in known))


def uses_by_rules(text: str, condition: OperatingCondition) -> tuple[LoadUse, ...]:
    """Return the loads that the rules of a schedule light in a condition, each with its duty there; none if unreadable."""
    return _uses_at(text, condition.input_settings)


@lru_cache(maxsize=_MOST_KEPT)
def _uses_at(text: str, settings: tuple[InputSetting, ...]) -> tuple[LoadUse, ...]:
    """Worked out once for each text and setting: nearly every edit of a build leaves both alone."""
    compiled = report_of(text).compiled
    return uses_of(compiled, compiled_setting(compiled, settings)) if compiled is not None else ()


def condition_setting(compiled: CompiledSchedule, condition: OperatingCondition) -> Setting:
    """Return where the inputs stand in a condition; settings that the schedule does not know are left out."""
    return compiled_setting(compiled, condition.input_settings)


def compiled_setting(compiled: CompiledSchedule, settings: tuple[InputSetting, ...]) -> Setting:
    """Return where the inputs stand at some settings; those that the schedule does not know are left out."""
    left_out = {setting for setting, _ in settings_left_out(compiled, settings)}
    return setting_of(compiled.schedule, {one.input: one.value for one in settings if one not in left_out})


def settings_left_out(
    compiled: CompiledSchedule, settings: tuple[InputSetting, ...]
) -> Iterator[tuple[InputSetting, str]]:
    """Yield the settings that the schedule does not know, each with what it would know there."""
    declared = {folded(part.key): part for part in compiled.schedule.inputs}
    for setting in settings:
        part = declared.get(folded(setting.input))
        if part is None:
            yield setting, "one of " + ", ".join(one.key for one in compiled.schedule.inputs)
        elif setting.value not in part.values:
            yield setting, f"{part.key} to be one of " + ", ".join(part.values)
