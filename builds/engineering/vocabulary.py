"""The words of the trade that a design is written in, as enumerations shared by core, models and documents."""

from enum import StrEnum

__all__ = [
    "BatteryKind",
    "BuildKind",
    "DropCurrent",
    "GaugeBasis",
    "HoldSigner",
    "HotWhen",
    "IsolatorKind",
    "LoadModel",
    "NodeKind",
    "Phase",
    "Place",
    "Polarity",
    "ReversedBattery",
    "RunSide",
    "SourceState",
    "SuppliedBy",
    "Suppression",
    "Switching",
    "UnitSystem",
    "VehicleSide",
]


class BuildKind(StrEnum):
    """What sort of job a build is."""

    NEW = "new"
    TRANSFER = "transfer"
    DECOMMISSION = "decommission"
    SERVICE = "service"


class UnitSystem(StrEnum):
    """How lengths and masses are entered and shown; they are always stored SI."""

    METRIC = "metric"
    US = "us"


class VehicleSide(StrEnum):
    """A side of the vehicle, as seated facing forward."""

    LEFT = "left"
    RIGHT = "right"


class GaugeBasis(StrEnum):
    """Which table a conductor's gauge is read in; SAE areas are 5 to 12 % below AWG."""

    SAE = "sae"
    AWG = "awg"
    METRIC = "metric"


class NodeKind(StrEnum):
    """What a node of the power tree is."""

    BATTERY = "battery"
    ALTERNATOR = "alternator"
    ISOLATOR = "isolator"
    DISCONNECT = "disconnect"
    BUS = "bus"
    PANEL = "panel"
    MODULE = "module"
    GROUND = "ground"
    CHASSIS = "chassis"
    DCDC = "dcdc"
    SHORE = "shore"
    SOLAR = "solar"
    CONVERTER = "converter"
    LOW_VOLTAGE_DISCONNECT = "low_voltage_disconnect"
    ACCESS_POINT = "access_point"


class RunSide(StrEnum):
    """Whether a run carries current out to the loads or back to the battery."""

    SUPPLY = "supply"
    RETURN = "return"


class LoadModel(StrEnum):
    """How a load's current follows its voltage."""

    CONSTANT_CURRENT = "constant_current"
    RESISTIVE = "resistive"
    CONSTANT_POWER = "constant_power"


class BatteryKind(StrEnum):
    """What a battery is made of; one that is lead and does not say which kind stands as AGM does."""

    LEAD = "lead"
    FLOODED = "flooded"
    AGM = "agm"
    LITHIUM_IRON_PHOSPHATE = "lithium_iron_phosphate"


class IsolatorKind(StrEnum):
    """What joins two batteries in an isolator: contacts, or diodes, which lose some of the voltage and let nothing back."""

    RELAY = "relay"
    DIODE = "diode"


class SourceState(StrEnum):
    """What feeds the vehicle in an operating condition."""

    ENGINE_OFF = "engine_off"
    IDLE = "idle"
    AT_SPEED = "at_speed"
    KEY_OFF = "key_off"


class Switching(StrEnum):
    """Which lead of a load is switched: behind its fuse, in its return, or both by a bridge that turns it round."""

    HIGH_SIDE = "high_side"
    LOW_SIDE = "low_side"
    BRIDGE = "bridge"


class ReversedBattery(StrEnum):
    """What a device does when a battery is connected the wrong way round, as its data sheet says."""

    UNKNOWN = "unknown"
    WITHSTANDS = "withstands"
    OPENS_DEVICE = "opens_device"
    HARMED = "harmed"


class Suppression(StrEnum):
    """Whether a load has a coil (relay, solenoid, motor), and whether a diode or the like catches what it gives back."""

    NO_COIL = "no_coil"
    SUPPRESSED = "suppressed"
    UNSUPPRESSED = "unsuppressed"


class Polarity(StrEnum):
    """Whether an access point gives current or takes it back."""

    POSITIVE = "positive"
    NEGATIVE = "negative"


class HotWhen(StrEnum):
    """When the vehicle keeps an access point alive."""

    ALWAYS = "always"
    ACCESSORY = "accessory"
    IGNITION = "ignition"
    ENGINE = "engine"
    SWITCHED = "switched"


class DropCurrent(StrEnum):
    """Which of a load's currents a drop rule is judged at."""

    STEADY = "steady"
    PEAK = "peak"
    INRUSH = "inrush"


class SuppliedBy(StrEnum):
    """Who brings a part to the build."""

    SHOP = "shop"
    CUSTOMER = "customer"
    TRANSFERRED = "transferred"


class Place(StrEnum):
    """Where an operation is done."""

    BENCH = "bench"
    VEHICLE = "vehicle"
    YARD = "yard"
    SUBLET = "sublet"


class Phase(StrEnum):
    """The part of the job an operation or a checklist step belongs to, in working order."""

    STRIP = "strip"
    MOUNT = "mount"
    WIRE = "wire"
    TEST = "test"
    CLOSE = "close"


class HoldSigner(StrEnum):
    """Who this buyer lets sign a hold point."""

    OTHER_TECHNICIAN = "other_technician"
    INSPECTOR = "inspector"
    SELF_AFTER_NIGHT = "self_after_night"
