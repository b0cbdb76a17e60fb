"""The ways the vehicle is used."""

from dataclasses import dataclass

from builds.engineering.design.sources import check_volts
from builds.engineering.ranges import MAX_SYSTEM_V, check_count, check_key, check_ratio, check_within
from builds.engineering.vocabulary import SourceState

__all__ = ["InputSetting", "LoadUse", "OperatingCondition", "SourceUse"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadUse:
    """A load that is on in a condition, at its own duty unless ``duty_ratio`` says otherwise."""

    load: str
    duty_ratio: float | None = None

    def __post_init__(self) -> None:
        if self.duty_ratio is not None:
            check_ratio("duty_ratio", self.duty_ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class InputSetting:
    """An input of the function schedule that stands away from rest in a condition, and where it stands."""

    input: str
    value: str

    def __post_init__(self) -> None:
        check_key("input", self.input)


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceUse:
    """
    What one source does in a condition, where it is not what its kind does by itself.

    ``low_v`` and ``high_v`` are its voltage at worst either way (of a battery at rest, of anything else as it is set),
    ``limit_a`` the most it gives in this condition. One that is not ``available`` gives nothing.
    """

    node: str
    available: bool = True
    low_v: float | None = None
    high_v: float | None = None
    limit_a: float | None = None

    def __post_init__(self) -> None:
        check_volts(self.low_v, self.high_v)
        if self.limit_a is not None:
            check_within("limit_a", self.limit_a, 0.0, 5000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingCondition:
    """
    A way the vehicle is used: what feeds it, between which voltages at the battery post, and what is on.

    ``min_hours`` is how long the buyer asks the batteries to carry it with the engine off, where that matters. ``engine_rpm``
    and ``ambient_c`` say where on its curve an alternator stands. ``open_nodes`` and ``closed_nodes`` are isolators,
    disconnects and low-voltage disconnects that are not as usual: an isolator is closed while the engine runs, the others
    always. ``reserve_test_min`` is how long the engine-off test of the batteries' reserve takes, where this is the load it is
    made with. Where ``input_settings`` are given, the rules of the function schedule say what is on of all they drive;
    ``uses`` are the rest.
    """

    key: str
    name: str
    source_state: SourceState
    source_low_v: float
    source_high_v: float
    min_hours: float | None = None
    uses: tuple[LoadUse, ...] = ()
    input_settings: tuple[InputSetting, ...] = ()
    engine_rpm: int | None = None
    ambient_c: float | None = None
    open_nodes: tuple[str, ...] = ()
    closed_nodes: tuple[str, ...] = ()
    sources: tuple[SourceUse, ...] = ()
    reserve_test_min: float | None = None

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("source_low_v", self.source_low_v, 1.0, MAX_SYSTEM_V)
        check_within("source_high_v", self.source_high_v, self.source_low_v, MAX_SYSTEM_V)
        if self.engine_rpm is not None:
            check_count("engine_rpm", self.engine_rpm, least=1)
        if self.ambient_c is not None:
            check_within("ambient_c", self.ambient_c, -40.0, 200.0)
        if self.reserve_test_min is not None:
            check_within("reserve_test_min", self.reserve_test_min, 0.1, 10_000.0)

    @property
    def stands(self) -> bool:
        """Whether the vehicle only stands in it, with the key off and nothing on: days of standing tell of it, no battery time."""
        return self.source_state is SourceState.KEY_OFF and not self.uses and not self.input_settings
