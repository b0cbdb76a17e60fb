"""
Older forms of the document brought up to the present one in memory; what is stored never changes.

The present form is the first, so the table is empty. When form 2 comes, ``UPGRADES[1]`` is the function that takes the
raw ``build`` of form 1 and returns that of form 2, and the reader walks from step to step.
"""

from collections.abc import Callable
from typing import Any

__all__ = ["UPGRADES", "upgraded"]

UPGRADES: dict[int, Callable[[Any], Any]] = {}


def upgraded(values: dict[str, Any], *, present: int, upgrades: dict[int, Callable[[Any], Any]]) -> dict[str, Any]:
    """Return the document in the present form, or as it is where no chain of upgrades leads there."""
    number = values.get("schema")
    if not isinstance(number, int) or any(step not in upgrades for step in range(number, present)):
        return values
    build = values.get("build")
    for step in range(number, present):
        build = upgrades[step](build)
    return {**values, "schema": max(number, present), "build": build}
