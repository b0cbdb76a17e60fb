"""
What the lamps of each circuit take together in a condition: in step where the rules keep them in step, else at worst.

The design's own figures count a flash by its duty and let everything be lit at once, which holds however lamps flash. Where
a schedule says how they flash, the true peak of what keeps step can be told, and it is often half as much.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.design import Design, Load, OperatingCondition
from builds.engineering.electrical.flash import FlashingLoad, FlashSum, flash_sum
from builds.engineering.functions.appearances import Appearance
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.coupling import condition_setting
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.patterns import FlashPattern, FlashStep
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.vocabulary import DimMethod

__all__ = ["CircuitFlash", "flash_by_circuit"]

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
    """The lit channels of every load; one that several feed is shared by the current each of them states, else evenly."""
    schedule, loads = compiled.schedule, {load.key: load for load in design.loads}
    outcomes = evaluate(compiled, condition_setting(compiled, condition))
    of_load: dict[str, list[tuple[float, str, Appearance]]] = {}
    for channel, outcome in zip(schedule.channels, outcomes, strict=True):
        if channel.load in loads:
            of_load.setdefault(channel.load, []).append((channel.current_a, channel.key, outcome.shows))
    by_current = {key for head in schedule.heads if head.dims_by is DimMethod.CURRENT for key in head.channels}
    lamps: dict[str, list[FlashingLoad]] = {}
    for key, channels in of_load.items():
        load, stated_a = loads[key], sum(current_a for current_a, _, _ in channels)
        for current_a, name, shows in channels:
            part = current_a / stated_a if stated_a else 1 / len(channels)
            if shows.level_percent:
                lamps.setdefault(key, []).append(
                    FlashingLoad(
                        current_a=load.current_a * load.quantity * part,
                        pattern=FlashPattern(key=name, steps=shows.steps) if shows.steps else None,
                        phase_ms=shows.phase_ms,
                        sync=shows.sync,
                        level_percent=shows.level_percent,
                        dims_by=DimMethod.CURRENT if name in by_current else DimMethod.PULSE_WIDTH,
                        can_be_steady=load.can_be_steady,
                    )
                )
    return lamps
