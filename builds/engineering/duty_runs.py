"""One duty profile simulated by itself, point by point: what a drawing and a table of it are made from."""

from builds.engineering.assessing.duty_results import ProfileRun, profile_runs
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.states import solve_states
from builds.engineering.design import Design
from builds.engineering.functions.coupling import coupled

__all__ = ["ProfileRun", "simulate_profile"]


def simulate_profile(design: Design, key: str) -> ProfileRun | None:
    """
    Return a duty profile as it runs, with every point, event and account.

    Parameters
    ----------
    design : Design
        A build.
    key : str
        Key of the profile.

    Returns
    -------
    ProfileRun or None
        None where the design has no such profile, the profile no segment, or the design no battery.
    """
    index = index_design(coupled(design))  # what the rules light is on, as in the assessment
    chosen = [profile for profile in design.duty_profiles if profile.key == key]
    return next(iter(profile_runs(index, solve_states(index), chosen)), None)
