"""The ways the vehicle is used."""

from dataclasses import dataclass

from builds.engineering.ranges import MAX_SYSTEM_V, check_key, check_ratio, check_within
from builds.engineering.vocabulary import SourceState

__all__ = ["InputSetting", "LoadUse", "OperatingCondition"]


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
class OperatingCondition:
    """
    A way the vehicle is used: what feeds it, between which voltages at the battery post, and what is on.

    ``min_hours`` is how long the buyer asks the batteries to carry it with the engine off, where that matters. Where
    ``input_settings`` are given, the rules of the function schedule say what is on of all they drive; ``uses`` are the rest.
    """

    key: str
    name: str
    source_state: SourceState
    source_low_v: float
    source_high_v: float
    min_hours: float | None = None
    uses: tuple[LoadUse, ...] = ()
    input_settings: tuple[InputSetting, ...] = ()

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("source_low_v", self.source_low_v, 1.0, MAX_SYSTEM_V)
        check_within("source_high_v", self.source_high_v, self.source_low_v, MAX_SYSTEM_V)
