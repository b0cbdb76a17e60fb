"""The circuits' currents that a figure is the sum of: the worst of each, or where lamps keep step those of one moment."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.states import State

__all__ = ["NAMES", "of_circuits_a", "through_elements_a"]

Floats = NDArray[np.float64]

NAMES = {"mean": "mean_a", "rms": "rms_a", "peak": "lit_a", "continuous": "sizing_a"}


def through_elements_a(state: State, use: str) -> Floats:
    """Return a use's current of every element in every condition, elements × conditions [A]."""
    if use == "peak":
        return state.peaks_a()
    if use == "continuous":
        return state.sizings_a(state.peaks_a())
    return state.through_a(getattr(state.worst, NAMES[use]))


def of_circuits_a(state: State, use: str, column: int, summed: Callable[[Floats], Floats]) -> tuple[Floats, str]:
    """
    Return the circuits' currents that make up a figure of one condition, and words for when they flow together.

    Parameters
    ----------
    state : State
        The state that holds the condition.
    use : str
        A key of ``NAMES``.
    column : int
        The condition's column in the state.
    summed : callable
        Makes the figure, one per column, of circuits × columns. [A]
    """
    worst = np.asarray(getattr(state.worst, NAMES[use])[:, column])
    if not state.moments.apart or use == "mean":
        return worst, ""
    moments = [side.at_moment.current_a[:, list(state.moments.columns_of(column))] for side in (state.low, state.high)]
    flowing = np.concatenate([*moments, state.worst.mean_a[:, [column]]], axis=1)
    figures = summed(flowing)
    at = int(figures.argmax())
    if use != "peak" and float(summed(worst[:, None])[0]) <= float(figures[at]):
        return worst, ""
    said = "what keeps step counts as it is lit at the moment that takes most"
    return flowing[:, at], said if use == "peak" else f"no heat is above the peak: {said}"
