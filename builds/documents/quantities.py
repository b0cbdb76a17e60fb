"""Figures as a packet prints them: in the units of the build, the money of the shop and the shop's own time."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from builds.drawings.measures import gauge_words, length_words
from builds.engineering.design import Conventions
from builds.engineering.units import KG_PER_LB
from builds.engineering.vocabulary import UnitSystem

__all__ = ["Quantities"]

_KM_PER_MI = 1.609344  # exact, international mile
_MM_PER_IN = 25.4  # exact
_DAYS_FROM_H = 96
_SIGNS = {"USD": "$", "CAD": "$", "AUD": "$", "EUR": "€", "GBP": "£"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantities:
    """How one packet writes its figures."""

    conventions: Conventions
    time_zone: str
    currency: str

    @property
    def metric(self) -> bool:
        """Whether lengths and masses are printed metric."""
        return self.conventions.units is UnitSystem.METRIC

    def length(self, length_m: float) -> str:
        """Feet or metres, with the unit."""
        return length_words(length_m, self.conventions)

    def length_figure(self, length_m: float) -> str:
        """Feet or metres, the figure alone: its unit stands in the head of the column."""
        return self.length(length_m).rsplit(" ", 1)[0]

    @property
    def length_unit(self) -> str:
        """The unit of :meth:`length_figure`."""
        return "m" if self.metric else "ft"

    def spacing(self, length_mm: float) -> str:
        """Short lengths: inches or millimetres."""
        return f"{length_mm:.0f} mm" if self.metric else f"{length_mm / _MM_PER_IN:.0f} in"

    def diameter(self, diameter_mm: Decimal) -> str:
        """A hole: millimetres, or inches with the millimetres after them."""
        if self.metric:
            return f"{float(diameter_mm):g} mm"
        return f"{float(diameter_mm) / _MM_PER_IN:.2f} in ({float(diameter_mm):g} mm)"

    def mass(self, mass_kg: float) -> str:
        """Whole pounds or kilograms."""
        return f"{mass_kg:,.0f} kg" if self.metric else f"{mass_kg / KG_PER_LB:,.0f} lb"

    def light_mass(self, mass_kg: float) -> str:
        """Pounds or kilograms to a tenth, for single parts."""
        return f"{mass_kg:,.1f} kg" if self.metric else f"{mass_kg / KG_PER_LB:,.1f} lb"

    def distance(self, distance_km: Decimal) -> str:
        """Miles or kilometres, whole."""
        return f"{distance_km:,.0f} km" if self.metric else f"{float(distance_km) / _KM_PER_MI:,.0f} mi"

    def gauge(self, gauge: str, *, parallel: int = 1) -> str:
        """A gauge with its unit."""
        return gauge_words(gauge, self.conventions, parallel=parallel)

    def amperes(self, current_a: float) -> str:
        """Hundredths of an ampere below 1 A, tenths below 100 A, whole above; without the unit."""
        if 0 < abs(current_a) < 1:
            return f"{current_a:.2f}"
        return f"{current_a:,.0f}" if abs(current_a) >= 100 else f"{current_a:.1f}"

    def percent(self, ratio: float) -> str:
        """Tenths of a percent, without the sign."""
        return f"{100 * ratio:.1f}"

    def battery_time(self, duration_h: float) -> str:
        """Hours to a tenth; whole days from four days on."""
        return f"{duration_h / 24:,.0f} days" if duration_h >= _DAYS_FROM_H else f"{duration_h:.1f} h"

    def reading(self, figure: Decimal, unit: str, decimals: int) -> str:
        """A reading as its instrument showed it; a mass, kept in kilograms, in the units of the build."""
        if unit == "kg" and not self.metric:
            return f"{float(figure) / KG_PER_LB:,.0f}"
        return f"{figure:.{decimals}f}"

    def reading_unit(self, unit: str) -> str:
        """The unit that :meth:`reading` is written in."""
        return "lb" if unit == "kg" and not self.metric else unit

    def money(self, amount: Decimal) -> str:
        """Money with its sign, or its code where no sign is known."""
        sign = _SIGNS.get(self.currency)
        return f"{sign}{amount:,.2f}" if sign else f"{amount:,.2f} {self.currency}"

    def local(self, at: datetime) -> datetime:
        """A moment in the shop's time."""
        return at.astimezone(ZoneInfo(self.time_zone))

    def day(self, at: datetime | date) -> str:
        """The day, as "10 Dec 2026"."""
        when = self.local(at) if isinstance(at, datetime) else at
        return f"{when.day} {when:%b %Y}"

    def weekday(self, at: datetime | date) -> str:
        """The day with its name, as "Fri 18 Dec 2026"."""
        when = self.local(at) if isinstance(at, datetime) else at
        return f"{when:%a} {when.day} {when:%b %Y}"

    def moment(self, at: datetime) -> str:
        """Day and time, as "10 Dec 2026, 14:05"."""
        return f"{self.day(at)}, {self.local(at):%H:%M}"
