"""
What each name of a schedule stands for.

Inputs, channels and sets share one space of names, because claims speak of all of them. A name with spaces may be written
with hyphens: ``"turn left"`` and ``turn-left`` are one. Resolving puts the declared spelling in place of the written one
and reports every name that stands for nothing.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TypeVar

from builds.engineering.functions.conditions import (
    AllOf,
    AnyOf,
    Condition,
    InputIs,
    OutputIs,
)
from builds.engineering.functions.faults import LanguageFault, Place, fault
from builds.engineering.functions.schedule import Channel, ChannelSet, FunctionSchedule, Input
from builds.engineering.functions.syntax_faults import quoted_or
from builds.engineering.functions.vocabulary import OutputState, Quantifier

__all__ = ["ConditionResolver", "Names", "PlaceOf", "folded", "names_of"]

PlaceOf = Callable[[str, str, int], Place]  # subject, role, offset from 1 within its text (0: unknown)
Named = TypeVar("Named", Input, Channel, ChannelSet)


def folded(name: str) -> str:
    """Return the form in which two spellings of a name are equal."""
    return name.replace("-", " ")


def suggestion(name: str, among: Iterable[str]) -> str:
    """Return what was probably meant by a name, or what there is."""
    declared = list(among)
    close = get_close_matches(name, declared, n=1, cutoff=0.6)
    return f"“{close[0]}” perhaps" if close else quoted_or(sorted(declared)[:8])


@dataclass(frozen=True, slots=True)
class Names:
    """The names of a schedule by their folded form."""

    inputs: dict[str, Input]
    channels: dict[str, Channel]
    sets: dict[str, ChannelSet]
    patterns: dict[str, str]

    def members(self, target: str) -> tuple[str, ...]:
        """Return the channels a declared target stands for, in order."""
        name = folded(target)
        if name in self.sets:
            return tuple(self.channels[folded(member)].key for member in self.sets[name].channels)
        return (self.channels[name].key,)


def names_of(schedule: FunctionSchedule) -> Names:
    """Return the names a schedule declares; of two alike the first counts."""
    return Names(
        inputs=_by_name(schedule.inputs),
        channels=_by_name(schedule.channels),
        sets=_by_name(schedule.sets),
        patterns={folded(pattern.key): pattern.key for pattern in reversed(schedule.patterns)},
    )


def _by_name(parts: Sequence[Named]) -> dict[str, Named]:
    return {folded(part.key): part for part in reversed(parts)}


@dataclass(slots=True)
class ConditionResolver:
    """Resolves the names of conditions of one statement; faults gather in ``faults``."""

    names: Names
    subject: str
    place_of: PlaceOf
    reads_outputs: bool
    faults: list[LanguageFault]

    def resolve(self, condition: Condition) -> Condition:
        """Return the condition with declared names, as far as it has any."""
        match condition:
            case InputIs():
                return self._input(condition)
            case OutputIs():
                return self._output(condition)
            case AllOf(terms=terms) | AnyOf(terms=terms):
                return replace(condition, terms=tuple(map(self.resolve, terms)))
            case _:
                return replace(condition, term=self.resolve(condition.term))

    def _input(self, read: InputIs) -> Condition:
        name = folded(read.input)
        if name in self.names.channels or name in self.names.sets:
            return self._output_read_as_input(read)
        declared = self.names.inputs.get(name)
        if declared is None:
            self._unknown(read.input, read.at)
            return read
        stands = {folded(value): value for value in declared.values}
        for value in read.values:
            if folded(value) not in stands:
                self._fault(
                    "value-unknown",
                    read.value_at,
                    what=f"“{declared.key}”",
                    found=value,
                    expected=quoted_or(stands.values()),
                )
        values = tuple(stands.get(folded(value), value) for value in read.values)
        return replace(read, input=declared.key, values=values)

    def _output_read_as_input(self, read: InputIs) -> Condition:
        """``siren is off`` reads like an input until the name is looked up."""
        value = read.values[0]
        if len(read.values) > 1 or value not in list(OutputState):
            if not self.reads_outputs:
                self._fault("output-in-condition", read.at, found=read.input)
            elif read.at == read.value_at:
                expected = quoted_or(f"is {state}" for state in OutputState)
                self._fault("state-missing", read.at, found=read.input, expected=expected)
            else:
                self._fault("state-unknown", read.value_at, found=value, expected=quoted_or(OutputState))
            return read
        return self._output(
            OutputIs(
                target=read.input,
                state=OutputState(value),
                negated=read.negated,
                at=read.at,
                value_at=read.value_at,
            )
        )

    def _output(self, read: OutputIs) -> Condition:
        name = folded(read.target)
        if name in self.names.inputs and read.quantifier is Quantifier.ONE:
            values = (read.state.value, read.pattern) if read.pattern else (read.state.value,)
            return self._input(
                InputIs(input=read.target, values=values, negated=read.negated, at=read.at, value_at=read.value_at)
            )
        if name not in self.names.channels and name not in self.names.sets:
            self._unknown(read.target, read.at)
            return read
        if not self.reads_outputs:
            self._fault("output-in-condition", read.at, found=read.target)
            return read
        is_set = name in self.names.sets
        if is_set != (read.quantifier is not Quantifier.ONE):
            self._fault("set-needs-any-or-all" if is_set else "one-needs-no-any", read.at, found=read.target)
        pattern = self.names.patterns.get(folded(read.pattern), read.pattern)
        if read.pattern and folded(read.pattern) not in self.names.patterns:
            expected = suggestion(read.pattern, self.names.patterns.values())
            self._fault("pattern-unknown", read.value_at, found=read.pattern, expected=expected)
        declared = self.names.sets[name].key if is_set else self.names.channels[name].key
        return replace(read, target=declared, pattern=pattern)

    def _unknown(self, name: str, at: int) -> None:
        among = [part.key for part in self.names.inputs.values()]
        if self.reads_outputs:
            among += [part.key for part in self.names.channels.values()]
            among += [part.key for part in self.names.sets.values()]
        of_position = [
            f"{quoted_or([f'{part.key} is {name}'])}, or {quoted_or([f'{part.key} is one of …, {name}'])}"
            for part in self.names.inputs.values()
            if part.kind.has_positions and name in part.positions
        ]
        self._fault("name-unknown", at, found=name, expected=(of_position or [suggestion(name, among)])[0])

    def _fault(self, name: str, at: int, **words: str) -> None:
        self.faults.append(fault(name, self.place_of(self.subject, "", at), subject=self.subject, **words))
