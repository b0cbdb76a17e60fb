"""Which nodes the runs of one side join to which, whichever way they are drawn."""

from builds.engineering.design import Design
from builds.engineering.vocabulary import RunSide

__all__ = ["run_steps"]


def run_steps(design: Design, side: RunSide) -> dict[str, list[str]]:
    """Return, by node, the nodes at the other ends of its runs of a side, in the design's order."""
    steps: dict[str, list[str]] = {}
    for run in design.runs:
        if run.side is side:
            steps.setdefault(run.from_node, []).append(run.to_node)
            steps.setdefault(run.to_node, []).append(run.from_node)
    return steps
