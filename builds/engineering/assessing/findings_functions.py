"""What a function schedule and the design around it say of each other: loads, zones, conditions, loaded files."""

from collections.abc import Iterator, Sequence

from builds.engineering.assessing.words import of_condition
from builds.engineering.design import Design, OperatingCondition
from builds.engineering.findings import Finding, Number
from builds.engineering.functions.catalogue import found
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.coupling import settings_left_out, uses_by_rules
from builds.engineering.functions.loaded_files import LoadedFile, check_files, check_unloaded
from builds.engineering.functions.part_checks import check_channels
from builds.engineering.functions.printing import print_name
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.schedule import Channel, Rule
from builds.engineering.functions.vocabulary import EffectKind
from builds.engineering.functions.words import figure_words, listed

__all__ = ["function_findings"]

_TOLERANCE_A = 1e-6


def function_findings(design: Design, loaded_files: Sequence[LoadedFile] | None = None) -> Iterator[Finding]:
    """
    Yield what is to be said of a design's function schedule.

    Parameters
    ----------
    design : Design
        As drawn, its conditions not yet joined to the schedule.
    loaded_files : sequence of LoadedFile, optional
        The latest loading of each device; left out where nobody can know, and then nothing is said of them.
    """
    report = report_of(design.function_schedule)
    yield from report.findings
    compiled = report.compiled
    if compiled is None:
        return
    keys = {load.key for load in design.loads}
    yield from (one for one in check_channels(compiled, keys) if one.id == "channel-load-missing")
    yield from _zones(design, compiled)
    yield from _small_loads(design, compiled)
    yield from _steady_loads(design, compiled)
    for condition in design.conditions:
        yield from _condition(design, compiled, condition)
    if loaded_files is not None:
        yield from check_files(compiled.schedule, loaded_files)
        yield from check_unloaded(design.parts if compiled.schedule.rules else (), loaded_files)


def _zones(design: Design, compiled: CompiledSchedule) -> Iterator[Finding]:
    known = {zone.key for zone in design.platform.zones}
    for channel in compiled.schedule.channels:
        if channel.zone and channel.zone not in known:
            yield found(
                "channel-zone-missing", f"channel:{channel.key}", channel=print_name(channel.key), zone=channel.zone
            )


def _small_loads(design: Design, compiled: CompiledSchedule) -> Iterator[Finding]:
    """Loads whose channels take more than the load."""
    channels_of: dict[str, list[Channel]] = {}
    for channel in compiled.schedule.channels:
        channels_of.setdefault(channel.load, []).append(channel)
    for load in design.loads:
        channels = channels_of.get(load.key, [])
        limit_a, current_a = load.current_a * load.quantity, sum(one.current_a for one in channels)
        if current_a > limit_a + _TOLERANCE_A:
            yield found(
                "load-under-channels", f"load:{load.key}",
                numbers=(
                    Number(name="current", value=current_a, unit="A"), Number(name="limit", value=limit_a, unit="A"),
                ),
                channels=listed(print_name(one.key) for one in channels if one.current_a),
                current=f"{figure_words(current_a, 4)} A", load=load.key, limit=f"{figure_words(limit_a, 4)} A",
            )  # fmt: skip


def _steady_loads(design: Design, compiled: CompiledSchedule) -> Iterator[Finding]:
    """
    Loads that are sized as never steady and that a rule holds steady, brighter than their duty.

    Below that a steady lamp warms its fuse and wire less than its flashing does: the root of the level is the smaller one.
    """
    flashing = {load.key: load.duty_ratio for load in design.loads if not load.can_be_steady}
    steady: dict[str, dict[str, str]] = {}
    for channel, rules in zip(compiled.schedule.channels, compiled.channels, strict=True):
        for rule in map(compiled.schedule.rules.__getitem__, rules.drives):
            if _is_steadier(rule, flashing.get(channel.load, 1.0)):
                steady.setdefault(channel.load, {})[rule.key] = channel.key
    for load, found_there in steady.items():
        words = ("rule " if len(found_there) == 1 else "rules ") + listed(map(print_name, found_there))
        channels = listed(map(print_name, dict.fromkeys(found_there.values())))
        hold = "holds" if len(found_there) == 1 else "hold"
        yield found("load-held-steady", f"load:{load}", load=load, rules=words, hold=hold, channels=channels)


def _is_steadier(rule: Rule, duty_ratio: float) -> bool:
    return rule.effect.kind is EffectKind.STEADY and rule.effect.level_percent / 100 > duty_ratio


def _condition(design: Design, compiled: CompiledSchedule, condition: OperatingCondition) -> Iterator[Finding]:
    subject, name = f"condition:{condition.key}", of_condition(condition)
    for setting, expected in settings_left_out(compiled, condition.input_settings):
        yield found(
            "condition-setting-unknown", subject,
            condition=name, setting=f"{print_name(setting.input)} {setting.value}", expected=expected,
        )  # fmt: skip
    if not condition.input_settings:
        return
    lit = {use.load for use in uses_by_rules(design.function_schedule, condition)}
    driven = {channel.load for channel in compiled.schedule.channels if channel.load}
    dark = [use.load for use in condition.uses if use.load in driven and use.load not in lit]
    if dark:
        yield found(
            "condition-load-dark", subject, condition=name, loads=listed(dark), are="is" if len(dark) == 1 else "are"
        )
