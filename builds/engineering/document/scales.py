"""
How exactly each figure and text of a build is kept: the one table that documents and database columns share.

A document with more decimals than its column keeps would not come back as it was sent, so the reader refuses it at its
pointer and the column is made from the same numbers. Fields of one name have one scale, whatever they belong to.
"""

from typing import NamedTuple

__all__ = ["KEY_LENGTH", "SCALES", "TEXT_LENGTHS", "Scale", "text_length"]


class Scale(NamedTuple):
    """Digits in all and digits after the point, as in ``numeric(digits, decimals)``."""

    digits: int
    decimals: int


_LENGTH = Scale(8, 3)
_AREA = Scale(8, 3)
_RESISTANCE = Scale(10, 4)
_CURRENT = Scale(8, 3)
_SMALL_CURRENT = Scale(8, 4)  # asleep, a module takes tenths of a milliampere
_VOLTAGE = Scale(6, 3)
_RATIO = Scale(6, 4)
_HOURS = Scale(8, 3)
_MINUTES = Scale(6, 1)
_TEMPERATURE = Scale(5, 1)
_MILLIMETRES = Scale(8, 1)
_MASS = Scale(9, 3)
_MONEY_PER_UNIT = Scale(14, 4)  # wire is priced by the metre

SCALES: dict[str, Scale] = {
    "value": Scale(12, 4),  # of a buyer's rule, whatever its unit
    "limit_ratio": _RATIO,
    "base_v": _VOLTAGE,
    "conductor_temp_c": _TEMPERATURE,
    "ambient_c": _TEMPERATURE,
    "x_mm": _MILLIMETRES,
    "y_mm": _MILLIMETRES,
    "max_load_kg": _MASS,
    "length_m": _LENGTH,
    "return_length_m": _LENGTH,
    "wheelbase_mm": _MILLIMETRES,
    "gvwr_kg": _MASS,
    "gawr_front_kg": _MASS,
    "gawr_rear_kg": _MASS,
    "curb_front_kg": _MASS,
    "curb_rear_kg": _MASS,
    "capacity_ah": Scale(8, 3),
    "rated_hours": _HOURS,
    "peukert_exponent": Scale(6, 4),
    "internal_mohm": _RESISTANCE,
    "open_circuit_v": _VOLTAGE,
    "usable_ratio": _RATIO,
    "reserve_min": _MINUTES,
    "rated_a": _CURRENT,
    "idle_ratio": _RATIO,
    "speed_ratio": _RATIO,
    "nominal_v": _VOLTAGE,
    "rating_a": _CURRENT,
    "resistance_mohm": _RESISTANCE,
    "area_mm2": _AREA,
    "insulation_c": _TEMPERATURE,
    "device_rating_a": _CURRENT,
    "device_distance_m": _LENGTH,
    "current_a": _CURRENT,
    "at_v": _VOLTAGE,
    "duty_ratio": _RATIO,
    "inrush_a": _CURRENT,
    "min_v": _VOLTAGE,
    "key_off_a": _SMALL_CURRENT,
    "source_low_v": _VOLTAGE,
    "source_high_v": _VOLTAGE,
    "min_hours": _HOURS,
    "standard_h": _HOURS,
    "quantity": Scale(12, 3),  # of a part; a load's and an operation's are whole numbers
    "unit_cost": _MONEY_PER_UNIT,
    "unit_price": _MONEY_PER_UNIT,
    "mass_kg": _MASS,
}

KEY_LENGTH = 40  # the addresses that :func:`builds.engineering.ranges.check_key` allows

_ORDINARY_TEXT = 200

TEXT_LENGTHS: dict[str, int] = {
    "number": KEY_LENGTH,
    "key": KEY_LENGTH,
    "zone": KEY_LENGTH,
    "from_zone": KEY_LENGTH,
    "to_zone": KEY_LENGTH,
    "zones": KEY_LENGTH,
    "chassis": KEY_LENGTH,
    "from_node": KEY_LENGTH,
    "to_node": KEY_LENGTH,
    "panel": KEY_LENGTH,
    "return_node": KEY_LENGTH,
    "circuit": KEY_LENGTH,
    "load": KEY_LENGTH,
    "after": KEY_LENGTH,
    "drop_class": KEY_LENGTH,
    "wire_colour_scheme": KEY_LENGTH,
    "device_family": KEY_LENGTH,
    "unit_number": KEY_LENGTH,
    "vin": 17,
    "gauge": 8,
    "colour": 12,
    "hinge": 20,
    "unit": 20,
    "legend": 60,
    "skill": 60,
    "part_number": 60,
    "purchase_order": 60,
    "source": 300,
    "guide": 300,
}


def text_length(field: str) -> int:
    """Return how many characters the text field of this name keeps."""
    return TEXT_LENGTHS.get(field, _ORDINARY_TEXT)
