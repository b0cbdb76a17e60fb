"""
Whether the engine starts again: what is left at the starter with its current and all loads on the battery.

``V = E(charge) − (I_crank + I_loads) × R_battery − I_crank × R_cable`` must not be below what the starting system needs.
"""

from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.posts import flows_at_post

__all__ = ["cranking_v"]


def cranking_v(
    *, emf_v: float, internal_ohm: float, crank_a: float, cable_ohm: float, law: LoadLaw
) -> tuple[float, float]:
    """
    Return the voltages at the battery's post and at the starter while the engine is cranked.

    Parameters
    ----------
    emf_v : float
        Voltage behind the battery's resistance. [V]
    internal_ohm : float
        Resistance of the battery at its temperature. [Ω]
    crank_a : float
        Starter current, at least 0. [A]
    cable_ohm : float
        Resistance of the way to the starter and back. [Ω]
    law : LoadLaw
        What the loads on this battery take.

    Returns
    -------
    tuple of float
        Voltage at the post and at the starter; 0 where there is none. [V]

    Examples
    --------
    >>> post_v, starter_v = cranking_v(emf_v=12.6, internal_ohm=0.005, crank_a=250, cable_ohm=0.0012, law=LoadLaw(20.0))
    >>> round(post_v, 3), round(starter_v, 3)
    (11.25, 10.95)
    """
    flows = flows_at_post([emf_v], [internal_ohm], [0.0], law, (), crank_a)
    return flows.voltage_v, max(0.0, flows.voltage_v - crank_a * cable_ohm)
