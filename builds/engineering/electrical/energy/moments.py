"""
The state of the batteries as numbers, and how it changes at a moment.

A state is one row: of every battery what is removed, its slow sag, what it gave and took, Peukert's extra and what charging
lost, then what sources, loads and starter came to. Rates are by the hour: ampere-hours an hour are amperes.
"""

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.laws import NOTHING, LoadLaw
from builds.engineering.electrical.energy.posts import Flows, Supply, flows_alone, flows_at_post
from builds.engineering.electrical.energy.run_records import Accounts, BankAccount
from builds.engineering.electrical.energy.stages import Post
from builds.engineering.electrical.energy.steps import Numbers

__all__ = ["Circumstances", "Moment", "accounts_of", "first_state", "tolerance_of"]

_S_PER_H = 3600.0
_REMOVED_TOLERANCE_AH, _SAG_TOLERANCE_V = 1e-6, 1e-7  # a threshold crossed at 0.1 V an hour is then known to under 1 ms


class Moment(NamedTuple):
    """Voltages and currents at a state: of every battery, and the sums over all posts."""

    charge_ratio: tuple[float, ...]
    bank_v: tuple[float, ...]
    bank_a: tuple[float, ...]
    source_a: float
    load_a: float


class Circumstances:
    """
    What holds while nothing switches: how batteries stand together, what is on, what supplies, what is cranked.

    Asked for its rate of change many thousand times, so figures are read out of their records once.
    """

    __slots__ = ("_banks", "_held", "_lone", "_seen", "_together", "banks", "crank_a", "cranked", "laws", "posts")

    def __init__(
        self,
        banks: tuple[Bank, ...],
        posts: tuple[Post, ...],
        laws: tuple[LoadLaw, ...],
        *,
        cranked: int | None = None,
        crank_a: float = 0.0,
    ) -> None:
        self.banks, self.posts, self.cranked, self.crank_a = banks, posts, cranked, crank_a
        self.laws = laws + (NOTHING,) * (len(posts) - len(laws))
        self._banks = tuple(enumerate(banks))
        self._together = tuple(self._joined(at) for at in _receivers_first(posts))
        self._seen: tuple[Numbers, list[Flows]] | None = None
        self._lone, self._held = self._usual()

    def _joined(self, at: int) -> "_Joined":
        """The figures of the batteries at one post."""
        post, links = self.posts[at], _links(self.posts[at])
        return _Joined(
            at,
            post.banks,
            tuple(self.banks[bank].internal_ohm + link for bank, link in zip(post.banks, links, strict=True)),
            links,
            post.supplies,
            self.laws[at],
            self.crank_a if self.cranked in post.banks else 0.0,
            len(post.banks) == 1 and not post.supplies,
            post.forward_v or (0.0,) * len(post.banks),
        )

    def _usual(self) -> "tuple[tuple[_Lone, ...], tuple[_Held, ...]]":
        """Batteries that stand alone, and posts that their highest set source holds; nothing where a converter supplies one."""
        if any(supply.transfer for post in self.posts for supply in post.supplies):
            return (), ()
        lone = tuple(self._lone_at(post) for post in self._together if post.alone)
        held = tuple(self._held_at(post) for post in self._together if post.supplies)
        return (lone, held) if len(lone) + len(held) == len(self.posts) else ((), ())

    def _lone_at(self, post: "_Joined") -> "_Lone":
        place, law = post.places[0], post.law
        siemens = 1.0 / self.banks[place].internal_ohm + law.conductance_s
        return _Lone(
            place,
            self.banks[place],
            1.0 / self.banks[place].internal_ohm,
            law.constant_a + post.crank_a,
            4.0 * siemens * law.power_w,
            0.5 / siemens,
            post.crank_a,
        )

    def _held_at(self, post: "_Joined") -> "_Held":
        held_v, banks = post.supplies[0].held_v, [self.banks[place] for place in post.places]
        return _Held(
            tuple(zip(post.places, banks, post.ohm, post.forward_v, strict=True)),
            held_v,
            post.supplies[0].limit_a,
            post.law.current_a(held_v),
            post.crank_a,
        )

    def emf_v(self, state: Numbers) -> list[float]:
        """Return every battery's voltage behind its resistance."""
        count = len(self.banks)
        return [bank.rest_v(state[place]) - state[count + place] for place, bank in self._banks]

    def _flows(self, values: Numbers) -> list[Flows]:
        """Return the flows of every post; a post from which a converter charges another pays for what that one gets."""
        if self._seen is not None and self._seen[0] is values:  # what a step ended with is looked at once more
            return self._seen[1]
        emf_v, banks = self.emf_v(values), self.banks
        found: list[Flows] = [_NO_FLOWS] * len(self.posts)
        asked_w = [0.0] * len(self.posts)
        for at, places, ohm, _, supplies, own_law, crank_a, alone, forward_v in self._together:
            law = own_law
            if asked_w[at]:
                law = LoadLaw(law.constant_a, law.conductance_s, law.power_w + asked_w[at])
            if alone:
                found[at] = flows_alone(emf_v[places[0]], ohm[0], law, crank_a)
                continue
            own_v, intake_a = (
                [emf_v[place] for place in places],
                [banks[place].intake_a(values[place]) for place in places],
            )
            if any(forward_v):
                flows = _past_diodes(own_v, ohm, intake_a, law, supplies, crank_a, forward_v)
            else:
                flows = flows_at_post(own_v, ohm, intake_a, law, supplies, crank_a)
            found[at] = flows
            _pay(supplies, flows.source_a, asked_w)
        self._seen = values, found
        return found

    def overloaded(self, state: Numbers) -> int | None:
        """Return the first post that has no voltage at which what it feeds could run, None where all have one."""
        flows = self._flows(state)
        if all(flow.works for flow in flows):
            return None
        feeding = {at for at, law in enumerate(self.laws) if law != NOTHING} | _giving(self.posts)
        return next((at for at, flow in enumerate(flows) if not flow.works and at in feeding), None)

    def moment(self, state: Numbers) -> Moment:
        """Return voltages and currents at a state."""
        flows = self._flows(state)
        bank_a, bank_v = [0.0] * len(self.banks), [0.0] * len(self.banks)
        for together in self._together:
            flow = flows[together.at]
            for bank, current_a, link, forward_v in zip(
                together.places, flow.bank_a, together.link_ohm, together.forward_v, strict=True
            ):
                bank_a[bank], bank_v[bank] = current_a, flow.voltage_v + link * current_a - forward_v
                if forward_v and not current_a:  # its diode is shut
                    bank_v[bank] = self.emf_v(state)[bank]
        return Moment(
            tuple([1.0 - state[place] / bank.capacity_ah for place, bank in self._banks]),
            tuple(bank_v),
            tuple(bank_a),
            sum([flow.source_a for flow in flows]),
            sum([flow.load_a for flow in flows]),
        )

    def derivative(self, state: Numbers) -> Numbers:
        """Return the rate of change of a whole state, an hour; its first entries, which move, are enough."""
        count = len(self.banks)
        rates = [0.0] * (6 * count)
        if (self._lone or self._held) and (sums := self._change_usually(state, rates)) is not None:
            return [*rates, *sums]
        flows, rates = self._flows(state), [0.0] * (6 * count)
        source_a, load_a, cranked_a = 0.0, 0.0, 0.0
        for at, places, *_, crank_a, _, _ in self._together:
            flow = flows[at]
            source_a += flow.source_a
            load_a += flow.load_a
            if flow.voltage_v > 0.0:
                cranked_a += crank_a
            for bank, current_a in zip(places, flow.bank_a, strict=True):
                _change(rates, self.banks[bank], bank, count, current_a, state[count + bank])
        return [*rates, source_a, load_a, cranked_a]

    def _change_usually(self, values: Numbers, rates: Numbers) -> tuple[float, float, float] | None:
        """
        Write how batteries change that stand alone, or at a post that a source holds; return the sums of all posts.

        The usual case, the same sums as everywhere, without records for them; None where a battery cannot carry its loads,
        or a source cannot hold its post.
        """
        count, source_a, load_a, cranked_a = len(self.banks), 0.0, 0.0, 0.0
        for place, bank, inside_s, constant_a, power_s2w, half_ohm, crank_a in self._lone:
            sag_v = values[count + place]
            emf_v = bank.rest_v(values[place]) - sag_v
            current = emf_v * inside_s - constant_a
            under = current * current - power_s2w
            if under < 0.0 or current <= 0.0:
                return None
            given_a = (emf_v - (current + math.sqrt(under)) * half_ohm) * inside_s
            load_a += given_a - crank_a
            cranked_a += crank_a
            _change(rates, bank, place, count, given_a, sag_v)
        for banks, held_v, limit_a, taken_a, crank_a in self._held:
            asked_a = taken_a + crank_a
            for place, bank, ohm, forward_v in banks:
                removed_ah, sag_v = values[place], values[count + place]
                given_a = (bank.rest_v(removed_ah) - sag_v + forward_v - held_v) / ohm
                if forward_v and given_a > 0.0:
                    given_a = 0.0
                elif given_a < 0.0:
                    given_a = max(given_a, -bank.intake_a(removed_ah))
                asked_a -= given_a
                _change(rates, bank, place, count, given_a, sag_v)
            if not 0.0 <= asked_a <= limit_a:
                return None
            source_a += asked_a
            load_a += taken_a
            cranked_a += crank_a
        return source_a, load_a, cranked_a


class _Lone(NamedTuple):
    """
    One battery alone: its place, itself, what flows into it by the volt, the constant part of what is taken, and the two
    coefficients of the quadratic whose upper root its voltage is.
    """

    place: int
    bank: Bank
    inside_s: float
    constant_a: float
    power_s2w: float
    half_ohm: float
    crank_a: float


class _Held(NamedTuple):
    """
    A post that a source holds at its voltage: place, itself, resistance and diodes of each battery there, the source's voltage
    and most current, and what loads and starter take at that voltage.
    """

    banks: tuple[tuple[int, Bank, float, float], ...]
    held_v: float
    limit_a: float
    taken_a: float
    crank_a: float


class _Joined(NamedTuple):
    """The batteries at one post: their places, what lies behind and before each, what charges them and what they feed."""

    at: int
    places: tuple[int, ...]
    ohm: tuple[float, ...]
    link_ohm: tuple[float, ...]
    supplies: tuple[Supply, ...]
    law: LoadLaw
    crank_a: float
    alone: bool
    forward_v: tuple[float, ...]


_NO_FLOWS = Flows(0.0, (), 0.0, 0.0)


def _past_diodes(
    emf_v: Sequence[float],
    ohm: Sequence[float],
    intake_a: Sequence[float],
    law: LoadLaw,
    supplies: Sequence[Supply],
    crank_a: float,
    forward_v: Sequence[float],
) -> Flows:
    """The flows of a post at which some batteries stand behind diodes; one that would give something back is cut off."""
    seen_v = [emf + forward for emf, forward in zip(emf_v, forward_v, strict=True)]
    ways = list(ohm)
    while True:
        flows = flows_at_post(seen_v, ways, intake_a, law, supplies, crank_a)
        giving = [at for at, current_a in enumerate(flows.bank_a) if forward_v[at] and current_a > 0.0]
        if not giving:
            return flows
        for at in giving:
            ways[at] = math.inf  # without it the voltage is lower still, so it stays cut off


def _links(post: Post) -> tuple[float, ...]:
    return post.link_ohm or (0.0,) * len(post.banks)


def _receivers_first(posts: tuple[Post, ...]) -> tuple[int, ...]:
    """Order posts so that one that is charged out of another comes before it."""
    order: list[int] = []
    waiting = list(range(len(posts)))
    while waiting:
        giving = _giving([posts[at] for at in waiting])
        ready = [at for at in waiting if at not in giving] or waiting  # converters in a ring have no first
        order += ready
        waiting = [at for at in waiting if at not in ready]
    return tuple(order)


def _giving(posts: Iterable[Post]) -> set[int]:
    """Return the posts from which converters charge some others."""
    return {supply.transfer.from_post for post in posts for supply in post.supplies if supply.transfer is not None}


def _pay(supplies: tuple[Supply, ...], source_a: float, asked_w: list[float]) -> None:
    """Charge what the converters among a post's supplies give to the posts they take it from."""
    for supply in supplies:
        given_a = min(source_a, supply.limit_a)
        source_a -= given_a
        if supply.transfer is not None:
            taken_w = supply.held_v * given_a / supply.transfer.efficiency_ratio + supply.transfer.idle_w
            asked_w[supply.transfer.from_post] += taken_w


def _change(rates: Numbers, bank: Bank, place: int, count: int, current_a: float, sag_v: float) -> None:
    """Write how one battery's part of a state changes."""
    rates[count + place] = (bank.recovery_ohm * current_a - sag_v) / bank.recovery_s * _S_PER_H
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


def first_state(banks: Sequence[Bank], start_ratio: Sequence[float]) -> Numbers:
    """
    Return the state of batteries at rest.

    Parameters
    ----------
    banks : sequence of Bank
        The batteries.
    start_ratio : sequence of float
        State of charge of each, 0 to 1; all are full where it is empty. [1]
    """
    state = [0.0] * (6 * len(banks) + 3)
    for place, ratio in enumerate(start_ratio):
        state[place] = (1.0 - ratio) * banks[place].capacity_ah
    return state


def tolerance_of(banks: Sequence[Bank]) -> Numbers:
    """Return the error allowed in what moves: ampere-hours removed and sag."""
    return [_REMOVED_TOLERANCE_AH] * len(banks) + [_SAG_TOLERANCE_V] * len(banks)


def accounts_of(state: Numbers, began: Numbers, banks: Sequence[Bank]) -> Accounts:
    """Return the ampere-hours of everything between two states."""
    values, count = [now - then for now, then in zip(state, began, strict=True)], len(banks)
    removed, _, given, taken, extra, lost = (values[part * count : (part + 1) * count] for part in range(6))
    return Accounts(
        tuple(BankAccount(*figures) for figures in zip(given, taken, extra, lost, removed, strict=True)),
        *values[6 * count :],
    )
