"""Lengths, gauges and currents as short words for drawings, in the units of the build."""

from builds.engineering.design import Conventions
from builds.engineering.units import KG_PER_LB, M_PER_FT
from builds.engineering.vocabulary import GaugeBasis, UnitSystem

__all__ = ["ampere_words", "conductor_class", "gauge_words", "length_words", "mass_words"]

FINE, MIDDLE, HEAVY = "fine", "middle", "heavy"


def length_words(length_m: float, conventions: Conventions) -> str:
    """Whole feet from ten on, tenths below; or tenths of a metre."""
    if conventions.units is UnitSystem.US:
        feet = length_m / M_PER_FT
        return f"{feet:.0f} ft" if feet >= 10 else f"{_short(feet)} ft"
    return f"{_short(length_m)} m"


def gauge_words(gauge: str, conventions: Conventions, *, parallel: int = 1) -> str:
    """The gauge with what it is counted in: "2/0 ga", "16 mm²", "2 × 2/0 ga"."""
    unit = "mm²" if conventions.gauge_basis is GaugeBasis.METRIC else "ga"
    return f"{parallel} × {gauge} {unit}" if parallel > 1 else f"{gauge} {unit}"


def mass_words(mass_kg: float, conventions: Conventions) -> str:
    """Whole pounds or kilograms."""
    if conventions.units is UnitSystem.US:
        return f"{mass_kg / KG_PER_LB:,.0f} lb"
    return f"{mass_kg:,.0f} kg"


def ampere_words(current_a: float) -> str:
    """Tenths below 100 A, whole amperes above."""
    return f"{current_a:.0f} A" if abs(current_a) >= 100 else f"{_short(current_a)} A"


def conductor_class(gauge: str, conventions: Conventions) -> str:
    """How heavy a line stands for the conductor: fine to 8 gauge, middle to 1, heavy from 1/0; metric at 10 and 50 mm²."""
    if conventions.gauge_basis is GaugeBasis.METRIC:
        area = float(gauge) if gauge.replace(".", "", 1).isdigit() else 0.0
        return FINE if area < 10 else MIDDLE if area < 50 else HEAVY
    if "/" in gauge:
        return HEAVY
    return FINE if not gauge.isdigit() or int(gauge) >= 8 else MIDDLE


def _short(value: float) -> str:
    text = f"{value:.1f}"
    return text.removesuffix(".0")
