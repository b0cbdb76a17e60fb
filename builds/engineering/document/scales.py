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
_VOLTAGE = Scale(7, 3)
_RATIO = Scale(6, 4)
_HOURS = Scale(8, 3)
_MINUTES = Scale(7, 1)
_SECONDS = Scale(8, 2)
_STRETCH = Scale(9, 2)
_TEMPERATURE = Scale(5, 1)
_MILLIMETRES = Scale(8, 1)
_MASS = Scale(9, 3)
_POWER = Scale(8, 2)
_SPEED = Scale(6, 1)
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
    "acceptance_per_h": _RATIO,
    "least_charge_c": _TEMPERATURE,
    "cut_off_v": _VOLTAGE,
    "self_discharge_per_day_ratio": _RATIO,
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
    "key_off_a": _CURRENT,
    "source_low_v": _VOLTAGE,
    "source_high_v": _VOLTAGE,
    "min_hours": _HOURS,
    "standard_h": _HOURS,
    "quantity": Scale(10, 3),  # of a part; a load's and an operation's are whole numbers
    "unit_cost": _MONEY_PER_UNIT,
    "unit_price": _MONEY_PER_UNIT,
    "mass_kg": _MASS,
    "low_v": _VOLTAGE,
    "high_v": _VOLTAGE,
    "max_v": _VOLTAGE,
    "output_v": _VOLTAGE,
    "limit_a": _CURRENT,
    "output_a": _CURRENT,
    "allowance_a": _CURRENT,
    "group_allowance_a": _CURRENT,
    "peak_allowance_a": _CURRENT,
    "forward_v": _VOLTAGE,
    "efficiency_ratio": _RATIO,
    "idle_w": _POWER,
    "pulley_ratio": _RATIO,
    "speed_rpm": _SPEED,
    "track_mm": _MILLIMETRES,
    "curb_left_kg": _MASS,
    "fuel_kg": _MASS,
    "fuel_x_mm": _MILLIMETRES,
    "run_on_min": _STRETCH,
    "reserve_test_min": _MINUTES,
    "start_ratio": _RATIO,
    "battery_c": _TEMPERATURE,
    "crank_a": _CURRENT,
    "crank_s": _SECONDS,
    "crank_least_v": _VOLTAGE,
    "crank_cable_mohm": _RESISTANCE,
    "duration_min": _STRETCH,
    "stop_s": _SECONDS,
    "jump_v": _VOLTAGE,
    "off_below_v": _VOLTAGE,
    "on_above_v": _VOLTAGE,
    "off_delay_s": _SECONDS,
    "on_delay_s": _SECONDS,
}

KEY_LENGTH = 40  # the addresses that :func:`builds.engineering.ranges.check_key` allows

TEXT_LENGTHS: dict[str, int] = {
    "access_point": KEY_LENGTH,
    "after": KEY_LENGTH,
    "battery": KEY_LENGTH,
    "bundle_name": KEY_LENGTH,
    "chassis": KEY_LENGTH,
    "circuit": KEY_LENGTH,
    "closed_nodes": KEY_LENGTH,
    "colour": 10,
    "condition": KEY_LENGTH,
    "conditions": KEY_LENGTH,
    "customer": 120,
    "description": 160,
    "device_family": 20,
    "drop_class": KEY_LENGTH,
    "from_node": KEY_LENGTH,
    "from_zone": KEY_LENGTH,
    "function": 120,
    "gauge": 10,
    "function_schedule": 200_000,
    "group": KEY_LENGTH,
    "guide": 200,
    "hinge": 20,
    "input": KEY_LENGTH,
    "installed_by": KEY_LENGTH,
    "jump_order": 200,
    "jump_posts": 200,
    "key": KEY_LENGTH,
    "legend": 60,
    "load": KEY_LENGTH,
    "name": 80,
    "node": KEY_LENGTH,
    "number": KEY_LENGTH,
    "open_nodes": KEY_LENGTH,
    "panel": KEY_LENGTH,
    "part_number": 60,
    "profile": 120,
    "purchase_order": 60,
    "return_node": KEY_LENGTH,
    "shed_step": KEY_LENGTH,
    "skill": 40,
    "source": 200,
    "title": 160,
    "to_node": KEY_LENGTH,
    "to_zone": KEY_LENGTH,
    "unit": 20,
    "unit_number": 40,
    "value": 120,
    "version": 60,
    "vin": 17,
    "vin_exception": 200,
    "wire_colour_scheme": 40,
    "zone": KEY_LENGTH,
    "zones": KEY_LENGTH,
    "AccessPoint.source": KEY_LENGTH,
    "Design.number": 12,
    "DutySegment.profile": KEY_LENGTH,
    "InputSetting.value": KEY_LENGTH,
    "Operation.name": 120,
    "Platform.name": 120,
}


def text_length(owner: str, field: str) -> int:
    """Return how many characters a text field of a dataclass of the design keeps."""
    return TEXT_LENGTHS.get(f"{owner}.{field}") or TEXT_LENGTHS[field]
