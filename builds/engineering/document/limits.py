"""
Least and most of every number in a build document.

Where a dataclass of the design states a range, this is that range; where it leaves one end open, the end here is one
that the column can keep and no vehicle reaches. A test holds the table to the dataclasses.
"""

from typing import NamedTuple

__all__ = ["Limits", "limits_of"]


class Limits(NamedTuple):
    """The range of a number; ``above_least`` when the least itself is outside."""

    least: float
    most: float
    above_least: bool = False


_COUNT = Limits(1, 10_000)
_RATIO = Limits(0, 1, above_least=True)
_VOLTS = Limits(1, 60)
_LENGTH = Limits(0, 100)
_MASS = Limits(1, 100_000)
_PLACE = Limits(-30_000, 30_000)

_BY_NAME: dict[str, Limits] = {
    "acceptance_per_h": Limits(0.01, 20),
    "allowance_a": Limits(0, 5000),
    "ambient_c": Limits(-40, 200),
    "at_v": _VOLTS,
    "base_v": _VOLTS,
    "battery_c": Limits(-40, 80),
    "bundle": _COUNT,
    "capacity_ah": Limits(1, 5000),
    "columns": _COUNT,
    "conductor_temp_c": Limits(-40, 150),
    "crank_a": Limits(0.1, 5000),
    "crank_cable_mohm": Limits(0, 1000),
    "crank_least_v": Limits(0.1, 60),
    "crank_s": Limits(0.1, 60),
    "crew": _COUNT,
    "curb_front_kg": _MASS,
    "curb_left_kg": _MASS,
    "curb_rear_kg": _MASS,
    "current_a": Limits(0, 2000),
    "cut_off_v": _VOLTS,
    "device_distance_m": _LENGTH,
    "duration_min": Limits(0.01, 100_000),
    "duty_ratio": _RATIO,
    "efficiency_ratio": _RATIO,
    "engine_rpm": _COUNT,
    "forward_v": Limits(0, 3),
    "fuel_kg": Limits(0, 5000),
    "fuel_x_mm": _PLACE,
    "gawr_front_kg": _MASS,
    "gawr_rear_kg": _MASS,
    "group_allowance_a": Limits(0, 5000),
    "gvwr_kg": _MASS,
    "high_v": _VOLTS,
    "idle_ratio": _RATIO,
    "idle_w": Limits(0, 10_000),
    "inrush_a": Limits(0, 10_000),
    "insulation_c": Limits(40, 300),
    "internal_mohm": Limits(0.1, 1000),
    "key_off_a": Limits(0, 100),
    "jump_v": _VOLTS,
    "least_charge_c": Limits(-40, 80),
    "length_m": _LENGTH,
    "limit_a": Limits(0, 5000),
    "limit_ratio": Limits(0.0001, 1),
    "low_v": _VOLTS,
    "mass_kg": Limits(0, 20_000),
    "max_load_kg": Limits(0, 100_000),
    "max_v": _VOLTS,
    "min_hours": Limits(0, 10_000),
    "min_v": Limits(0, 60),
    "model_year": Limits(1900, 2100),
    "nominal_v": _VOLTS,
    "open_circuit_v": _VOLTS,
    "output_a": Limits(0, 5000),
    "output_v": _VOLTS,
    "parallel": _COUNT,
    "peak_allowance_a": Limits(0, 5000),
    "peukert_exponent": Limits(1, 1.6),
    "position": _COUNT,
    "positions": _COUNT,
    "pulley_ratio": Limits(0.5, 10),
    "quantity": _COUNT,
    "rated_a": Limits(1, 2000),
    "rated_hours": Limits(1, 100),
    "rating_a": Limits(0.1, 5000),
    "reserve_min": Limits(0, 10_000),
    "resistance_mohm": Limits(0, 10_000),
    "return_length_m": _LENGTH,
    "schema": _COUNT,
    "seats": _COUNT,
    "self_discharge_per_day_ratio": Limits(0, 0.1),
    "source_high_v": _VOLTS,
    "source_low_v": _VOLTS,
    "speed_ratio": _RATIO,
    "speed_rpm": Limits(0, 30_000),
    "standard_h": Limits(0, 1000),
    "track_mm": Limits(500, 5000),
    "unit_cost": Limits(0, 10_000_000),
    "unit_price": Limits(0, 10_000_000),
    "usable_ratio": _RATIO,
    "value": Limits(0, 10_000_000),
    "wheelbase_mm": Limits(1, 30_000),
    "x_mm": _PLACE,
    "y_mm": _PLACE,
    "engine_stops": Limits(0, 1000),
    "off_below_v": _VOLTS,
    "off_delay_s": Limits(0, 86_400),
    "on_above_v": _VOLTS,
    "on_delay_s": Limits(0, 86_400),
    "reserve_test_min": Limits(0.1, 10_000),
    "run_on_min": Limits(0, 10_000),
    "start_ratio": Limits(0.01, 1),
    "stop_s": Limits(1, 3600),
}

_BY_OWNER: dict[str, Limits] = {
    "Circuit.device_rating_a": Limits(0.1, 1000),
    "Run.device_rating_a": Limits(0.1, 5000),
    "AccessPoint.device_rating_a": Limits(0.1, 5000),
    "PartsBillLine.quantity": Limits(0.001, 100_000),
}


def limits_of(owner: str, field: str) -> Limits:
    """Return the range of a numeric field of a dataclass of the design."""
    return _BY_OWNER.get(f"{owner}.{field}") or _BY_NAME[field]
