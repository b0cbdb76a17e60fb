"""
The delays of the shedding: what has been below its voltage long enough to open, and above it long enough to close.

A timer runs while its condition holds and starts again from nothing when it stops holding. A step that has switched off as
often as ``MOST_CYCLES`` in one stage stays off in it: that it chatters is known by then.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from builds.engineering.electrical.energy.stages import ShedRule

__all__ = ["MOST_CYCLES", "Timers"]

MOST_CYCLES = 20


@dataclass(slots=True)
class Timers:
    """The rules with what they have switched off; ``since`` says from when a rule's condition has held."""

    rules: tuple[ShedRule, ...]
    off: set[str] = field(default_factory=set)
    since: dict[str, float] = field(default_factory=dict)
    cycles: dict[str, int] = field(default_factory=dict)

    def start_stage(self) -> None:
        """Count cycles anew."""
        self.cycles.clear()

    def waits(self, rule: ShedRule) -> bool:
        """Tell whether a rule still has something to wait for in this stage."""
        return not (rule.key in self.off and self.cycles.get(rule.key, 0) >= MOST_CYCLES)

    def level_of(self, rule: ShedRule) -> tuple[float, int]:
        """Return the voltage whose crossing starts or stops a rule's timer, and -1 for downwards or 1 for upwards."""
        is_off, runs = rule.key in self.off, rule.key in self.since
        level = rule.on_above_v if is_off else rule.off_below_v
        return level, 1 if is_off != runs else -1

    def cross(self, rule: ShedRule, now_s: float) -> None:
        """
        Start a rule's timer, or stop it where it runs.

        Parameters
        ----------
        rule : ShedRule
            Whose condition began or ceased to hold.
        now_s : float
            When. [s]
        """
        if rule.key in self.since:
            del self.since[rule.key]
        else:
            self.since[rule.key] = now_s

    def settle(self, bank_v: Sequence[float], now_s: float, *, cranking: bool) -> None:
        """
        Set every timer by the voltages as they stand after something jumped.

        Parameters
        ----------
        bank_v : sequence of float
            Voltage of every battery.
        now_s : float
            When. [s]
        cranking : bool
            Whether the engine is being cranked: the timers of rules that ignore it are left as they are.
        """
        for rule in self.rules:
            if (cranking and rule.ignores_crank) or not self.waits(rule):
                continue
            volts = bank_v[rule.bank]
            holds = volts > rule.on_above_v if rule.key in self.off else volts < rule.off_below_v
            if holds != (rule.key in self.since):
                self.cross(rule, now_s)

    def hold(self, span_s: float) -> None:
        """
        Let the timers of rules that ignore cranking stand still.

        Parameters
        ----------
        span_s : float
            How long the engine was cranked. [s]
        """
        for rule in self.rules:
            if rule.ignores_crank and rule.key in self.since:
                self.since[rule.key] += span_s

    def next_due_s(self, *, cranking: bool) -> tuple[float, ShedRule | None]:
        """Return when the next rule switches and which one; infinity and None where none is waiting."""
        due_s, due = math.inf, None
        for rule in self.rules:
            if rule.key in self.since and not (cranking and rule.ignores_crank):
                delay_s = rule.on_delay_s if rule.key in self.off else rule.off_delay_s
                if self.since[rule.key] + delay_s < due_s:
                    due_s, due = self.since[rule.key] + delay_s, rule
        return due_s, due

    def switch(self, rule: ShedRule) -> bool:
        """Switch a rule's loads off, or on again; return whether they are off now."""
        self.since.pop(rule.key, None)
        if rule.key in self.off:
            self.off.discard(rule.key)
            return False
        self.off.add(rule.key)
        self.cycles[rule.key] = self.cycles.get(rule.key, 0) + 1
        return True
