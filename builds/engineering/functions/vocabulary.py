"""The words a function schedule is written in, as enumerations shared by core, models and documents."""

from enum import StrEnum

__all__ = [
    "LOST",
    "OFF",
    "ON",
    "ActiveLevel",
    "ChannelJob",
    "ChannelKind",
    "ClaimKind",
    "Colour",
    "DimMethod",
    "EffectKind",
    "Facing",
    "FailState",
    "HeadRule",
    "InputKind",
    "Level",
    "OutputState",
    "Quantifier",
    "SignalMeaning",
    "SwitchedSide",
]

ON, OFF, LOST = "on", "off", "lost"  # values of an input; a selector has its positions and LOST


class InputKind(StrEnum):
    """What an input is: a signal of the vehicle, or a control somebody works."""

    SIGNAL = "signal"
    SELECTOR = "selector"
    DIMMER = "dimmer"
    PUSH = "push"
    HOLD = "hold"
    LATCHING = "latching"
    TOGGLE = "toggle"

    @property
    def has_positions(self) -> bool:
        """Whether it stands in one of several named positions rather than on or off."""
        return self in (InputKind.SELECTOR, InputKind.DIMMER)


class SignalMeaning(StrEnum):
    """What an input tells, so that ready claims find it; a gear lever has positions, among them park and reverse."""

    OTHER = "other"
    IGNITION = "ignition"
    KEY_PRESENT = "key-present"
    ENGINE_RUNNING = "engine-running"
    GEAR = "gear"
    PARK = "park"
    PARKING_BRAKE = "parking-brake"
    REVERSE = "reverse"
    BRAKE = "brake"
    TURN_LEFT = "turn-left"
    TURN_RIGHT = "turn-right"
    DOOR = "door"
    HATCH = "hatch"
    HEADLAMPS = "headlamps"
    SPEED_ABOVE = "speed-above"
    LOW_VOLTAGE = "low-voltage"

    @property
    def is_threshold(self) -> bool:
        """Whether it tells of a figure that wavers around its limit."""
        return self in (SignalMeaning.SPEED_ABOVE, SignalMeaning.LOW_VOLTAGE)


class ActiveLevel(StrEnum):
    """The voltage at which a wire says yes."""

    HIGH = "high"
    LOW = "low"


class ChannelKind(StrEnum):
    """What hangs on an output channel."""

    LAMP = "lamp"
    SIREN = "siren"
    RELAY = "relay"
    OUTLET = "outlet"
    INHIBIT = "inhibit"


class ChannelJob(StrEnum):
    """A duty of a channel that ready claims ask about; required lamps are the vehicle's own."""

    OTHER = "other"
    STOP_LAMP = "stop-lamp"
    TAIL_LAMP = "tail-lamp"
    TURN_LEFT_LAMP = "turn-left-lamp"
    TURN_RIGHT_LAMP = "turn-right-lamp"
    REVERSE_LAMP = "reverse-lamp"
    HEADLAMP = "headlamp"
    DIRECTOR_LEFT = "director-left"
    DIRECTOR_RIGHT = "director-right"
    DIRECTOR_CENTRE = "director-centre"
    DRIVE_INHIBIT = "drive-inhibit"


class SwitchedSide(StrEnum):
    """Which side of the load a channel switches: its feed, its way back, or both legs."""

    HIGH = "high"
    LOW = "low"
    BRIDGE = "bridge"


class Facing(StrEnum):
    """The side of the vehicle a lamp shines to; the standard's zones A, B, C and D in this order."""

    FRONT = "front"
    RIGHT = "right"
    REAR = "rear"
    LEFT = "left"
    NONE = "none"


class Level(StrEnum):
    """Upper or lower level of a warning zone."""

    UPPER = "upper"
    LOWER = "lower"
    NONE = "none"


class Colour(StrEnum):
    """Colour of a lamp's light."""

    RED = "red"
    BLUE = "blue"
    YELLOW = "yellow"
    WHITE = "white"
    GREEN = "green"
    NONE = "none"


class HeadRule(StrEnum):
    """What a head does when several of its colours are asked for at once."""

    TOGETHER = "together"
    FIRST = "first"
    SHARED = "shared"


class DimMethod(StrEnum):
    """How a head dims: by less current, or by switching its full current on and off quickly."""

    CURRENT = "current"
    PULSE_WIDTH = "pulse-width"


class EffectKind(StrEnum):
    """What a rule does to its targets."""

    OFF = "off"
    STEADY = "steady"
    FLASH = "flash"
    DIM = "dim"
    INHIBIT = "inhibit"
    RELEASE = "release"


class FailState(StrEnum):
    """What a rule does when lost signals leave its condition undecided."""

    APPLIES = "applies"
    DOES_NOT_APPLY = "does not apply"


class ClaimKind(StrEnum):
    """The three forms of a claim."""

    ALWAYS = "always"
    NEVER = "never"
    WHENEVER = "whenever"


class OutputState(StrEnum):
    """
    What a claim can say of a channel.

    Lit is steady or flashing; off is not lit; cut is held off by an inhibit; driven is decided by a rule, whether on or
    off: a vehicle's own lamp that is not driven does what the vehicle asks of it.
    """

    LIT = "lit"
    OFF = "off"
    STEADY = "steady"
    FLASHING = "flashing"
    DIMMED = "dimmed"
    CUT = "cut"
    DRIVEN = "driven"


class Quantifier(StrEnum):
    """How a claim speaks of a set of channels."""

    ONE = ""
    ANY = "any"
    ALL = "all"
    NONE = "none"
