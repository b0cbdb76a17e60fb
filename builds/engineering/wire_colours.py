"""Letter codes of wire colours: IEC 60757, two letters, a stripe after a stroke ("WH/RD")."""

__all__ = ["WIRE_COLOURS", "is_wire_colour"]

WIRE_COLOURS: dict[str, str] = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "TQ": "turquoise",
}


def is_wire_colour(code: str) -> bool:
    """
    Tell whether ``code`` is one colour, or a base with one stripe.

    Examples
    --------
    >>> is_wire_colour("WH/RD"), is_wire_colour("bn"), is_wire_colour("XX"), is_wire_colour("WH/RD/BK")
    (True, True, False, False)
    """
    letters = [part.strip().upper() for part in code.split("/")]
    return len(letters) <= 2 and all(part in WIRE_COLOURS for part in letters)
