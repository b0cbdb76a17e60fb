"""Batteries and loads that the energy tests share; everything invented."""

from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.laws import LawsOf, LoadLaw
from builds.engineering.electrical.energy.posts import Supply
from builds.engineering.electrical.energy.stages import Plan, Post, Stage

__all__ = ["always", "bank", "charged", "one_stage"]


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


def charged(segment: str, duration_s: float, held_v: float, limit_a: float) -> Stage:
    """A stage in which a source charges the first battery."""
    return Stage(segment=segment, duration_s=duration_s, posts=(Post(banks=(0,), supplies=(Supply(held_v, limit_a),)),))
