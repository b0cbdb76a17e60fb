"""
What the lamps of each circuit take together in a condition: in step where the rules keep them in step, else at worst.

The design's own figures count a flash by its duty and let everything be lit at once, which holds however lamps flash. Where
a schedule says how they flash, the true peak of what keeps step can be told, and it is often half as much.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType

from builds.engineering.design import Design, InputSetting, Load, OperatingCondition
from builds.engineering.electrical.flash import FlashingLoad, FlashSum, flash_sum
from builds.engineering.errors import OutOfRange
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.coupling import compiled_setting, condition_setting, load_shares
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.patterns import FlashPattern, FlashStep
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.settings import Setting
from builds.engineering.functions.vocabulary import DimMethod

__all__ = ["CircuitFlash", "flash_by_circuit", "heat_ratios", "lit_parts"]

_MOST_KEPT = 1024  # some tens of settings a build

_ROUND_MS = 1000  # a flash of which only the duty is known is taken to come once a second, in step with nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitFlash:
    """One circuit with lamps that flash: which loads, their sum, and what they took if all were lit at once."""

    circuit: str
    loads: tuple[str, ...]
    total: FlashSum
    all_lit_a: float


def flash_by_circuit(design: Design, condition: OperatingCondition) -> tuple[CircuitFlash, ...]:
    """
    Return the circuits on which something flashes in a condition, with what they take together.

    Parameters
    ----------
    design : Design
        A build.
    condition : OperatingCondition
        One of its conditions; where it sets inputs, the rules say how lamps flash, else only their duty is known.

    Returns
    -------
    tuple of CircuitFlash
        In the design's order; currents are those of the data sheets.

    Raises
    ------
    OutOfRange
        If patterns of one clock come round together only after ten minutes.
    """
    compiled = report_of(design.function_schedule).compiled if condition.input_settings else None
    lamps = dict(_by_hand(design, condition, _driven(compiled)))
    if compiled is not None:
        lamps |= _by_rules(design, condition, compiled)
    found = []
    for circuit in design.circuits:
        own = [load.key for load in design.loads if load.circuit == circuit.number and lamps.get(load.key)]
        members = [member for key in own for member in lamps[key]]
        if any(member.pattern is not None for member in members):
            total = flash_sum(members)
            all_lit_a = sum(member.current_a for member in members)
            found.append(CircuitFlash(circuit=circuit.number, loads=tuple(own), total=total, all_lit_a=all_lit_a))
    return tuple(found)


def _driven(compiled: CompiledSchedule | None) -> frozenset[str]:
    return frozenset(channel.load for channel in compiled.schedule.channels) if compiled else frozenset()


def _by_hand(
    design: Design, condition: OperatingCondition, driven: frozenset[str]
) -> Iterator[tuple[str, list[FlashingLoad]]]:
    loads = {load.key: load for load in design.loads}
    for use in condition.uses:
        load = loads.get(use.load)
        if load is not None and load.key not in driven:
            duty = load.duty_ratio if use.duty_ratio is None else use.duty_ratio
            on_ms = min(max(round(duty * _ROUND_MS), 1), _ROUND_MS)
            steps = (FlashStep(duration_ms=on_ms), FlashStep(duration_ms=max(_ROUND_MS - on_ms, 1), level_percent=0))
            pattern = None if on_ms == _ROUND_MS else FlashPattern(key="duty", steps=steps)
            yield load.key, [_lamp(load, load.current_a * load.quantity, pattern)]


def _lamp(load: Load, current_a: float, pattern: FlashPattern | None) -> FlashingLoad:
    return FlashingLoad(current_a=current_a, pattern=pattern, can_be_steady=load.can_be_steady)


def _by_rules(
    design: Design, condition: OperatingCondition, compiled: CompiledSchedule
) -> dict[str, list[FlashingLoad]]:
    """The lit channels of every load of the design."""
    loads = {load.key: load for load in design.loads}
    return {
        key: [
            replace(
                member,
                current_a=loads[key].current_a * loads[key].quantity * member.current_a,
                can_be_steady=loads[key].can_be_steady,
            )
            for member in members
        ]
        for key, members in lit_parts(compiled, condition_setting(compiled, condition)).items()
        if key in loads
    }


def lit_parts(compiled: CompiledSchedule, setting: Setting) -> dict[str, list[FlashingLoad]]:
    """
    Return the lit channels of every load, by its key, as parts of an ampere of it.

    A load that several channels feed is shared by the current each of them states, evenly where one states none.
    """
    schedule = compiled.schedule
    by_current = {key for head in schedule.heads if head.dims_by is DimMethod.CURRENT for key in head.channels}
    lamps: dict[str, list[FlashingLoad]] = {}
    shares = load_shares(schedule)
    for channel, outcome in zip(schedule.channels, evaluate(compiled, setting), strict=True):
        shows = outcome.shows
        if shows.level_percent:
            lamps.setdefault(channel.load, []).append(
                FlashingLoad(
                    current_a=shares[channel.key] * outcome.shared_ratio,
                    pattern=FlashPattern(key=channel.key, steps=shows.steps) if shows.steps else None,
                    phase_ms=shows.phase_ms,
                    sync=shows.sync,
                    level_percent=outcome.asked_percent,
                    dims_by=DimMethod.CURRENT if channel.key in by_current else DimMethod.PULSE_WIDTH,
                )
            )
    return lamps


def heat_ratios(text: str, condition: OperatingCondition) -> Mapping[str, float]:
    """
    Return the largest RMS over two seconds of each load that the rules light, as a part of what it takes fully lit.

    Parameters
    ----------
    text : str
        A function schedule.
    condition : OperatingCondition
        What it is set to; loads that no channel feeds are not in it, nor is any where it sets nothing.

    Returns
    -------
    mapping of str to float
        By key of the load, 0 to 1; 1 where patterns of one clock never come round together. [1]
    """
    return _heat_at(text, condition.input_settings) if condition.input_settings else {}


@lru_cache(maxsize=_MOST_KEPT)
def _heat_at(text: str, settings: tuple[InputSetting, ...]) -> Mapping[str, float]:
    compiled = report_of(text).compiled
    if compiled is None:
        return {}
    parts = lit_parts(compiled, compiled_setting(compiled, settings))
    return MappingProxyType({key: _heat_of(members) for key, members in parts.items()})


def _heat_of(members: list[FlashingLoad]) -> float:
    try:
        return min(flash_sum(members).heat_a, 1.0)
    except OutOfRange:
        return 1.0
