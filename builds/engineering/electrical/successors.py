"""Which families stand in for another: data (``device_successors``), common practice."""

from functools import cache

from builds.engineering.electrical.protection import DeviceFamily, device_family
from builds.engineering.tables.loader import load_table

__all__ = ["next_families"]


@cache
def next_families(key: str) -> tuple[DeviceFamily, ...]:
    """
    Return the families to try in place of another, the nearest first; none for one that no row names.

    Examples
    --------
    >>> next_families("MINI")[0].key
    'ATO'
    """
    rows = [row for row in load_table("device_successors").rows if row["family"].casefold() == key.casefold()]
    return tuple(device_family(row["next"]) for row in sorted(rows, key=lambda row: int(row["order"])))
