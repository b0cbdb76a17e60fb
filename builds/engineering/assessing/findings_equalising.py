"""Findings about the current between two batteries at the moment the switch between them closes."""

from collections.abc import Iterator

from builds.engineering.assessing.equalising import Equalising, equalisings
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.words import amperes, of_condition, of_node, of_run, percent
from builds.engineering.catalogue import found
from builds.engineering.electrical.battery import source_default
from builds.engineering.electrical.coordination import opening_time
from builds.engineering.electrical.protection import device_families
from builds.engineering.findings import Finding, Number

__all__ = ["equalising_findings"]

_SAME = 1e-9


def equalising_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield, of each battery that hangs on another, the switches and devices that its charging from empty is too much for."""
    for one in equalisings(index, network):
        for node in one.switches:
            if node.rating_a is not None and one.current_a > node.rating_a * (1 + _SAME):
                yield _found("equalising-over-switch", f"node:{node.key}", one, of_node(node), node.rating_a)
        for run in one.runs:
            if run.device_rating_a and _opens(run.device_family, run.device_rating_a, one.current_a):
                yield _found("equalising-opens-device", f"run:{run.key}", one, of_run(run), run.device_rating_a)


def _found(id_: str, subject: str, one: Equalising, part: str, rating_a: float) -> Finding:
    numbers = (Number(name="current", value=one.current_a, unit="A"), Number(name="rating", value=rating_a, unit="A"))
    return found(
        id_, subject, numbers=numbers, part=part, rating=amperes(rating_a), full=of_node(one.full), empty=of_node(one.empty),
        current=amperes(one.current_a), condition=of_condition(one.condition), left=percent(_left(one)),
    )  # fmt: skip


def _left(one: Equalising) -> float:
    assert one.empty.battery is not None
    return 1.0 - one.empty.battery.usable_ratio


def _opens(family: str, rating_a: float, current_a: float) -> bool:
    """Whether a device may open within the minutes that the current takes to fall; not said of one in no table."""
    if all(known.key != family for known in device_families()):
        return False
    time = opening_time(family=family, rating_a=rating_a, current_a=current_a)
    return time is not None and time.least_s < 60.0 * source_default("equalising_min")
