"""
The state of the batteries as numbers, and how it changes at a moment.

A state is one row: of every battery what is removed, its slow sag, what it gave and took, Peukert's extra and what charging
lost, then what sources, loads and starter came to. Ampere-hours per second are amperes by 3600.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.laws import NOTHING, LoadLaw
from builds.engineering.electrical.energy.posts import Flows, Supply, flows_at_post
from builds.engineering.electrical.energy.run_records import Accounts, BankAccount
from builds.engineering.electrical.energy.steps import Floats

__all__ = ["Circumstances", "Moment", "accounts_of", "first_state", "tolerance_of"]

_S_PER_H = 3600.0
_REMOVED_TOLERANCE_AH, _SAG_TOLERANCE_V = 2e-7, 2e-8  # a threshold crossed at 0.1 V an hour is then known to under 1 ms


class Moment(NamedTuple):
    """Voltages and currents at a state: of every battery, and the sums over all posts."""

    charge_ratio: tuple[float, ...]
    bank_v: tuple[float, ...]
    bank_a: tuple[float, ...]
    source_a: float
    load_a: float


class Circumstances:
    """
    What holds while nothing switches: how posts are joined, what is on, what supplies, what is cranked.

    Asked for its rate of change many thousand times, so figures are read out of their records once.
    """

    __slots__ = (
        "_banks",
        "_intake_of",
        "_ohm",
        "_rest_of",
        "banks",
        "crank_a",
        "cranked",
        "joined",
        "laws",
        "supplies",
    )

    def __init__(
        self,
        banks: tuple[Bank, ...],
        laws: tuple[LoadLaw, ...],
        supplies: tuple[Supply | None, ...] = (),
        *,
        joined: bool = False,
        cranked: int | None = None,
        crank_a: float = 0.0,
    ) -> None:
        posts = 1 if joined else len(banks)
        self.banks, self.joined, self.cranked, self.crank_a = banks, joined, cranked, crank_a
        self.laws = laws[:posts] + (NOTHING,) * (posts - len(laws))
        self.supplies = supplies[:posts] + (None,) * (posts - len(supplies))
        self._ohm = tuple(bank.internal_ohm + bank.link_ohm for bank in banks)
        self._rest_of = tuple(bank.rest_v for bank in banks)
        self._intake_of = tuple(bank.intake_a for bank in banks)
        self._banks = tuple(enumerate(banks))

    def emf_v(self, state: Floats) -> list[float]:
        """Return every battery's voltage behind its resistance."""
        return self._emf_v(state[: 2 * len(self.banks)].tolist())

    def _emf_v(self, values: list[float]) -> list[float]:
        count = len(self.banks)
        return [rest_of(values[place]) - values[count + place] for place, rest_of in enumerate(self._rest_of)]

    def _flows(self, values: list[float], emf_v: list[float]) -> list[Flows]:
        """Return the flows of every post; while joined there is one."""
        if self.joined:
            intake_a = [intake_of(removed) for intake_of, removed in zip(self._intake_of, values, strict=False)]
            return [flows_at_post(emf_v, self._ohm, intake_a, self.laws[0], self.supplies[0], self.crank_a)]
        return [
            flows_at_post(
                (emf_v[place],),
                (bank.internal_ohm,),
                (0.0 if self.supplies[place] is None else bank.intake_a(values[place]),),
                self.laws[place],
                self.supplies[place],
                self.crank_a if place == self.cranked else 0.0,
            )
            for place, bank in self._banks
        ]

    def moment(self, state: Floats) -> Moment:
        """Return voltages and currents at a state."""
        values = state[: 2 * len(self.banks)].tolist()
        emf_v = self._emf_v(values)
        flows = self._flows(values, emf_v)
        bank_a = flows[0].bank_a if self.joined else tuple([flow.bank_a[0] for flow in flows])
        return Moment(
            tuple([1.0 - values[place] / bank.capacity_ah for place, bank in self._banks]),
            self._posts_v(flows, bank_a),
            bank_a,
            sum([flow.source_a for flow in flows]),
            sum([flow.load_a for flow in flows]),
        )

    def _posts_v(self, flows: list[Flows], bank_a: tuple[float, ...]) -> tuple[float, ...]:
        """The voltage at every battery's own post: while joined, that of the first and what the way to it costs."""
        if not self.joined:
            return tuple([flow.voltage_v for flow in flows])
        return tuple([flows[0].voltage_v + bank.link_ohm * bank_a[place] for place, bank in self._banks])

    def derivative(self, state: Floats) -> Floats:
        """Return the rate of change of a state, per second."""
        count = len(self.banks)
        values = state[: 2 * count].tolist()
        flows = self._flows(values, self._emf_v(values))
        bank_a = flows[0].bank_a if self.joined else [flow.bank_a[0] for flow in flows]
        rates = [0.0] * (6 * count)
        for place, bank in self._banks:
            current_a = bank_a[place]
            rates[count + place] = (bank.recovery_ohm * current_a - values[count + place]) / bank.recovery_s * _S_PER_H
            if current_a > 0.0:
                extra_a = bank.extra_a(current_a)
                rates[place] = current_a + extra_a
                rates[2 * count + place] = current_a
                rates[4 * count + place] = extra_a
            else:
                lost_a = -current_a * (1.0 - bank.charge_ratio)
                rates[place] = current_a + lost_a
                rates[3 * count + place] = -current_a
                rates[5 * count + place] = lost_a
        source_a, load_a = 0.0, 0.0
        for flow in flows:
            source_a += flow.source_a
            load_a += flow.load_a
        return np.array((*rates, source_a, load_a, self._cranked_a(flows))) / _S_PER_H

    def _cranked_a(self, flows: Sequence[Flows]) -> float:
        turns = self.cranked is not None and flows[0 if self.joined else self.cranked].voltage_v > 0.0
        return self.crank_a if turns else 0.0


def first_state(banks: Sequence[Bank], start_ratio: Sequence[float]) -> Floats:
    """
    Return the state of batteries at rest.

    Parameters
    ----------
    banks : sequence of Bank
        The batteries.
    start_ratio : sequence of float
        State of charge of each, 0 to 1; all are full where it is empty. [1]
    """
    state = np.zeros(6 * len(banks) + 3)
    for place, ratio in enumerate(start_ratio):
        state[place] = (1.0 - ratio) * banks[place].capacity_ah
    return state


def tolerance_of(banks: Sequence[Bank]) -> Floats:
    """Return the error allowed in what moves: ampere-hours removed and sag."""
    return np.array([_REMOVED_TOLERANCE_AH] * len(banks) + [_SAG_TOLERANCE_V] * len(banks))


def accounts_of(state: Floats, began: Floats, banks: Sequence[Bank]) -> Accounts:
    """Return the ampere-hours of everything between two states."""
    values, count = (state - began).tolist(), len(banks)
    removed, _, given, taken, extra, lost = (values[part * count : (part + 1) * count] for part in range(6))
    return Accounts(
        tuple(BankAccount(*figures) for figures in zip(given, taken, extra, lost, removed, strict=True)),
        *values[6 * count :],
    )
