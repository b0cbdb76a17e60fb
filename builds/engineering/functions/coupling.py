"""
Which loads a setting lights, and how: an operating condition is a setting, and its currents come from the lamps.

Mean current is what a battery and its source see, so a flash counts by its duty and a dimmed lamp by its level. A head that
dims by current is counted like one that switches quickly: the same mean, and an RMS on the safe side.
"""

from collections.abc import Iterator
from dataclasses import replace

from builds.engineering.design import Design, InputSetting, LoadUse, OperatingCondition
from builds.engineering.functions.appearances import Appearance
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.names import folded
from builds.engineering.functions.patterns import FlashPattern, flash_figures
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.settings import Setting, setting_of

__all__ = ["condition_setting", "coupled", "settings_left_out", "uses_by_rules", "uses_of"]


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
        the mean of their duties, dark ones counted; a channel without a load is in no figure.

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
    duties: dict[str, list[float]] = {}
    for channel, outcome in zip(compiled.schedule.channels, evaluate(compiled, setting), strict=True):
        if channel.load:
            duties.setdefault(channel.load, []).append(_duty_ratio(outcome.shows))
    means = {load: sum(shares) / len(shares) for load, shares in duties.items()}
    return tuple(LoadUse(load=load, duty_ratio=min(1.0, mean)) for load, mean in means.items() if mean > 0)


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
            replace(condition, uses=_joined(compiled, condition, driven, known))
            if condition.input_settings
            else condition
            for condition in design.conditions
        ),
    )


def _joined(
    compiled: CompiledSchedule, condition: OperatingCondition, driven: set[str], known: set[str]
) -> tuple[LoadUse, ...]:
    by_hand = [use for use in condition.uses if use.load not in driven]
    return (*by_hand, *(use for use in uses_by_rules(compiled, condition) if use.load in known))


def uses_by_rules(compiled: CompiledSchedule, condition: OperatingCondition) -> tuple[LoadUse, ...]:
    """Return the loads that the rules light in a condition, each with its duty there."""
    return uses_of(compiled, condition_setting(compiled, condition))


def condition_setting(compiled: CompiledSchedule, condition: OperatingCondition) -> Setting:
    """Return where the inputs stand in a condition; settings that the schedule does not know are left out."""
    left_out = {setting for setting, _ in settings_left_out(compiled, condition)}
    values = {one.input: one.value for one in condition.input_settings if one not in left_out}
    return setting_of(compiled.schedule, values)


def settings_left_out(compiled: CompiledSchedule, condition: OperatingCondition) -> Iterator[tuple[InputSetting, str]]:
    """Yield the settings of a condition that the schedule does not know, each with what it would know there."""
    declared = {folded(part.key): part for part in compiled.schedule.inputs}
    for setting in condition.input_settings:
        part = declared.get(folded(setting.input))
        if part is None:
            yield setting, "one of " + ", ".join(one.key for one in compiled.schedule.inputs)
        elif setting.value not in part.values:
            yield setting, f"{part.key} to be one of " + ", ".join(part.values)
