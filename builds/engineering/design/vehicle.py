"""The vehicle on which the build is made."""

from dataclasses import dataclass

__all__ = ["Vehicle"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """The vehicle on which the build is made; ``vin`` may be empty until it is known."""

    vin: str = ""
    vin_exception: str = ""
    unit_number: str = ""
    model_year: int | None = None
    sold_before: bool = False
