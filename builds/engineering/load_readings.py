"""
What a condition takes at the voltage at which somebody read its current.

A reading and a calculated figure are comparable at one voltage only: a lamp takes more at 14.2 V than at 12.8, a radio less.
"""

from builds.engineering.assessing.duty_laws import DutyLaws, Taking
from builds.engineering.assessing.duty_posts import held_v_of, posts_of
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.states import solve_states
from builds.engineering.design import Design
from builds.engineering.functions.coupling import coupled

__all__ = ["LEAST_READ_V", "calculated_at_a"]

LEAST_READ_V = 1.0  # a battery that reads less feeds nothing that could be compared


def calculated_at_a(design: Design, key: str, at_v: float) -> float | None:
    """
    Return the mean current of a condition's loads with their batteries' posts at a voltage.

    Parameters
    ----------
    design : Design
        A build.
    key : str
        Key of the condition.
    at_v : float
        Voltage read at the posts while the current was read. [V]

    Returns
    -------
    float or None
        Each load by its own model, the way between solved near that voltage [A]; None without such a condition, a battery or
        an operating point, and below 1 V.
    """
    index = index_design(coupled(design))
    if at_v < LEAST_READ_V or not index.batteries() or key not in index.conditions:
        return None
    network, condition = solve_states(index), index.conditions[key]
    for state in network.states:
        for column, place in enumerate(state.chosen):
            if index.design.conditions[place] is not condition or not state.works[column]:
                continue
            posts = posts_of(index, network, state, condition)
            held_v = held_v_of(posts, len(index.batteries()))
            demand = network.demand
            taking = Taking(state, posts, held_v, demand.duty[:, place], demand.asleep_a[:, place])
            return sum(law.current_a(at_v) for law in DutyLaws(index, network).laws(taking))
    return None
