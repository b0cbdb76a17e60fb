"""
Every setting of a small schedule looked at, by a way of its own.

Nothing here uses the gates or the solver: conditions are walked as trees, over rows of bits with one bit per setting. A
condition is a pair of rows, where it is surely and where it is possibly true.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations, product
from math import prod

import numpy as np

from builds.engineering.functions.conditions import AllOf, AnyOf, Condition, InputIs, Not, OutputIs
from builds.engineering.functions.schedule import Claim, FunctionSchedule, Rule
from builds.engineering.functions.vocabulary import ClaimKind, EffectKind, FailState, HeadRule, OutputState, Quantifier

Pair = tuple[int, int]
LIT = (EffectKind.STEADY, EffectKind.FLASH)


@dataclass
class EverySetting:
    """All settings of a schedule without timers, the first input counting fastest."""

    schedule: FunctionSchedule
    columns: dict[tuple[str, str], int] = field(default_factory=dict)
    rows: int = 0
    mask: int = 0

    def __post_init__(self) -> None:
        self.rows = prod(len(part.values) for part in self.schedule.inputs)
        self.mask = (1 << self.rows) - 1
        self.strides: dict[tuple[str, str], int] = {}
        self.rests = {(part.key, part.rest) for part in self.schedule.inputs}
        stride = 1
        for part in self.schedule.inputs:
            period = stride * len(part.values)
            digits = np.repeat(np.arange(len(part.values), dtype=np.uint8), stride)
            for place, value in enumerate(part.values):
                packed = np.packbits(np.tile(digits == place, self.rows // period), bitorder="little")
                self.columns[part.key, value] = int.from_bytes(packed.tobytes(), "little")
                self.strides[part.key, value] = place * stride
            stride = period
        self._widen()
        self.members = {part.key: (part.key,) for part in self.schedule.channels}
        self.members |= {part.key: part.channels for part in self.schedule.sets}
        self.holds = {rule.key: self.holding(rule) for rule in self.schedule.rules}
        self.lit, self.cut = {}, {}
        self._light()

    def _widen(self) -> None:
        """Settings alone are all there is without timers."""

    # conditions

    def pair(self, condition: Condition) -> Pair:
        match condition:
            case InputIs():
                sure = 0
                for value in condition.values:
                    sure |= self.columns[condition.input, value]
                maybe = sure | (0 if "lost" in condition.values else self.columns[condition.input, "lost"])
                return (self.mask & ~maybe, self.mask & ~sure) if condition.negated else (sure, maybe)
            case OutputIs():
                row = self.output(condition)
                row = self.mask & ~row if condition.negated else row
                return row, row
            case Not(term=term):
                sure, maybe = self.pair(term)
                return self.mask & ~maybe, self.mask & ~sure
            case AllOf(terms=terms):
                pairs = [self.pair(term) for term in terms]
                sure = maybe = self.mask
                for one, other in pairs:
                    sure, maybe = sure & one, maybe & other
                return sure, maybe
            case AnyOf(terms=terms):
                sure = maybe = 0
                for one, other in map(self.pair, terms):
                    sure, maybe = sure | one, maybe | other
                return sure, maybe
            case _:
                raise AssertionError("no timers here")

    def holding(self, rule: Rule) -> int:
        sure, maybe = self.pair(rule.condition)
        return maybe if rule.fail is FailState.APPLIES else sure

    def reachable(self) -> int:
        """Settings that no given forbids and in which no latch is on that a rule lets go."""
        row = self.mask
        for given in self.schedule.givens:
            row &= self.pair(given.condition)[1]
        for rule in self.schedule.rules:
            if rule.effect.kind is EffectKind.RELEASE:
                for latch in rule.targets:
                    row &= ~(self.holds[rule.key] & self.columns[latch, "on"])
        return row

    # outputs

    def ranked(self, channel: str, *kinds: EffectKind) -> Iterator[tuple[Rule, int]]:
        """Rules of these kinds on a channel, each with where it wins."""
        rules = [
            rule
            for rule in self.schedule.rules
            if rule.effect.kind in kinds and any(channel in self.members[target] for target in rule.targets)
        ]
        left = self.mask
        for rule in sorted(rules, key=lambda rule: -rule.priority):
            yield rule, self.holds[rule.key] & left
            left &= ~self.holds[rule.key]

    def drives(self, channel: str) -> list[tuple[Rule, int]]:
        return list(self.ranked(channel, EffectKind.OFF, *LIT))

    def _light(self) -> None:
        for channel in self.schedule.channels:
            self.cut[channel.key] = 0
            for rule in self.schedule.rules:
                if rule.effect.kind is EffectKind.INHIBIT and any(channel.key in self.members[t] for t in rule.targets):
                    self.cut[channel.key] |= self.holds[rule.key]
            asked = 0
            for rule, wins in self.drives(channel.key):
                asked |= wins if rule.effect.kind in LIT else 0
            self.lit[channel.key] = asked & ~self.cut[channel.key]
        for head in self.schedule.heads:
            if head.colours is HeadRule.FIRST:
                taken = 0
                for channel in head.channels:
                    asked = self.lit[channel]
                    self.lit[channel] = asked & ~taken
                    taken |= asked

    def shown_rows(self, channel: str) -> dict[float, int]:
        """Where each brightness is seen: in a shared head, lowered by what the others take (no clock keeps step here)."""
        shared = [one for one in self.schedule.heads if one.colours is HeadRule.SHARED and channel in one.channels]
        if not shared:
            return dict(self.level_rows(channel))
        amperes = {one.key: one.current_a for one in self.schedule.channels}
        others = [key for key in shared[0].channels if key != channel]
        options = [[(0, self.mask & ~self.lit[key]), *self.level_rows(key).items()] for key in others]
        rows: dict[float, int] = {}
        for level, own in self.level_rows(channel).items():
            for met in product(*options):
                where = own
                for _, row in met:
                    where &= row
                taken_a = amperes[channel] * level / 100
                taken_a += sum(amperes[key] * other / 100 for key, (other, _) in zip(others, met, strict=True))
                seen = level * min(1.0, shared[0].max_current_a / taken_a)
                rows[seen] = rows.get(seen, 0) | where
        return rows

    def level_rows(self, channel: str) -> dict[int, int]:
        """Where each brightness is asked for."""
        rows: dict[int, int] = {}
        dims = [(rule.effect.level_percent, wins) for rule, wins in self.ranked(channel, EffectKind.DIM)]
        undimmed = self.mask
        for _, wins in dims:
            undimmed &= ~wins
        for rule, wins in self.drives(channel):
            if rule.effect.kind in LIT:
                for ceiling, dimmed in [(100, undimmed), *dims]:
                    level = min(ceiling, rule.effect.level_percent)
                    rows[level] = rows.get(level, 0) | wins & dimmed & self.lit[channel]
        return rows

    def output(self, read: OutputIs) -> int:
        rows = [self.state(channel, read) for channel in self.members[read.target]]
        any_row, all_row = 0, self.mask
        for row in rows:
            any_row, all_row = any_row | row, all_row & row
        if read.quantifier is Quantifier.NONE:
            return self.mask & ~any_row
        return any_row if read.quantifier is Quantifier.ANY else all_row

    def state(self, channel: str, read: OutputIs) -> int:  # noqa: PLR0911 - one return per state
        lit, cut = self.lit[channel], self.cut[channel]
        match read.state:
            case OutputState.LIT:
                return lit
            case OutputState.OFF:
                return self.mask & ~lit
            case OutputState.CUT:
                return cut
            case OutputState.DRIVEN:
                return self.union(wins for _, wins in self.drives(channel)) & ~cut
            case OutputState.DIMMED:
                return self.union(row for level, row in self.shown_rows(channel).items() if level < 100)
            case OutputState.STEADY:
                return lit & self.union(
                    wins for rule, wins in self.drives(channel) if rule.effect.kind is EffectKind.STEADY
                )
            case OutputState.FLASHING:
                return lit & self.union(
                    wins
                    for rule, wins in self.drives(channel)
                    if rule.effect.kind is EffectKind.FLASH and read.pattern in ("", rule.effect.pattern)
                )

    @staticmethod
    def union(rows: Iterator[int]) -> int:
        union = 0
        for row in rows:
            union |= row
        return union

    # claims

    def broken(self, claim: Claim) -> int:
        """Reachable settings that certainly break a claim."""
        sure, maybe = self.pair(claim.condition)
        if claim.kind is ClaimKind.ALWAYS:
            row = self.mask & ~maybe
        elif claim.kind is ClaimKind.NEVER:
            row = sure
        else:
            row = sure & ~self.pair(claim.then)[1]
        return row & self.reachable()

    def smallest(self, row: int) -> dict[str, str] | None:
        """Inputs away from rest in the smallest setting of a row; of equals the first by input, then by value."""
        if not row:
            return None
        bits = row.to_bytes((self.rows + 7) // 8, "little")
        for setting in self.settings_in_order():
            place = sum(self.strides[key, value] for key, value in setting)
            if bits[place >> 3] >> (place & 7) & 1:
                return {key: value for key, value in setting if (key, value) not in self.rests}
        raise AssertionError("a row that is not empty has a setting")

    def settings_in_order(self) -> Iterator[list[tuple[str, str]]]:
        """Every setting, fewest inputs away from rest first."""
        inputs = self.schedule.inputs
        for count in range(len(inputs) + 1):
            for away in combinations(inputs, count):
                choices = [
                    [value for value in part.values if value != part.rest] if part in away else [part.rest]
                    for part in inputs
                ]
                yield from ([*zip((part.key for part in inputs), chosen, strict=True)] for chosen in product(*choices))
