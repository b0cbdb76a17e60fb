"""
A function schedule as frozen values: inputs, output channels, heads, patterns, sets, rules, givens and claims.

Ranges of one part are checked where it is made; what is between the parts (a rule on a channel that is not there) by
:mod:`builds.engineering.functions.names`. Keys are the names people use in rules; a name with spaces is quoted there or
written with hyphens.
"""

from dataclasses import dataclass

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.conditions import Condition
from builds.engineering.functions.patterns import FlashPattern
from builds.engineering.functions.vocabulary import (
    LOST,
    OFF,
    ON,
    ActiveLevel,
    ChannelJob,
    ChannelKind,
    ClaimKind,
    Colour,
    DimMethod,
    EffectKind,
    Facing,
    FailState,
    HeadRule,
    InputKind,
    Level,
    SignalMeaning,
    SwitchedSide,
)
from builds.engineering.ranges import check_at_least, check_choice, check_count, check_key

__all__ = [
    "Channel",
    "ChannelSet",
    "Claim",
    "Effect",
    "FunctionSchedule",
    "GatewaySource",
    "Given",
    "Head",
    "Input",
    "Rule",
    "WireSource",
]

_MAX_HOLD_MS = 600_000


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSource:
    """A wire of the vehicle or of a control: its pin, the voltage at which it says yes, whether that blinks."""

    pin: str
    active: ActiveLevel = ActiveLevel.HIGH
    blinking: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class GatewaySource:
    """A message of the vehicle's gateway: its name, how often it comes, what it says while the vehicle sleeps."""

    message: str
    rate_hz: float
    asleep: str = OFF

    def __post_init__(self) -> None:
        if not 0.001 <= self.rate_hz <= 10_000:
            raise OutOfRange("rate_hz", self.rate_hz, "from 0.001 to 10,000 a second")


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """
    Something rules read: a signal of the vehicle, or a control.

    A selector or dimmer has named positions, everything else is on or off; each can also be lost. ``rest`` is where it
    stands when nobody asks for anything. ``hold_ms`` keeps an input on for that long after its source last said so: what
    a blinking wire needs to be read as one, and what keeps a figure at its limit from wavering.
    """

    key: str
    kind: InputKind
    rest: str = OFF
    positions: tuple[str, ...] = ()
    means: SignalMeaning = SignalMeaning.OTHER
    source: WireSource | GatewaySource | None = None
    hold_ms: int | None = None

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_choice("kind", self.kind, InputKind)
        if self.kind.has_positions and not 2 <= len(set(self.positions)) == len(self.positions):
            raise OutOfRange("positions", self.positions, "two or more different names")
        if not self.kind.has_positions and self.positions:
            raise OutOfRange("positions", self.positions, "left out, for it is on or off")
        if LOST in self.positions:
            raise OutOfRange("positions", LOST, "another name: every input can be lost")
        if self.rest not in self.stands:
            raise OutOfRange("rest", self.rest, "one of " + ", ".join(self.stands))
        if self.kind is InputKind.LATCHING and self.rest != OFF:
            raise OutOfRange("rest", self.rest, "off, which is how a latching button starts")
        if isinstance(self.source, GatewaySource) and self.source.asleep not in self.values:
            raise OutOfRange("asleep", self.source.asleep, "one of " + ", ".join(self.values))
        if self.hold_ms is not None and self.kind.has_positions:
            raise OutOfRange("hold_ms", self.hold_ms, "left out, for only what is on or off is held on")
        if self.hold_ms is not None and (not isinstance(self.hold_ms, int) or not 1 <= self.hold_ms <= _MAX_HOLD_MS):
            raise OutOfRange("hold_ms", self.hold_ms, "from 1 ms to 10 min")

    @property
    def stands(self) -> tuple[str, ...]:
        """The values it can have while it is not lost, in order."""
        return self.positions if self.kind.has_positions else (OFF, ON)

    @property
    def values(self) -> tuple[str, ...]:
        """Every value it can have, lost last."""
        return (*self.stands, LOST)


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """
    One output: a colour of a lamp head, a siren, a relay, an outlet, an inhibit.

    ``load`` is the key of the load in the design that it feeds, ``current_a`` what it takes while on. ``facing`` is the
    side of the vehicle a lamp shines to. A channel whose ``job`` is one of the vehicle's required lamps does what the
    vehicle asks of it while no rule drives it.
    """

    key: str
    kind: ChannelKind = ChannelKind.LAMP
    side: SwitchedSide = SwitchedSide.HIGH
    zone: str = ""
    facing: Facing = Facing.NONE
    level: Level = Level.NONE
    colour: Colour = Colour.NONE
    load: str = ""
    current_a: float = 0.0
    job: ChannelJob = ChannelJob.OTHER

    def __post_init__(self) -> None:
        check_key("key", self.key)
        if not 0 <= self.current_a <= 2000:
            raise OutOfRange("current_a", self.current_a, "from 0 to 2,000 A")


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """
    A lamp head with several colours in it, each a channel.

    ``max_current_a`` is the most it may take with everything that is lit at one moment, 0 where nobody says. With the rule ``together`` all
    colours asked for are lit; with ``first`` only the first of them in the order of ``channels``; with ``shared`` the
    driver lowers each so that the maximum holds.
    """

    key: str
    channels: tuple[str, ...]
    max_current_a: float = 0.0
    colours: HeadRule = HeadRule.TOGETHER
    dims_by: DimMethod = DimMethod.PULSE_WIDTH

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_at_least("max_current_a", self.max_current_a, 0.0)
        if len(set(self.channels)) != len(self.channels) or not self.channels:
            raise OutOfRange("channels", self.channels, "one or more different channels")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelSet:
    """A name for several channels: front, rear warning, outlets."""

    key: str
    channels: tuple[str, ...]

    def __post_init__(self) -> None:
        check_key("key", self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """
    What a rule does.

    ``level_percent`` is the brightness of steady and flash, and the ceiling of dim. ``sync`` names the clock a flash
    keeps step with, ``phase_ms`` how much later it starts. Inhibit holds its targets off whatever else is asked of them;
    dim lowers what is lit and lights nothing; release lets a latching button go.
    """

    kind: EffectKind
    pattern: str = ""
    sync: str = ""
    phase_ms: int = 0
    level_percent: int = 100

    def __post_init__(self) -> None:
        check_choice("kind", self.kind, EffectKind)
        check_count("level_percent", self.level_percent, least=1, most=100)
        check_count("phase_ms", self.phase_ms, least=0)
        if bool(self.pattern) != (self.kind is EffectKind.FLASH):
            raise OutOfRange("pattern", self.pattern, "named for flash, and for nothing else")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """
    While ``condition`` holds, ``effect`` is asked of ``targets`` (channels, sets, or latching buttons to release).

    Of several rules that hold for one channel the highest ``priority`` decides; ``fail`` says what this rule does when
    lost signals leave its condition undecided.
    """

    key: str
    priority: int
    condition: Condition
    effect: Effect
    targets: tuple[str, ...]
    fail: FailState = FailState.DOES_NOT_APPLY

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_choice("fail", self.fail, FailState)
        check_count("priority", self.priority, least=0)
        if not self.targets:
            raise OutOfRange("targets", self.targets, "one or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """Something the vehicle never does (park and reverse at once), with its reason; proofs leave such settings out."""

    key: str
    condition: Condition
    basis: str = ""

    def __post_init__(self) -> None:
        check_key("key", self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """
    Something that has to hold in every reachable state.

    ``always`` its condition, ``never`` its condition, or ``whenever`` its condition ``then`` another. It is broken by a
    state that certainly breaks it: a lost signal leaves a condition undecided, unless the claim asks "is lost". ``basis``
    says where it comes from, ``defers_to`` who decides.
    """

    key: str
    kind: ClaimKind
    condition: Condition
    then: Condition | None = None
    basis: str = ""
    defers_to: str = ""

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_choice("kind", self.kind, ClaimKind)
        if (self.then is not None) != (self.kind is ClaimKind.WHENEVER):
            raise OutOfRange("then", self.then, "given for whenever, and for nothing else")


@dataclass(frozen=True, slots=True, kw_only=True)
class FunctionSchedule:
    """The whole: every input and output of a build and what each control does."""

    inputs: tuple[Input, ...] = ()
    channels: tuple[Channel, ...] = ()
    heads: tuple[Head, ...] = ()
    patterns: tuple[FlashPattern, ...] = ()
    sets: tuple[ChannelSet, ...] = ()
    rules: tuple[Rule, ...] = ()
    givens: tuple[Given, ...] = ()
    claims: tuple[Claim, ...] = ()
