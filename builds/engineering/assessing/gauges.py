"""Gauges by name, as designs and rules write them: a name that no table has is no error here."""

from functools import lru_cache

from builds.engineering.electrical.conductors import ConductorSize, area_mm2, resistance_ohm_per_m
from builds.engineering.errors import EngineeringError
from builds.engineering.vocabulary import GaugeBasis

__all__ = ["gauge_area_mm2", "gauge_ohm_per_m"]


@lru_cache(maxsize=1024)
def gauge_ohm_per_m(basis: GaugeBasis, gauge: str) -> float | None:
    """Resistance at 20 °C; None where the basis has no such gauge."""
    try:
        return resistance_ohm_per_m(size=ConductorSize(basis, gauge))
    except EngineeringError:
        return None


@lru_cache(maxsize=1024)
def gauge_area_mm2(basis: GaugeBasis, gauge: str) -> float:
    """
    Return the area of a gauge that a rule names: of the build's own basis, else of the SAE table; 0 where neither has it.

    A shop's smallest conductor is written "18" whatever the basis of a build is.
    """
    for table in (basis, GaugeBasis.SAE):
        if gauge_ohm_per_m(table, gauge) is not None:
            return area_mm2(ConductorSize(table, gauge))
    return 0.0
