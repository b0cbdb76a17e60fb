"""Schedules made at random, small enough that every setting can be looked at."""

from random import Random

from builds.engineering.functions.conditions import (
    After,
    AllOf,
    AnyOf,
    Condition,
    ForAtLeast,
    ForAtMost,
    InputIs,
    Not,
    OutputIs,
)
from builds.engineering.functions.patterns import FlashPattern, FlashStep
from builds.engineering.functions.schedule import (
    Channel,
    ChannelSet,
    Claim,
    Effect,
    FunctionSchedule,
    Given,
    Head,
    Input,
    Rule,
)
from builds.engineering.functions.vocabulary import (
    LOST,
    ChannelJob,
    ClaimKind,
    EffectKind,
    FailState,
    HeadRule,
    InputKind,
    OutputState,
    Quantifier,
)

KINDS = (InputKind.SIGNAL, InputKind.SIGNAL, InputKind.TOGGLE, InputKind.LATCHING, InputKind.SELECTOR)
STATES = tuple(OutputState)
PATTERNS = tuple(
    FlashPattern(key=key, steps=(FlashStep(duration_ms=lit), FlashStep(duration_ms=dark, level_percent=0)))
    for key, lit, dark in (("slow", 400, 600), ("quick", 100, 200))
)


def random_schedule(
    random: Random, *, inputs: int, rules: int = 9, channels: int = 5, claims: int = 3, timers: bool = False
) -> FunctionSchedule:
    """Return a schedule whose every name stands for something."""
    made_inputs = tuple(random_input(random, number) for number in range(inputs))
    made_channels = tuple(
        Channel(
            key=f"out {number}",
            current_a=3.0 + number,
            job=random.choice((ChannelJob.OTHER, ChannelJob.OTHER, ChannelJob.STOP_LAMP)),
        )
        for number in range(channels)
    )
    keys = tuple(channel.key for channel in made_channels)
    sets = (ChannelSet(key="some", channels=keys[:3]), ChannelSet(key="others", channels=keys[2:]))
    heads = (Head(key="head", channels=keys[:2], max_current_a=5.0, colours=random.choice(tuple(HeadRule))),)
    givens = ()
    if random.random() < 0.3:
        givens = (
            Given(key="given", condition=AnyOf(terms=(random_leaf(random, made_inputs), *leaves_at_rest(made_inputs)))),
        )
    return FunctionSchedule(
        inputs=made_inputs,
        channels=made_channels,
        heads=heads,
        sets=sets,
        patterns=PATTERNS,
        givens=givens,
        rules=tuple(random_rule(random, number, made_inputs, keys, timers=timers) for number in range(rules)),
        claims=tuple(random_claim(random, number, made_inputs, keys) for number in range(claims)),
    )


def random_input(random: Random, number: int) -> Input:
    kind = random.choice(KINDS)
    positions = tuple(f"p{place}" for place in range(random.randint(2, 4))) if kind is InputKind.SELECTOR else ()
    rest = random.choice(positions) if positions else random.choice(("off", "off", "on"))
    return Input(key=f"in {number}", kind=kind, positions=positions, rest="off" if kind is InputKind.LATCHING else rest)


def leaves_at_rest(inputs: tuple[Input, ...]) -> tuple[Condition, ...]:
    """A term that holds at rest, so that a given made with it never forbids rest."""
    return (InputIs(input=inputs[0].key, values=(inputs[0].rest,)),)


def random_leaf(random: Random, inputs: tuple[Input, ...]) -> InputIs:
    part = random.choice(inputs)
    values = tuple(random.sample(part.values, random.choice((1, 1, min(2, len(part.values) - 1)))))
    if values == (LOST,) and random.random() < 0.5:
        values = (part.values[0],)
    return InputIs(input=part.key, values=values, negated=random.random() < 0.3)


def random_condition(random: Random, inputs: tuple[Input, ...], depth: int, *, timers: bool = False) -> Condition:
    if depth == 0 or random.random() < 0.3:
        return random_leaf(random, inputs)
    kind = random.choice((AllOf, AllOf, AnyOf, Not, *((ForAtLeast, ForAtMost, After) if timers else ())))
    if kind in (AllOf, AnyOf):
        count = random.randint(2, 3)
        return kind(terms=tuple(random_condition(random, inputs, depth - 1, timers=timers) for _ in range(count)))
    term = random_condition(random, inputs, depth - 1, timers=timers)
    return Not(term=term) if kind is Not else kind(term=term, duration_ms=random.choice((1000, 2000, 3000)))


def random_effect(random: Random) -> Effect:
    kind = random.choice((*EffectKind, EffectKind.FLASH, EffectKind.STEADY))
    if kind is EffectKind.FLASH:
        return Effect(kind=kind, pattern=random.choice(PATTERNS).key, level_percent=random.choice((100, 60)))
    return Effect(
        kind=kind, level_percent=random.choice((100, 30)) if kind in (EffectKind.STEADY, EffectKind.DIM) else 100
    )


def random_rule(random: Random, number: int, inputs: tuple[Input, ...], keys: tuple[str, ...], *, timers: bool) -> Rule:
    effect = random_effect(random)
    latches = [part.key for part in inputs if part.kind is InputKind.LATCHING]
    if effect.kind is EffectKind.RELEASE and not latches:
        effect = Effect(kind=EffectKind.OFF)
    targets = random.sample(latches if effect.kind is EffectKind.RELEASE else [*keys, "some", "others"], 1)
    return Rule(
        key=f"rule {number}",
        priority=random.randint(0, 4),
        condition=random_condition(random, inputs, 2, timers=timers),
        effect=effect,
        targets=tuple(targets),
        fail=random.choice(tuple(FailState)),
    )


def random_output(random: Random, keys: tuple[str, ...]) -> OutputIs:
    state = random.choice(STATES)
    pattern = random.choice(("", "slow")) if state is OutputState.FLASHING else ""
    if random.random() < 0.5:
        return OutputIs(target=random.choice(keys), state=state, pattern=pattern, negated=random.random() < 0.3)
    quantifier = random.choice((Quantifier.ANY, Quantifier.ALL, Quantifier.NONE))
    return OutputIs(target=random.choice(("some", "others")), state=state, pattern=pattern, quantifier=quantifier)


def random_claim(random: Random, number: int, inputs: tuple[Input, ...], keys: tuple[str, ...]) -> Claim:
    kind = random.choice((ClaimKind.NEVER, ClaimKind.WHENEVER, ClaimKind.ALWAYS))
    ifs = random_condition(random, inputs, 1)
    output = random_output(random, keys)
    match kind:
        case ClaimKind.NEVER:
            return Claim(key=f"claim {number}", kind=kind, condition=AllOf(terms=(ifs, output)))
        case ClaimKind.WHENEVER:
            return Claim(key=f"claim {number}", kind=kind, condition=ifs, then=output)
        case _:
            return Claim(
                key=f"claim {number}", kind=kind, condition=AnyOf(terms=(ifs, output, random_output(random, keys)))
            )
