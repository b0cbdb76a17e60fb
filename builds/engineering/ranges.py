"""Range checks that a dataclass of the core makes on its own fields; each failure names the field and the range."""

import math
import re
from enum import StrEnum

from builds.engineering.errors import OutOfRange

__all__ = [
    "MAX_SYSTEM_V",
    "MOST_COUNTED",
    "check_at_least",
    "check_choice",
    "check_count",
    "check_key",
    "check_ratio",
    "check_within",
]

MAX_SYSTEM_V = 60.0  # the insulation families of road-vehicle cable end at 60 V DC (SAE J1128)
MOST_COUNTED = 10_000  # of whole numbers without a range of their own

_KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._/+-]{0,39}")


def check_within(name: str, value: float, least: float, most: float) -> None:
    """Raise :class:`OutOfRange` unless ``value`` is finite and from ``least`` to ``most``."""
    if not math.isfinite(value) or not least <= value <= most:
        raise OutOfRange(name, value, f"from {least:g} to {most:g}")


def check_at_least(name: str, value: float, least: float) -> None:
    """Raise :class:`OutOfRange` unless ``value`` is finite and at least ``least``."""
    if not math.isfinite(value) or value < least:
        raise OutOfRange(name, value, f"at least {least:g}")


def check_ratio(name: str, value: float) -> None:
    """Raise :class:`OutOfRange` unless ``value`` is above 0 and at most 1."""
    if not math.isfinite(value) or not 0 < value <= 1:
        raise OutOfRange(name, value, "above 0 and at most 1")


def check_count(name: str, value: int, *, least: int, most: int = MOST_COUNTED) -> None:
    """Raise :class:`OutOfRange` unless ``value`` is a whole number from ``least`` to ``most``."""
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise OutOfRange(name, value, f"a whole number from {least} to {most:,}")


def check_key(name: str, value: str) -> None:
    """Raise :class:`OutOfRange` unless ``value`` is an address of 1 to 40 plain characters."""
    if not _KEY.fullmatch(value):
        raise OutOfRange(name, value, "1 to 40 letters, digits, spaces and . _ / + -, not starting with a sign")


def check_choice(name: str, value: str, choices: type[StrEnum]) -> None:
    """Raise :class:`OutOfRange` unless ``value`` is one of ``choices``."""
    if value not in list(choices):
        raise OutOfRange(name, value, "one of " + ", ".join(choices))
