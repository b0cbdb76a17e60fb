"""A schedule of the size of a large build: 40 inputs (among them a 4-position selector), 200 outputs, 300 rules, 300 claims."""

from random import Random

from builds.engineering.functions.conditions import (
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
    Head,
    Input,
    Rule,
)
from builds.engineering.functions.vocabulary import (
    ClaimKind,
    EffectKind,
    FailState,
    HeadRule,
    InputKind,
    OutputState,
    Quantifier,
)

__all__ = ["large_schedule"]

_POSITIONS = ("off", "travel", "respond", "scene")


def large_schedule(
    seed: int = 1, *, inputs: int = 40, channels: int = 200, rules: int = 300, claims: int = 300
) -> FunctionSchedule:
    """Return the large schedule; about 3.5 channels to a rule and 3.5 terms to a condition, a timer in one of 40 rules."""
    random = Random(seed)  # noqa: S311  a made-up schedule, the same every time
    made_inputs = (
        Input(key="mode", kind=InputKind.SELECTOR, positions=_POSITIONS, rest="off"),
        *(Input(key=f"in {n}", kind=InputKind.LATCHING if n % 10 == 0 else InputKind.SIGNAL) for n in range(1, inputs)),
    )
    made_channels = tuple(Channel(key=f"out {n}", current_a=1.0) for n in range(channels))
    heads = tuple(
        Head(
            key=f"head {n}",
            channels=tuple(channel.key for channel in made_channels[3 * n : 3 * n + 3]),
            max_current_a=2.0,
            colours=HeadRule.FIRST if n % 2 else HeadRule.TOGETHER,
        )
        for n in range(channels // 6)
    )
    sets = tuple(
        ChannelSet(key=f"set {n}", channels=tuple(channel.key for channel in random.sample(made_channels, 4)))
        for n in range(channels // 5)
    )
    return FunctionSchedule(
        inputs=made_inputs,
        channels=made_channels,
        heads=heads,
        sets=sets,
        patterns=tuple(_pattern(key, lit) for key, lit in (("slow", 500), ("quick", 200), ("double", 100))),
        rules=tuple(_rule(random, n, made_inputs, made_channels, sets) for n in range(rules)),
        claims=tuple(_claim(random, n, made_inputs, made_channels, sets) for n in range(claims)),
    )


def _pattern(key: str, lit_ms: int) -> FlashPattern:
    return FlashPattern(
        key=key, steps=(FlashStep(duration_ms=lit_ms), FlashStep(duration_ms=800 - lit_ms, level_percent=0))
    )


def _leaf(random: Random, inputs: tuple[Input, ...]) -> InputIs:
    if random.random() < 0.3:
        return InputIs(input="mode", values=(random.choice(_POSITIONS[1:]),))
    return InputIs(input=random.choice(inputs[1:]).key)


def _condition(random: Random, inputs: tuple[Input, ...], *, timer: bool) -> Condition:
    ifs: list[Condition] = [_leaf(random, inputs) for _ in range(random.randint(2, 4))]
    if timer:
        ifs[0] = random.choice((ForAtLeast, ForAtMost))(term=ifs[0], duration_ms=random.choice((1000, 3000, 10_000)))
    if random.random() < 0.5:
        ifs[-1] = Not(term=ifs[-1])
    if random.random() < 0.3:
        return AllOf(terms=(AnyOf(terms=tuple(ifs)), _leaf(random, inputs)))
    return AllOf(terms=tuple(ifs))


def _rule(
    random: Random, n: int, inputs: tuple[Input, ...], channels: tuple[Channel, ...], sets: tuple[ChannelSet, ...]
) -> Rule:
    effect = random.choice(
        (
            Effect(kind=EffectKind.OFF),
            Effect(kind=EffectKind.STEADY),
            Effect(kind=EffectKind.FLASH, pattern="slow", sync="all"),
            Effect(kind=EffectKind.FLASH, pattern="quick", sync="all", phase_ms=400),
            Effect(kind=EffectKind.FLASH, pattern="double", sync="all"),
            Effect(kind=EffectKind.INHIBIT) if n % 5 == 0 else Effect(kind=EffectKind.STEADY, level_percent=30),
        )
    )
    own = channels[n % len(channels)].key
    return Rule(
        key=f"rule {n}",
        priority=random.randint(0, 60),
        condition=_condition(random, inputs, timer=n % 40 == 0),
        effect=effect,
        targets=(own, random.choice(sets).key) if n % 3 else (own,),
        fail=FailState.APPLIES if random.random() < 0.2 else FailState.DOES_NOT_APPLY,
    )


def _claim(
    random: Random, n: int, inputs: tuple[Input, ...], channels: tuple[Channel, ...], sets: tuple[ChannelSet, ...]
) -> Claim:
    said = OutputIs(target=random.choice(channels).key, state=random.choice((OutputState.LIT, OutputState.FLASHING)))
    if n % 2:
        other = OutputIs(target=random.choice(sets).key, state=OutputState.STEADY, quantifier=Quantifier.ANY)
        return Claim(
            key=f"claim {n}", kind=ClaimKind.NEVER, condition=AllOf(terms=(_leaf(random, inputs), said, other))
        )
    return Claim(
        key=f"claim {n}",
        kind=ClaimKind.WHENEVER,
        condition=AllOf(terms=(_leaf(random, inputs), _leaf(random, inputs))),
        then=Not(term=said),
    )
