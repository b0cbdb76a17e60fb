"""A whole schedule with every name looked up, and every name that stands for nothing reported."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from builds.engineering.errors import UnknownTableEntry
from builds.engineering.functions.conditions import Condition
from builds.engineering.functions.faults import LanguageFault, Place, fault
from builds.engineering.functions.head_sharing import MOST_WAYS, ways_together
from builds.engineering.functions.names import ConditionResolver, Names, PlaceOf, folded, names_of, suggestion
from builds.engineering.functions.patterns import flash_limit, flash_limit_names
from builds.engineering.functions.schedule import (
    Channel,
    ChannelSet,
    Claim,
    FunctionSchedule,
    Given,
    Head,
    Input,
    Rule,
)
from builds.engineering.functions.syntax_faults import quoted_or
from builds.engineering.functions.vocabulary import EffectKind, InputKind

__all__ = ["resolve_schedule"]


def _nowhere(_subject: str, _role: str, _at: int) -> Place:
    return Place()


def resolve_schedule(
    schedule: FunctionSchedule, place_of: PlaceOf = _nowhere
) -> tuple[FunctionSchedule, tuple[LanguageFault, ...]]:
    """
    Return the schedule with declared names in all its parts, and the faults of those that are not.

    Parameters
    ----------
    schedule : FunctionSchedule
        As typed or as a form sends it.
    place_of : callable
        Gives the place in a text of an offset in a statement; without a text, nowhere.

    Returns
    -------
    tuple
        The resolved schedule, and its faults in schedule order. Only without faults may it be compiled.
    """
    work = _Resolving(names=names_of(schedule), place_of=place_of)
    work.find_doubles(schedule)
    resolved = replace(
        schedule,
        sets=tuple(map(work.set_, schedule.sets)),
        heads=tuple(work.heads(schedule.heads)),
        rules=tuple(map(work.rule, schedule.rules)),
        givens=tuple(map(work.given, schedule.givens)),
        claims=tuple(map(work.claim, schedule.claims)),
    )
    for pattern in schedule.patterns:
        work.limit(pattern.key, pattern.limit)
    if not work.faults:
        work.rich_heads(resolved)
    return resolved, tuple(work.faults)


@dataclass(slots=True)
class _Resolving:
    names: Names
    place_of: PlaceOf
    faults: list[LanguageFault] = field(default_factory=list)

    def find_doubles(self, schedule: FunctionSchedule) -> None:
        """Report names used twice: in the shared space, and in each family of its own."""
        shared = [*_subjects("input", schedule.inputs), *_subjects("channel", schedule.channels)]
        shared += _subjects("set", schedule.sets)
        families = [
            ("input, channel or set", shared),
            ("head", _subjects("head", schedule.heads)),
            ("pattern", [(f"pattern:{part.key}", part.key) for part in schedule.patterns]),
            ("rule", _subjects("rule", schedule.rules)),
            ("given", _subjects("given", schedule.givens)),
            ("claim", _subjects("claim", schedule.claims)),
        ]
        for what, subjects in families:
            seen: set[str] = set()
            for subject, key in subjects:
                if folded(key) in seen:
                    self._fault("name-twice", subject, "name", found=key, what=what)
                seen.add(folded(key))

    def set_(self, part: ChannelSet) -> ChannelSet:
        """The set with declared channels."""
        return replace(part, channels=self._channels(f"set:{part.key}", part.channels))

    def heads(self, heads: Iterable[Head]) -> Iterator[Head]:
        """Every head with declared channels, none of them in two."""
        taken: set[str] = set()
        for head in heads:
            subject = f"head:{head.key}"
            channels = self._channels(subject, head.channels)
            for number, channel in enumerate(channels):
                if channel in taken:
                    self._fault("channel-in-two-heads", subject, f"member {number}", found=channel)
            taken |= set(channels)
            yield replace(head, channels=channels)

    def rich_heads(self, schedule: FunctionSchedule) -> None:
        """Report shared heads whose colours meet in more ways than can be looked at one by one."""
        for head, ways in ways_together(schedule):
            if ways > MOST_WAYS:
                self._fault("head-too-rich", f"head:{head.key}", "name", found=f"{ways:,}", expected=f"{MOST_WAYS:,}")

    def rule(self, rule: Rule) -> Rule:
        """The rule with declared targets, pattern and inputs."""
        subject = f"rule:{rule.key}"
        targets = tuple(self._target(rule, subject, number) for number in range(len(rule.targets)))
        effect = rule.effect
        if effect.pattern:
            pattern = self.names.patterns.get(folded(effect.pattern))
            if pattern is None:
                expected = suggestion(effect.pattern, self.names.patterns.values())
                self._fault("pattern-unknown", subject, "pattern", found=effect.pattern, expected=expected)
            effect = replace(effect, pattern=pattern or effect.pattern)
        return replace(rule, targets=targets, effect=effect, condition=self._condition(subject, rule.condition))

    def given(self, given: Given) -> Given:
        """The given with declared inputs."""
        return replace(given, condition=self._condition(f"given:{given.key}", given.condition))

    def claim(self, claim: Claim) -> Claim:
        """The claim with declared inputs and outputs."""
        subject = f"claim:{claim.key}"
        then = None if claim.then is None else self._condition(subject, claim.then, reads_outputs=True)
        return replace(claim, condition=self._condition(subject, claim.condition, reads_outputs=True), then=then)

    def limit(self, key: str, limit: str) -> None:
        """Report a pattern that names a limit no table has."""
        if limit:
            try:
                flash_limit(limit)
            except UnknownTableEntry:
                self._fault(
                    "word-unknown",
                    f"pattern:{key}",
                    "limit",
                    found=limit,
                    what="limit of flash rates",
                    expected=quoted_or(flash_limit_names()),
                )

    def _condition(self, subject: str, condition: Condition, *, reads_outputs: bool = False) -> Condition:
        resolver = ConditionResolver(self.names, subject, self.place_of, reads_outputs, self.faults)
        return resolver.resolve(condition)

    def _target(self, rule: Rule, subject: str, number: int) -> str:
        """A channel or a set; for release a latching button."""
        written, role = rule.targets[number], f"member {number}"
        name = folded(written)
        releases = rule.effect.kind is EffectKind.RELEASE
        if name in self.names.inputs:
            declared = self.names.inputs[name]
            if not releases or declared.kind is not InputKind.LATCHING:
                expected = "a latching button" if releases else "a channel or a set"
                self._fault(
                    "target-unfit", subject, role, found=written, what=f"a {declared.kind} input", expected=expected
                )
            return declared.key
        found: Channel | ChannelSet | None = self.names.channels.get(name) or self.names.sets.get(name)
        if found is None:
            among = self._latching() if releases else [*self._keys()]
            self._fault("name-unknown", subject, role, found=written, expected=suggestion(written, among))
            return written
        if releases:
            self._fault("target-unfit", subject, role, found=written, what="an output", expected="a latching button")
        return found.key

    def _channels(self, subject: str, written: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(self._channel(subject, f"member {number}", name) for number, name in enumerate(written))

    def _channel(self, subject: str, role: str, written: str) -> str:
        name = folded(written)
        found = self.names.channels.get(name)
        other = "a set" if name in self.names.sets else "an input" if name in self.names.inputs else ""
        if found is None and other:
            self._fault("target-unfit", subject, role, found=written, what=other, expected="a channel")
        elif found is None:
            expected = suggestion(written, [channel.key for channel in self.names.channels.values()])
            self._fault("name-unknown", subject, role, found=written, expected=expected)
        return found.key if found else written

    def _keys(self) -> Iterator[str]:
        yield from (part.key for part in self.names.channels.values())
        yield from (part.key for part in self.names.sets.values())

    def _latching(self) -> list[str]:
        return [part.key for part in self.names.inputs.values() if part.kind is InputKind.LATCHING]

    def _fault(self, name: str, subject: str, role: str, **words: str) -> None:
        self.faults.append(fault(name, self.place_of(subject, role, 0), subject=subject, **words))


def _subjects(
    family: str, parts: Iterable[Input | Channel | ChannelSet | Head | Rule | Given | Claim]
) -> list[tuple[str, str]]:
    return [(f"{family}:{part.key}", part.key) for part in parts]
