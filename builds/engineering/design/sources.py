"""What stands at the ends of the power tree and between its voltages: batteries, what charges them, converters."""

from dataclasses import dataclass

from builds.engineering.ranges import MAX_SYSTEM_V, check_choice, check_ratio, check_within
from builds.engineering.vocabulary import BatteryKind

__all__ = ["AlternatorPoint", "AlternatorSpec", "BatterySpec", "ConverterSpec", "SourceSpec"]


_OWN_FIGURES = (
    ("acceptance_per_h", 0.01, 20.0),
    ("least_charge_c", -40.0, 80.0),
    ("cut_off_v", 1.0, MAX_SYSTEM_V),
    ("self_discharge_per_day_ratio", 0.0, 0.1),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatterySpec:
    """
    A battery: capacity at its rated hours, Peukert exponent, internal resistance, full rest voltage, use allowed.

    Its ``kind`` says how its voltage at rest falls with its charge.

    It takes charge at ``acceptance_per_h`` of its capacity an hour, none below ``least_charge_c``, and switches itself off below
    ``cut_off_v`` at its posts, as lithium batteries do; by itself it loses ``self_discharge_per_day_ratio`` of its capacity a
    day. What is left out is as the tables have it, from memory, or does not hold for it.
    """

    capacity_ah: float
    rated_hours: float
    peukert_exponent: float
    internal_mohm: float
    open_circuit_v: float
    usable_ratio: float
    reserve_min: float | None = None
    acceptance_per_h: float | None = None
    least_charge_c: float | None = None
    cut_off_v: float | None = None
    self_discharge_per_day_ratio: float | None = None
    kind: BatteryKind = BatteryKind.LEAD

    def __post_init__(self) -> None:
        check_choice("kind", self.kind, BatteryKind)
        check_within("capacity_ah", self.capacity_ah, 1.0, 5000.0)
        check_within("rated_hours", self.rated_hours, 1.0, 100.0)
        check_within("peukert_exponent", self.peukert_exponent, 1.0, 1.6)
        check_within("internal_mohm", self.internal_mohm, 0.1, 1000.0)
        check_within("open_circuit_v", self.open_circuit_v, 1.0, MAX_SYSTEM_V)
        check_ratio("usable_ratio", self.usable_ratio)
        for name, least, most in _OWN_FIGURES:
            if getattr(self, name) is not None:
                check_within(name, getattr(self, name), least, most)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternatorPoint:
    """One point of a maker's output curve: current at a shaft speed and an ambient temperature."""

    speed_rpm: float
    ambient_c: float
    output_a: float

    def __post_init__(self) -> None:
        check_within("speed_rpm", self.speed_rpm, 0.0, 30_000.0)
        check_within("ambient_c", self.ambient_c, -40.0, 200.0)
        check_within("output_a", self.output_a, 0.0, 5000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternatorSpec:
    """
    An alternator: rated output, its hot output at idle and at speed as parts of it, and the voltage it is set to.

    ``low_v`` and ``high_v`` are the least and the most it is set to: the same for a plain regulator, apart where the vehicle
    moves it about; left out, the condition's own range stands for them. ``points`` are the maker's curve by speed and
    temperature, which is read instead of the parts of the rating where a condition states its engine speed.
    """

    rated_a: float
    idle_ratio: float
    speed_ratio: float
    low_v: float | None = None
    high_v: float | None = None
    pulley_ratio: float | None = None
    points: tuple[AlternatorPoint, ...] = ()

    def __post_init__(self) -> None:
        check_within("rated_a", self.rated_a, 1.0, 2000.0)
        check_ratio("idle_ratio", self.idle_ratio)
        check_ratio("speed_ratio", self.speed_ratio)
        check_volts(self.low_v, self.high_v)
        if self.pulley_ratio is not None:
            check_within("pulley_ratio", self.pulley_ratio, 0.5, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceSpec:
    """What charges without being an alternator (DC-DC, shore charger, solar regulator): its limit and its set voltage."""

    limit_a: float
    low_v: float
    high_v: float

    def __post_init__(self) -> None:
        check_within("limit_a", self.limit_a, 0.0, 5000.0)
        check_volts(self.low_v, self.high_v)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConverterSpec:
    """
    A converter between two system voltages: a constant power at its input, a voltage with a limited current at its output.

    It takes ``idle_w`` for itself and is off below ``min_v`` at its input. Both its negatives stand at ``return_node``.
    """

    output_v: float
    limit_a: float
    efficiency_ratio: float
    return_node: str
    idle_w: float = 0.0
    min_v: float = 0.0

    def __post_init__(self) -> None:
        check_within("output_v", self.output_v, 1.0, MAX_SYSTEM_V)
        check_within("limit_a", self.limit_a, 0.0, 5000.0)
        check_ratio("efficiency_ratio", self.efficiency_ratio)
        check_within("idle_w", self.idle_w, 0.0, 10_000.0)
        check_within("min_v", self.min_v, 0.0, MAX_SYSTEM_V)


def check_volts(low_v: float | None, high_v: float | None) -> None:
    """
    Check a least and a most voltage of which either may be left out.

    Parameters
    ----------
    low_v : float or None
        1 to 60. [V]
    high_v : float or None
        From the low one, or 1, to 60. [V]

    Raises
    ------
    OutOfRange
        If one of them is outside its range.
    """
    if low_v is not None:
        check_within("low_v", low_v, 1.0, MAX_SYSTEM_V)
    if high_v is not None:
        check_within("high_v", high_v, 1.0 if low_v is None else low_v, MAX_SYSTEM_V)
