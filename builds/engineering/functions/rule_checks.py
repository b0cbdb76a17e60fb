"""Rules that can never hold or never decide, rules that tie, and outputs that nothing drives."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.findings import Finding
from builds.engineering.functions.appearances import appearance_of, channel_logics
from builds.engineering.functions.catalogue import found
from builds.engineering.functions.gates import FALSE, Literal
from builds.engineering.functions.letting_go import lets_go, letting_nothing_go
from builds.engineering.functions.printing import print_name, print_title
from builds.engineering.functions.proof import SpaceInUse, Verdict, find_state
from builds.engineering.functions.sampling import Sample
from builds.engineering.functions.schedule import Rule
from builds.engineering.functions.vocabulary import EffectKind
from builds.engineering.functions.words import listed, trace_sentence

__all__ = [
    "RuleWins",
    "check_outputs_driven",
    "check_rules",
    "check_ties",
    "gates_to_sample",
    "is_possible",
    "rule_wins",
]

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class RuleWins:
    """Which rules can hold, and by rule on which of its channels it can and cannot decide."""

    holds: tuple[bool, ...]
    wins_on: tuple[tuple[int, ...], ...]
    never_on: tuple[tuple[int, ...], ...]


def is_possible(spaces: SpaceInUse, sample: Sample, literal: Literal) -> bool:
    """
    Whether a reachable state makes a literal true; where a search can neither reach nor exclude one, yes.

    Parameters
    ----------
    spaces : SpaceInUse
        Of the schedule.
    sample : Sample
        Taken after the literal's gate was made.
    literal : Literal
        What to look for.
    """
    if literal == FALSE:
        return False
    if sample.shows(literal):
        return True
    compiled = spaces.compiled
    if not compiled.gates.timers_in((literal, compiled.possible)):
        return spaces.space().some([literal])
    return find_state(spaces, (literal,))[0] is not Verdict.PROVED


def rule_wins(spaces: SpaceInUse, sample: Sample) -> RuleWins:
    """Return what each rule can decide; a rule that lets buttons go holds where it meets one that is on."""
    compiled = spaces.compiled
    possible: dict[Literal, bool] = {}

    def can(literal: Literal) -> bool:
        if literal not in possible:
            possible[literal] = is_possible(spaces, sample, literal)
        return possible[literal]

    wins_on: list[list[int]] = [[] for _ in compiled.holds]
    never_on: list[list[int]] = [[] for _ in compiled.holds]
    for channel, logic in enumerate(channel_logics(compiled)):
        for rule, win in logic.wins:
            decides = can(compiled.gates.all_of((win, -logic.cut)))
            (wins_on if decides else never_on)[rule].append(channel)
        for rule, win in logic.dims:
            (wins_on if can(win) else never_on)[rule].append(channel)
        for rule in compiled.channels[channel].cuts:
            wins_on[rule].append(channel)
    acts = _let_go(spaces, sample)
    holds = tuple(acts[rule] if rule in acts else can(literal) for rule, literal in enumerate(compiled.holds))
    return RuleWins(holds, tuple(map(tuple, wins_on)), tuple(map(tuple, never_on)))


def _let_go(spaces: SpaceInUse, sample: Sample) -> dict[int, bool]:
    """Whether each rule that lets buttons go ever meets one that is on: a moment in which nothing has been let go yet."""
    compiled = spaces.compiled
    rules = dict.fromkeys(rule for rule, _ in compiled.releases)
    with SpaceInUse(letting_nothing_go(compiled)) as moments:
        return {rule: is_possible(moments, sample, lets_go(compiled, rule)) for rule in rules}


def gates_to_sample(spaces: SpaceInUse) -> None:
    """Make the gates that are asked about, before a sample is taken."""
    compiled = spaces.compiled
    for logic in channel_logics(compiled):
        for _, win in logic.wins:
            compiled.gates.all_of((win, -logic.cut))
    possible_ties(spaces)


def check_rules(spaces: SpaceInUse, sample: Sample, wins: RuleWins) -> Iterator[Finding]:
    """Yield a finding for every rule that cannot hold, cannot decide, or cannot decide on some of its targets."""
    compiled = spaces.compiled
    for number, rule in enumerate(compiled.schedule.rules):
        subject, name = f"rule:{rule.key}", print_title(rule.key)
        if not wins.holds[number]:
            yield found("rule-never-holds", subject, rule=name)
        elif rule.effect.kind is not EffectKind.RELEASE and not wins.wins_on[number]:
            others = [print_title(compiled.schedule.rules[other].key) for other in _shadowing(spaces, number)]
            decide = "decides" if len(others) == 1 else "decide"
            yield found("rule-never-wins", subject, rule=name, others=listed(others), decide=decide)
        elif wins.never_on[number]:
            channels = [print_name(compiled.schedule.channels[channel].key) for channel in wins.never_on[number]]
            yield found("rule-never-wins-on", subject, rule=name, channels=listed(channels))


def _shadowing(spaces: SpaceInUse, number: int) -> list[int]:
    """The rules that between them always hold where this one does, on all its channels; as the solver blames them."""
    compiled, space = spaces.compiled, spaces.space()
    blamed: set[int] = set()
    for rules in compiled.channels:
        layer = rules.dims if number in rules.dims else rules.drives
        if number in layer:
            above = (*rules.cuts, *layer[: layer.index(number)])
            assumed = [-compiled.holds[other] for other in above]
            if not space.some([compiled.holds[number], *assumed]):
                core = set(space.core(assumed))
                blamed |= {other for other in above if -compiled.holds[other] in core}
    return sorted(blamed, key=lambda other: (-compiled.schedule.rules[other].priority, other))


def check_ties(spaces: SpaceInUse, sample: Sample) -> Iterator[Finding]:
    """Yield a finding for every two rules of one priority that ask different things of a channel and can both decide."""
    compiled = spaces.compiled
    rules = compiled.schedule.rules
    for (one, other), ties in possible_ties(spaces).items():
        channels = [channel for channel, literal in ties if is_possible(spaces, sample, literal)]
        if channels:
            _, example = find_state(spaces, (dict(ties)[channels[0]],))
            yield found(
                "rule-tie",
                f"rule:{rules[one].key}",
                rule=print_title(rules[one].key),
                other=print_title(rules[other].key),
                priority=str(rules[one].priority),
                channels=listed(print_name(compiled.schedule.channels[channel].key) for channel in channels),
                how="in some sequence" if example is None else trace_sentence(compiled.schedule, example.trace),
            )


def possible_ties(spaces: SpaceInUse) -> dict[Pair, list[tuple[int, Literal]]]:
    """Return by pair of rules the channels they meet on and where both would decide there."""
    compiled = spaces.compiled
    ties: dict[Pair, list[tuple[int, Literal]]] = {}
    for channel, (rules, logic) in enumerate(zip(compiled.channels, channel_logics(compiled), strict=True)):
        for layer, uncut in ((rules.drives, -logic.cut), (rules.dims, logic.lit)):
            for one, other in _equals(compiled.schedule.rules, layer):
                if _looks_different(spaces, one, other):
                    priority = compiled.schedule.rules[one].priority
                    above = [
                        -compiled.holds[rule] for rule in layer if compiled.schedule.rules[rule].priority > priority
                    ]
                    both = (compiled.holds[one], compiled.holds[other], uncut, *above)
                    ties.setdefault((one, other), []).append((channel, compiled.gates.all_of(both)))
    return ties


def _equals(rules: tuple[Rule, ...], layer: tuple[int, ...]) -> Iterable[Pair]:
    return (
        (one, other)
        for place, one in enumerate(layer)
        for other in layer[place + 1 :]
        if rules[one].priority == rules[other].priority
    )


def _looks_different(spaces: SpaceInUse, one: int, other: int) -> bool:
    effects = [spaces.compiled.schedule.rules[rule].effect for rule in (one, other)]
    if effects[0].kind is EffectKind.DIM:
        return effects[0] != effects[1]
    return appearance_of(spaces.compiled, effects[0], 100) != appearance_of(spaces.compiled, effects[1], 100)


def check_outputs_driven(spaces: SpaceInUse, sample: Sample) -> Iterator[Finding]:
    """Yield a finding for every channel that nothing ever lights; that rules hold it dark is said apart."""
    compiled = spaces.compiled
    for number, (channel, logic) in enumerate(zip(compiled.schedule.channels, channel_logics(compiled), strict=True)):
        if is_possible(spaces, sample, logic.lit):
            continue
        subject, name = f"channel:{channel.key}", print_name(channel.key)
        dark = [rule for rule, win in logic.wins if is_possible(spaces, sample, win)]
        dark += [rule for rule in compiled.channels[number].cuts if is_possible(spaces, sample, compiled.holds[rule])]
        if dark:
            rules = listed(f"rule {print_title(compiled.schedule.rules[rule].key)}" for rule in sorted(dark))
            hold = "holds" if len(dark) == 1 else "hold"
            yield found("output-only-held-dark", subject, channel=name, rules=rules, hold=hold)
        else:
            yield found("output-undriven", subject, channel=name)
