"""Which steps of a checklist may never be left open when a vehicle goes, whoever is told of it."""

import re
from collections.abc import Iterable

__all__ = ["why_never_open"]

_NEAR_LIMIT_RATIO = 0.95  # under 5 % left counts as near, as on the bars of the sheet
_IN_WORDS = (
    (re.compile(r"\b(stop|brake)[ -]?(lamp|light)s?\b", re.IGNORECASE), "stop lamps"),
    (re.compile(r"\bair ?bags?\b", re.IGNORECASE), "an airbag zone"),
)


def why_never_open(key: str, *, words: Iterable[str], of_limit_ratio: float | None = None) -> str:
    """
    Return what a step is about that may never be left open, in words; empty where it may.

    Parameters
    ----------
    key : str
        The step's key as :func:`derive_steps` makes it: "seal", "device/P1", "weigh/rear".
    words : iterable of str
        Its title, why and instructions: stop lamps and airbag zones are known by being named there.
    of_limit_ratio : float, optional
        What was calculated for its reading over the reading's limit; None where either is not known. [1]

    Returns
    -------
    str
        "stop lamps", "an airbag zone", "protection at the source", "a sealed penetration" or "a weight near its limit".
        Source: the shop's own rule; common practice of the trade.

    Examples
    --------
    >>> why_never_open("seal", words=()), why_never_open("legend/P1", words=("Read the legends",))
    ('a sealed penetration', '')
    """
    kind = key.partition("/")[0]
    if kind == "seal":
        return "a sealed penetration"
    if kind == "device":
        return "protection at the source"
    if kind == "weigh" and (of_limit_ratio is None or of_limit_ratio >= _NEAR_LIMIT_RATIO):
        return "a weight near its limit"
    text = " ".join(words)
    return next((said for pattern, said in _IN_WORDS if pattern.search(text)), "")
