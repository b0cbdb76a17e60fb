"""Findings about what the network does to devices beside feeding them: a jump start from a higher voltage, coils let go."""

from collections.abc import Iterator

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.words import listing, of_load, volts
from builds.engineering.catalogue import found
from builds.engineering.design import Design, Load
from builds.engineering.findings import Finding, Number
from builds.engineering.vocabulary import ReversedBattery, Suppression

__all__ = ["harmed_by_reversal", "surge_findings", "weaker_than"]

_SAME = 1e-9


def surge_findings(index: IndexedDesign) -> Iterator[Finding]:
    """Yield the findings of this module."""
    for load in index.design.loads:
        if load.suppression is Suppression.UNSUPPRESSED:
            yield found("coil-unsuppressed", f"load:{load.key}", load=of_load(load))
    asked_v = index.numbers["jump-start-v"]
    if asked_v:
        yield from _jump_start(index.design, asked_v)


def _jump_start(design: Design, asked_v: float) -> Iterator[Finding]:
    unknown = []
    for load, stated_v in weaker_than(design, asked_v):
        if stated_v is None:
            unknown.append(load)
            continue
        numbers = (Number(name="withstands", value=stated_v, unit="V"), Number(name="asked", value=asked_v, unit="V"))
        yield found(
            "jump-start-too-high", f"load:{load.key}", numbers=numbers,
            load=of_load(load), stated=volts(stated_v), asked=volts(asked_v),
        )  # fmt: skip
    if unknown:
        names = listing(tuple(of_load(load) for load in unknown))
        yield found("jump-start-unknown", "build", asked=volts(asked_v), loads=names)


def weaker_than(design: Design, jump_v: float) -> Iterator[tuple[Load, float | None]]:
    """
    Yield the loads of buses below a jump-start voltage that do not state that they bear it, with what they state.

    Parameters
    ----------
    design : Design
        The build.
    jump_v : float
        Voltage of the vehicle or the charger that helps, 1 to 60. [V]
    """
    nominal_v = {node.key: node.nominal_v for node in design.nodes}
    bus_v = {circuit.number: nominal_v.get(circuit.panel, 0.0) for circuit in design.circuits}
    for load in design.loads:
        if bus_v.get(load.circuit, 0.0) < jump_v - _SAME and (load.jump_v is None or load.jump_v < jump_v - _SAME):
            yield load, load.jump_v


def harmed_by_reversal(design: Design) -> tuple[Load, ...]:
    """Return the loads whose data sheet says that a battery connected the wrong way round harms them."""
    return tuple(load for load in design.loads if load.reversed_battery is ReversedBattery.HARMED)
