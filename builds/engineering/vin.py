"""
The vehicle identification number: its check digit, its model year, and what to say where one does not fit.

The check digit catches ten in eleven random errors and every exchange of two *different-valued* characters; an exchange
of characters of equal value (B, K, S and 2 all count 2) it never sees. Numbers from outside North
America need not have one (ISO 3779), so a number that does not fit is a caution that a person may accept with a reason.
"""

import re
from dataclasses import dataclass
from functools import cache

from builds.engineering.errors import OutOfRange
from builds.engineering.tables.loader import load_table

__all__ = ["VinMessage", "VinReading", "check_digit", "model_years", "read_vin", "years_named"]

_YEARS_NAMED = re.compile(
    r"(?<![\d.])(19[89]\d|20[0-3]\d)(?:\s*(?:-|–|to|/)\s*(19[89]\d|20[0-3]\d|\d\d))?(?![\d.]\d|\d)"
)
_LONGEST_SPAN = 30  # years
LENGTH = 17
CHECK_POSITION = 9
CYCLE_POSITION = 7
YEAR_POSITION = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class VinMessage:
    """Something to say of a number; ``code`` is stable, ``text`` is for the screen."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VinReading:
    """
    A number as read: capital letters, no spaces.

    ``computed`` is the check digit its other characters give, empty where they cannot. ``model_years`` has one year, or
    two where the cycle cannot be told, or none.
    """

    vin: str
    computed: str
    fits: bool
    model_years: tuple[int, ...]
    messages: tuple[VinMessage, ...]


@cache
def _values() -> dict[str, int]:
    letters = {row["character"]: int(row["value"]) for row in load_table("vin_values").rows}
    return letters | {str(digit): digit for digit in range(10)}


@cache
def _weights() -> tuple[int, ...]:
    rows = sorted(load_table("vin_weights").rows, key=lambda row: int(row["position"]))
    return tuple(int(row["weight"]) for row in rows)


@cache
def _years() -> dict[str, tuple[int, int]]:
    rows = load_table("vin_model_years").rows
    return {row["code"]: (int(row["first_cycle"]), int(row["second_cycle"])) for row in rows}


def check_digit(vin: str) -> str:
    """
    Return the check digit that the other sixteen characters give.

    Parameters
    ----------
    vin : str
        Seventeen capital letters and digits without I, O and Q; what stands in position 9 does not matter.

    Returns
    -------
    str
        A digit, or X for ten: the remainder by 11 of the sum of value x weight.

    Raises
    ------
    OutOfRange
        If the number has another length or another character.

    Examples
    --------
    >>> check_digit("1G4AH59H45G118341"), check_digit("1M8GDM9AXKP042788")
    ('4', 'X')

    References
    ----------
    .. [1] 49 CFR 565.15(c).
    """
    values = _values()
    if len(vin) != LENGTH or any(character not in values for character in vin):
        raise OutOfRange("vin", vin, "17 capital letters and digits without I, O and Q")
    remainder = sum(values[character] * weight for character, weight in zip(vin, _weights(), strict=True)) % 11
    return "X" if remainder == 10 else str(remainder)


def model_years(vin: str, *, heavy: bool = False) -> tuple[int, ...]:
    """
    Return the model years that a number can stand for.

    Parameters
    ----------
    vin : str
        Seventeen capital letters and digits.
    heavy : bool, default False
        A truck over 10,000 lb (4,536 kg) or a trailer, where position 7 does not tell the cycle.

    Returns
    -------
    tuple of int
        One year for lighter vehicles (a digit in position 7 is 1980 to 2009, a letter 2010 to 2039), both for heavy ones,
        none where position 10 is no year code.

    Raises
    ------
    OutOfRange
        If the number is shorter than ten characters.

    Examples
    --------
    >>> model_years("1G4AH59H45G118341"), model_years("1G4AH5AH45G118341")
    ((2005,), (2035,))
    """
    if len(vin) < YEAR_POSITION:
        raise OutOfRange("vin", vin, "at least 10 characters")
    years = _years().get(vin[YEAR_POSITION - 1])
    if years is None:
        return ()
    if heavy:
        return years
    return (years[0],) if vin[CYCLE_POSITION - 1].isdigit() else (years[1],)


def years_named(text: str) -> tuple[int, ...]:
    """
    Return the model years that stand in words about a vehicle, smallest first, a span with all between its ends.

    Parameters
    ----------
    text : str
        Name and version of a platform; years from 1980 to 2039 are seen.

    Returns
    -------
    tuple of int
        Empty where the words name no year.

    Examples
    --------
    >>> years_named("Panel van 2026, long wheelbase, 4.2 t"), years_named("2024-2026"), years_named("2023 to 24")
    ((2026,), (2024, 2025, 2026), (2023, 2024))
    """
    years: set[int] = set()
    for first, last in _YEARS_NAMED.findall(text):
        ends = int(first), int(f"{first[:2]}{last}" if len(last) == 2 else last or first)
        years |= set(range(min(ends), min(max(ends), min(ends) + _LONGEST_SPAN) + 1))
    return tuple(sorted(years))


def read_vin(text: str, *, heavy: bool = False) -> VinReading:
    """
    Return a number as read, whether its check digit fits, its model years, and what to say.

    Parameters
    ----------
    text : str
        As typed: spaces and small letters are put right.
    heavy : bool, default False
        See :func:`model_years`.

    Returns
    -------
    VinReading
        ``fits`` only for a whole number whose check digit agrees.
    """
    vin = "".join(text.split()).upper()
    messages = list(_character_messages(vin))
    if messages:
        return VinReading(vin=vin, computed="", fits=False, model_years=(), messages=tuple(messages))
    computed, found = check_digit(vin), vin[CHECK_POSITION - 1]
    years = model_years(vin, heavy=heavy)
    if computed != found:
        messages.append(
            VinMessage(
                code="vin-check-digit",
                text=f"Position 9 is {found}; the other characters give {computed}. Read the number again from the vehicle. "
                "If it is from outside North America, keep it and say why.",
            )
        )
    if not years:
        messages.append(
            VinMessage(
                code="vin-model-year", text=f"Position 10 is {vin[YEAR_POSITION - 1]}, which is no model-year code."
            )
        )
    return VinReading(vin=vin, computed=computed, fits=computed == found, model_years=years, messages=tuple(messages))


def _character_messages(vin: str) -> list[VinMessage]:
    messages = []
    if len(vin) != LENGTH:
        messages.append(VinMessage(code="vin-length", text=f"The number has {len(vin)} characters; a VIN has 17."))
    strange = sorted({character for character in vin if character not in _values()})
    if strange:
        text = f"A VIN has no {', '.join(strange)}. Letters I, O and Q are read for 1, 0 and 9 or the other way round."
        messages.append(VinMessage(code="vin-characters", text=text))
    return messages
