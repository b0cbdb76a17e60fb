"""
Who gives and who takes at a post at one moment.

Batteries are voltages behind resistances; one that is charged takes no more than it accepts. A source holds its voltage as
long as it can give what is asked of it, else it gives all it has and the batteries set the voltage. What loads take depends
on that voltage: with ``I = a + g V + p / V`` and the free batteries' ``Σ (E − V) / R`` the voltage is the **upper** root of
``(Σ 1/R + g) V² − (Σ E/R + given − a) V + p = 0``.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from builds.engineering.electrical.energy.laws import LoadLaw

__all__ = ["Flows", "Supply", "Transfer", "flows_alone", "flows_at_post"]

_SAME_A = 1e-12


@dataclass(frozen=True, slots=True)
class Transfer:
    """Where a converter that charges takes what it gives: from another post, with its efficiency and its own draw."""

    from_post: int
    efficiency_ratio: float
    idle_w: float = 0.0


@dataclass(frozen=True, slots=True)
class Supply:
    """A source on a post: the voltage it holds and the most it gives; a converter says where it takes that."""

    held_v: float
    limit_a: float
    transfer: Transfer | None = None


class Flows(NamedTuple):
    """
    Voltage and currents: what each battery gives (below 0 it is charged), what the source gives, what the loads take.

    ``works`` is False where no voltage exists at which the loads could run; then they take nothing.
    """

    voltage_v: float
    bank_a: tuple[float, ...]
    source_a: float
    load_a: float
    works: bool = True


def flows_at_post(
    emf_v: Sequence[float],
    inside_ohm: Sequence[float],
    intake_a: Sequence[float],
    law: LoadLaw,
    supplies: Sequence[Supply] = (),
    crank_a: float = 0.0,
) -> Flows:
    """
    Return the voltage and the currents of one post.

    Parameters
    ----------
    emf_v : sequence of float
        Voltage behind the resistance of each battery on this post, at least one. [V]
    inside_ohm : sequence of float
        That resistance of each. [Ω]
    intake_a : sequence of float
        The most each takes. [A]
    law : LoadLaw
        What the loads take.
    supplies : sequence of Supply
        The sources on this post, the highest set first: a lower one gives where those above it give all they can.
    crank_a : float, default 0.0
        What a starter takes besides. [A]

    Returns
    -------
    Flows
        Currents that add up: batteries and sources give what loads and starter take.

    Examples
    --------
    >>> flows = flows_at_post([12.6], [0.005], [0.0], LoadLaw(135.0), [Supply(14.2, 100.0)])
    >>> round(flows.voltage_v, 3), round(flows.bank_a[0], 6), flows.source_a
    (12.425, 35.0, 100.0)
    """
    given_a = 0.0
    for supply in supplies:
        volts = supply.held_v
        bank_a = tuple([max((e - volts) / r, -most) for e, r, most in zip(emf_v, inside_ohm, intake_a, strict=True)])
        load_a = law.current_a(volts)
        asked_a = load_a + crank_a - sum(bank_a) - given_a
        if asked_a < 0.0:
            break
        if asked_a <= supply.limit_a:
            return Flows(volts, bank_a, given_a + asked_a, load_a)
        given_a += supply.limit_a
    if len(emf_v) == 1 and not given_a:
        return flows_alone(emf_v[0], inside_ohm[0], law, crank_a)
    return _free(emf_v, inside_ohm, intake_a, law, given_a, crank_a)


def flows_alone(emf_v: float, inside_ohm: float, law: LoadLaw, crank_a: float = 0.0) -> Flows:
    """
    Return the flows of one battery that nothing charges: the usual case, without the search for who is held.

    Parameters
    ----------
    emf_v : float
        Voltage behind its resistance. [V]
    inside_ohm : float
        That resistance, above 0. [Ω]
    law : LoadLaw
        What the loads take.
    crank_a : float, default 0.0
        What a starter takes besides. [A]
    """
    current, siemens = emf_v / inside_ohm - law.constant_a - crank_a, 1.0 / inside_ohm + law.conductance_s
    inside = current * current - 4.0 * siemens * law.power_w
    if inside < 0.0 or current <= 0.0:
        return _without_loads([emf_v], [inside_ohm], [0.0], law, 0.0, crank_a)
    volts = (current + math.sqrt(inside)) / (2.0 * siemens)
    given_a = (emf_v - volts) / inside_ohm
    return Flows(volts, (given_a,), 0.0, given_a - crank_a)


def _free(
    emf_v: Sequence[float],
    ohm: Sequence[float],
    intake_a: Sequence[float],
    law: LoadLaw,
    given_a: float,
    crank_a: float,
) -> Flows:
    """The batteries set the voltage; those that would take more than they accept are held there, one after the other."""
    held: set[int] = set()
    for _ in range(2 * len(emf_v) + 2):
        current, siemens = given_a - law.constant_a - crank_a, law.conductance_s
        for place, (e, r, most) in enumerate(zip(emf_v, ohm, intake_a, strict=True)):
            if place in held:
                current -= most
            else:
                current += e / r
                siemens += 1.0 / r
        inside = current * current - 4.0 * siemens * law.power_w
        if inside < 0.0 or current <= 0.0 or siemens <= 0.0:
            return _without_loads(emf_v, ohm, intake_a, law, given_a, crank_a)
        volts = (current + math.sqrt(inside)) / (2.0 * siemens)
        wrong = _wrongly_held(emf_v, ohm, intake_a, held, volts)
        if wrong is None:
            break
        held ^= {wrong}
    bank_a = tuple(
        -most if place in held else (e - volts) / r
        for place, (e, r, most) in enumerate(zip(emf_v, ohm, intake_a, strict=True))
    )
    return Flows(volts, bank_a, given_a, sum(bank_a) + given_a - crank_a)


def _wrongly_held(
    emf_v: Sequence[float], ohm: Sequence[float], intake_a: Sequence[float], held: set[int], volts: float
) -> int | None:
    for place, (e, r, most) in enumerate(zip(emf_v, ohm, intake_a, strict=True)):
        over = (e - volts) / r < -most - _SAME_A
        if over and place not in held:
            return place
        if place in held and (e - volts) / r > -most + _SAME_A:
            return place
    return None


def _without_loads(
    emf_v: Sequence[float],
    ohm: Sequence[float],
    intake_a: Sequence[float],
    law: LoadLaw,
    given_a: float,
    crank_a: float,
) -> Flows:
    """Nothing runs: what is left is the batteries among themselves, and the starter if it is not what is too much."""
    if law != LoadLaw():
        alone = _free(emf_v, ohm, intake_a, LoadLaw(), 0.0, crank_a)
        return Flows(alone.voltage_v, alone.bank_a, 0.0, 0.0, works=False)
    return Flows(0.0, tuple(0.0 for _ in emf_v), 0.0, 0.0, works=False)
