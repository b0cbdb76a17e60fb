"""Findings about the whole build: standing with the key off, weight, the VIN, the order of the work."""

from collections.abc import Iterator

from builds.engineering.assessing.findings_weight import weight_findings
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.words import days, listing, milliamperes
from builds.engineering.assessment import EnergyResult, WeightResult
from builds.engineering.catalogue import found
from builds.engineering.findings import Finding, Number
from builds.engineering.operation_order import waiting_rings
from builds.engineering.units import kilograms_kg
from builds.engineering.vin import read_vin, years_named

__all__ = ["total_findings"]

_SAME = 1e-9
_LIGHT_VEHICLE_KG = kilograms_kg(10_000)  # 49 CFR 571.110 holds for 10,000 lb GVWR and under


def total_findings(index: IndexedDesign, energy: EnergyResult, weight: WeightResult) -> Iterator[Finding]:
    """Yield the findings about figures of the whole build."""
    yield from _standing(index, energy)
    yield from weight_findings(index, weight)
    yield from _vin(index)
    yield from _work(index)


def _standing(index: IndexedDesign, energy: EnergyResult) -> Iterator[Finding]:
    if energy.key_off_ma > energy.key_off_limit_ma * (1 + _SAME):
        yield found(
            "key-off-over-limit", "build",
            numbers=(Number(name="draw", value=energy.key_off_ma, unit="mA"), Number(name="limit", value=energy.key_off_limit_ma, unit="mA")),
            draw=milliamperes(energy.key_off_ma), limit=milliamperes(energy.key_off_limit_ma),
        )  # fmt: skip
    limit_d = index.numbers["key-off-days"]
    if energy.key_off_days is not None and energy.key_off_days < limit_d * (1 - _SAME):
        yield found(
            "key-off-days-few", "build",
            numbers=(Number(name="days", value=energy.key_off_days, unit="d"), Number(name="limit", value=limit_d, unit="d")),
            days=days(energy.key_off_days), limit=days(limit_d),
        )  # fmt: skip


def _vin(index: IndexedDesign) -> Iterator[Finding]:
    """A number whose check does not apply has its reason written down beside it."""
    vehicle = index.design.vehicle
    if not vehicle.vin.strip():
        yield found("vin-missing", "build")
        return
    reading = read_vin(vehicle.vin, heavy=index.design.platform.gvwr_kg > _LIGHT_VEHICLE_KG)
    if not reading.fits and not vehicle.vin_exception.strip():
        yield found(
            "vin-check-digit", "build", vin=reading.vin, fault=reading.messages[0].text.split(". ")[0].rstrip(".")
        )
    if reading.fits and reading.model_years:
        yield from _model_year(index, reading.model_years)


def _model_year(index: IndexedDesign, of_vin: tuple[int, ...]) -> Iterator[Finding]:
    """A number tells one year, or two that lie thirty apart; the platform's years stand in its name and version."""
    platform, written = index.design.platform, index.design.vehicle.model_year
    for_years = years_named(f"{platform.name} {platform.version}")
    if for_years and not set(of_vin) & set(for_years):
        other = f"the platform is for {listing(tuple(map(str, for_years)))}"
    elif written is not None and written not in of_vin:
        other = f"{written} is written down"
    else:
        return
    yield found("model-year-differs", "build", years=" or ".join(map(str, of_vin)), other=other)


def _work(index: IndexedDesign) -> Iterator[Finding]:
    for ring in waiting_rings(index.design.operations):
        yield found("operations-cycle", f"operation:{ring[0]}", operations=listing(ring))
