"""
Which loads a setting lights, and how: an operating condition is a setting, and its currents come from the lamps.

Mean current is what a battery and its source see, so a flash counts by its duty and a dimmed lamp by its level.
"""

from builds.engineering.design import LoadUse
from builds.engineering.functions.appearances import Appearance
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.patterns import FlashPattern, flash_figures
from builds.engineering.functions.settings import Setting

__all__ = ["uses_of"]


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
