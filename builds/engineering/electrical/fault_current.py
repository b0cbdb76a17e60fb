"""
Fault current: the most a device may have to break where it sits, and the least that must open it.

The two ask for opposite ends. Breaking: fullest battery, coldest cable, every source at once, no resistance in the
fault. Opening: lowest source, hot conductor, the whole way out and back.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from builds.engineering.ranges import check_at_least, check_within

__all__ = ["FaultSource", "far_end_fault_a", "prospective_current_a"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultSource:
    """A source as seen from the device: its open voltage, and the resistance of itself and its own cable."""

    emf_v: float
    resistance_ohm: float

    def __post_init__(self) -> None:
        check_within("emf_v", self.emf_v, 0.0, 1000.0)
        check_within("resistance_ohm", self.resistance_ohm, 1e-9, 1e6)


def prospective_current_a(*, sources: Sequence[FaultSource], shared_ohm: float, limited_a: float = 0.0) -> float:
    """
    Return the current a dead short just behind a device would draw through it.

    Parameters
    ----------
    sources : sequence of FaultSource
        Every battery that can feed the fault, each with its own resistance up to where they join; at least one.
    shared_ohm : float
        Resistance from there to the device, cable cold, at least 0. [Ω]
    limited_a : float, default 0.0
        Sum of what current-limited sources add (alternator, converter), at least 0. [A]

    Returns
    -------
    float
        Σ(E/R) / Σ(1/R) over Σ(1/R)⁻¹ + shared, plus the limited sources. [A]

    Raises
    ------
    OutOfRange
        If there is no source or an argument is outside its range.

    Notes
    -----
    The way back through the chassis is taken as no resistance, so the figure is an upper bound.

    Examples
    --------
    >>> battery = FaultSource(emf_v=12.8, resistance_ohm=0.004)
    >>> round(prospective_current_a(sources=[battery], shared_ohm=0.004))
    1600
    >>> round(prospective_current_a(sources=[battery, battery], shared_ohm=0.004))
    2133
    """
    check_within("number of sources", len(sources), 1, 100)
    check_at_least("shared_ohm", shared_ohm, 0.0)
    check_at_least("limited_a", limited_a, 0.0)
    conductance = sum(1 / source.resistance_ohm for source in sources)
    short_circuit_a = sum(source.emf_v / source.resistance_ohm for source in sources)
    # One equivalent source: E = short-circuit current / conductance behind 1 / conductance.
    return short_circuit_a / (1 + shared_ohm * conductance) + limited_a


def far_end_fault_a(*, source_v: float, source_ohm: float, out_ohm: float, back_ohm: float) -> float:
    """
    Return the current of a short at the far end of a circuit, the least that its device must notice.

    Parameters
    ----------
    source_v : float
        Lowest voltage of the source, at least 0. [V]
    source_ohm : float
        Resistance of the source and of everything up to the circuit, at least 0. [Ω]
    out_ohm : float
        The circuit's conductor to its far end, hot, at least 0. [Ω]
    back_ohm : float
        The way back, at least 0. [Ω]

    Returns
    -------
    float
        Fault current. [A]

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or all resistances are 0.

    Examples
    --------
    >>> round(far_end_fault_a(source_v=11.5, source_ohm=0.01, out_ohm=0.08, back_ohm=0.025))
    100
    """
    check_at_least("source_v", source_v, 0.0)
    for name, value in (("source_ohm", source_ohm), ("out_ohm", out_ohm), ("back_ohm", back_ohm)):
        check_at_least(name, value, 0.0)
    total_ohm = source_ohm + out_ohm + back_ohm
    check_within("total resistance", total_ohm, 1e-9, 1e9)
    return source_v / total_ohm
