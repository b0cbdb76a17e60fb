"""Batteries and loads that the energy tests share; everything invented."""

from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.laws import LawsOf, LoadLaw
from builds.engineering.electrical.energy.stages import Plan, Stage

__all__ = ["always", "bank", "one_stage"]


def bank(key: str = "house", **more: float) -> Bank:
    """100 Ah at 20 h, 4 mΩ, 12.8 V at rest when full, half of it usable; no slow sag unless asked for."""
    figures: dict[str, float] = {
        "capacity_ah": 100.0,
        "rated_hours": 20.0,
        "peukert_exponent": 1.2,
        "internal_ohm": 0.004,
        "full_rest_v": 12.8,
        "usable_ratio": 0.5,
    }
    return Bank(key=key, **(figures | more))


def always(*laws: LoadLaw) -> LawsOf:
    """The same loads whatever is switched off."""
    return lambda stage, off: laws


def one_stage(hours: float, **more: object) -> Plan:
    """One battery through one stage."""
    return Plan(banks=(bank(**more),), stages=(Stage(segment="all", duration_s=3600 * hours),))  # type: ignore[arg-type]
