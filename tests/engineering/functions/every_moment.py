"""
Every state of a small schedule with timers, reached tick by tick, by a way of its own.

A tick is a third of a second, so that settings can be left and come back to within the shortest timer. Each timer of a
condition is followed twice: over where its term is surely and where it is possibly true. What follows at once from the
inputs and from which timers have run out is a table of rows of bits; what follows in time is a walk over all states.
"""

from dataclasses import dataclass, field

import numpy as np

from builds.engineering.functions.conditions import After, Condition, ForAtLeast, ForAtMost, children
from builds.engineering.functions.schedule import Claim, FunctionSchedule
from builds.engineering.functions.vocabulary import EffectKind
from tests.engineering.functions.brute_force import EverySetting, Pair

TICK_MS = 1000 / 3
Node = ForAtLeast | ForAtMost | After


def timers_of(condition: Condition) -> list[Node]:
    """Inner ones first."""
    inner = [timer for part in children(condition) for timer in timers_of(part)]
    return [*inner, condition] if isinstance(condition, ForAtLeast | ForAtMost | After) else inner


@dataclass
class EveryMoment(EverySetting):
    """Rows run over settings and over which timers have run out."""

    nodes: list[Node] = field(default_factory=list)

    def __post_init__(self) -> None:
        found = [timer for rule in self.schedule.rules for timer in timers_of(rule.condition)]
        self.nodes = list(dict.fromkeys(found))
        super().__post_init__()

    def _widen(self) -> None:
        """Add a column for every timer and rail; called once the settings have theirs."""
        self.settings = self.rows
        for number in range(2 * len(self.nodes)):
            ones = (1 << self.rows) - 1
            for key in self.columns:
                self.columns[key] |= self.columns[key] << self.rows
            self.columns[f"timer {number}", "done"] = ones << self.rows
            self.rows *= 2
        self.mask = (1 << self.rows) - 1

    def pair(self, condition: Condition) -> Pair:
        if not isinstance(condition, ForAtLeast | ForAtMost | After):
            return super().pair(condition)
        number = 2 * self.nodes.index(condition)
        sure_done, maybe_done = self.columns[f"timer {number}", "done"], self.columns[f"timer {number + 1}", "done"]
        sure, maybe = self.pair(condition.term)
        if isinstance(condition, ForAtLeast):
            return sure_done, maybe_done
        if isinstance(condition, ForAtMost):
            return sure & ~maybe_done & self.mask, maybe & ~sure_done & self.mask
        return self.mask & ~maybe & ~maybe_done, self.mask & ~sure & ~sure_done

    def counted(self) -> list[int]:
        """What each timer watches: rows in the order of the timers' columns."""
        rows = []
        for node in self.nodes:
            sure, maybe = self.pair(node.term)
            rows += [self.mask & ~maybe, self.mask & ~sure] if isinstance(node, After) else [sure, maybe]
        return rows

    def broken_away(self, claims: tuple[Claim, ...]) -> list[int | None]:
        """For each claim the fewest inputs away from rest in any reachable state that breaks it; None if none does."""
        walk = Walk(self, [self.bits(row) for row in self.counted()], self.bits(self.reachable()))
        rows = walk.every_row()
        away = self.away()
        found: list[int | None] = []
        for claim in claims:
            hits = rows[self.bits(self.broken(claim))[rows]]
            found.append(int(away[hits % self.settings].min()) if len(hits) else None)
        return found

    def bits(self, row: int) -> np.ndarray:
        packed = np.frombuffer(row.to_bytes((self.rows + 7) // 8, "little"), np.uint8)
        return np.unpackbits(packed, bitorder="little")[: self.rows].astype(bool)

    def away(self) -> np.ndarray:
        left, counts = np.arange(self.settings), np.zeros(self.settings, np.int64)
        for part in self.schedule.inputs:
            counts += left % len(part.values) != part.values.index(part.rest)
            left = left // len(part.values)
        return counts


@dataclass
class Walk:
    """A state is a setting and, for each timer and rail, for how many ticks it has counted: -1 where it does not."""

    table: EveryMoment
    counted: list[np.ndarray]
    allowed: np.ndarray

    def every_row(self) -> np.ndarray:
        """Rows of the table that some reachable state stands in."""
        table = self.table
        self.ticks = [round(node.duration_ms / TICK_MS) for node in table.nodes for _ in range(2)]
        self.starts_done = [isinstance(node, After) for node in table.nodes for _ in range(2)]
        rest, stride = 0, 1
        for part in table.schedule.inputs:
            rest += part.values.index(part.rest) * stride
            stride *= len(part.values)
        woken = np.array([[tick if done else -1 for tick, done in zip(self.ticks, self.starts_done, strict=True)]])
        settings, counts, rows = self.step(np.array([rest]), woken.reshape(1, -1), waking=True)
        seen = {tuple(state) for state in np.column_stack([settings, counts])}
        all_rows = set(rows.tolist())
        while len(settings):
            choices = np.arange(table.settings)
            settings, counts, rows = self.step(
                np.tile(choices, len(settings)), np.repeat(counts, len(choices), axis=0), waking=False
            )
            states = np.column_stack([settings, counts])
            states, first = np.unique(states, axis=0, return_index=True)
            new = [place for place, state in enumerate(map(tuple, states)) if state not in seen]
            seen.update(map(tuple, states[new]))
            all_rows.update(rows[first].tolist())
            settings, counts = states[new, 0], states[new, 1:]
        return np.array(sorted(all_rows))

    def step(
        self, settings: np.ndarray, before: np.ndarray, *, waking: bool
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The settings after a tick with what the timers then have counted, and their rows; forbidden ones left out."""
        rows, counts = settings.copy(), before.copy()
        for number, ticks in enumerate(self.ticks):
            holds = self.counted[number][rows]
            grown = np.where(before[:, number] >= 0, np.minimum(before[:, number] + (not waking), ticks), 0)
            counts[:, number] = np.where(holds, grown, -1)
            rows = rows + np.where(counts[:, number] >= ticks, self.table.settings << number, 0)
        kept = self.allowed[rows]
        return settings[kept], counts[kept], rows[kept]


def has_release(schedule: FunctionSchedule) -> bool:
    return any(rule.effect.kind is EffectKind.RELEASE for rule in schedule.rules)
