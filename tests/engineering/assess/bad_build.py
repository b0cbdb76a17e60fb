"""
A deliberately bad build: many faults at once, each of which the assessment proposes a repair for.

Left out are plants whose finding has no repair of its own (a vehicle too heavy, a panel that nothing feeds), and a battery
joined past the isolator, whose repair asks for a second device that a run cannot hold.
"""

from collections.abc import Iterable
from functools import reduce

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Finding, Severity
from tests.engineering.assess import plants
from tests.engineering.assess.designs import SOUND

__all__ = ["REPAIRABLE", "bad_build", "blocking_of", "next_repair", "repaired"]

REPAIRABLE = (
    "wire too thin for its load",
    "device above its wire",
    "gauge that no table has",
    "run of a gauge that no table has",
    "run too thin for its own device",
    "run too thin for the device before it",
    "device below its load",
    "short at the far end that opens nothing",
    "drop over the limit",
    "radio drop over the radio makers' 0.2 V",
    "two circuits at one position",
    "position that the panel has not",
)

_PLANTS = {
    item.name: item
    for group in vars(plants).values()
    if isinstance(group, tuple | list)
    for item in group
    if isinstance(item, plants.Plant)
}


def bad_build(names: Iterable[str] = REPAIRABLE) -> Design:
    """Return the sound build with these faults planted in it."""
    return reduce(lambda design, name: _PLANTS[name].plant(design), names, SOUND)


def blocking_of(design: Design) -> list[Finding]:
    """Return the blocking findings in the order they are listed."""
    return [finding for finding in assess(design).findings if finding.severity is Severity.BLOCKING]


def next_repair(design: Design) -> tuple[Finding, Design] | None:
    """Return the first blocking finding with the design after its repair alone; ``None`` where nothing blocks."""
    blocking = blocking_of(design)
    if not blocking:
        return None
    finding = next(finding for finding in blocking if finding.fix is not None)
    assert finding.fix is not None
    return finding, apply_changes(design, finding.fix.changes)


def repaired(design: Design, *, most: int) -> list[Design]:
    """Return every design on the way, from the bad one to one without a blocking finding, or ``most`` repairs."""
    way = [design]
    while len(way) <= most and (repair := next_repair(way[-1])) is not None:
        way.append(repair[1])
    return way
