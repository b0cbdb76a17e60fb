"""The end of each run that is nearer to what feeds it, whichever way the run is drawn."""

from heapq import heappop, heappush

from builds.engineering.design import Design
from builds.engineering.run_steps import run_steps
from builds.engineering.vocabulary import RunSide

__all__ = ["battery_ends"]

_NOWHERE = (2**31, 0)


def battery_ends(design: Design) -> dict[str, str]:
    """
    Return the battery end of every run, by key: the node that fewer supply runs lead to from a battery.

    A device is counted from there. What a converter feeds is farther than all that a battery feeds, since nothing comes back
    through a converter. Where both ends are equally far, or nothing feeds either, it is the node that the run starts at.
    """
    away = _away(design)
    return {
        run.key: run.to_node if away.get(run.to_node, _NOWHERE) < away.get(run.from_node, _NOWHERE) else run.from_node
        for run in design.runs
    }


def _away(design: Design) -> dict[str, tuple[int, int]]:
    """How far nodes are from what feeds them: converters passed, then runs."""
    steps = run_steps(design, RunSide.SUPPLY)
    converters = {node.key for node in design.nodes if node.converter is not None}
    waiting = [((0, 0), node.key) for node in design.nodes if node.battery is not None]
    waiting += [((1, 0), key) for key in converters]  # those that no battery reaches
    waiting.sort()
    away: dict[str, tuple[int, int]] = {}
    while waiting:
        (passed, runs), here = heappop(waiting)
        if here in away:
            continue
        away[here] = (passed, runs)
        further = (passed + (here in converters), runs + 1)
        for there in steps.get(here, ()):
            if there not in away:
                heappush(waiting, (further, there))
    return away
