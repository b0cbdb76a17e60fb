"""What a solved condition says of its nodes, runs, sources and loads."""

from dataclasses import dataclass

__all__ = ["DropPart", "LoadDrop", "LoadVolts", "NodeVolts", "RunFlow", "SourceFlow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeVolts:
    """
    A node at the moment at which most is lit: its supply side and its return side, above the first battery's negative post; None where the
    node has no such side or nothing feeds it.
    """

    key: str
    supply_v: float | None
    return_v: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFlow:
    """A run: its average current and the most at any moment, the drop then, and what it loses as heat in both."""

    key: str
    average_a: float
    peak_a: float
    drop_v: float
    average_loss_w: float
    peak_loss_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFlow:
    """A source: what it gives on average and at the moment at which most is lit, negative where it takes; whether it then gives all it can."""

    key: str
    average_a: float
    peak_a: float
    at_limit: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadVolts:
    """
    A load that is on, at its own worst moment: its voltage, what is lost between the source's posts and it, and that as a part of the
    nominal voltage of its bus. ``is_off`` where it cannot hold its least voltage.
    """

    key: str
    voltage_v: float
    drop_v: float
    drop_ratio: float
    is_off: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DropPart:
    """One thing on the way to a load or back: a run, a node's own resistance (contacts, a stud) or the circuit's own wire."""

    subject: str
    is_return: bool
    current_a: float
    drop_v: float
    drop_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadDrop:
    """The drop of one load split by what it is lost in, in the order of the way."""

    load: str
    drop_v: float
    parts: tuple[DropPart, ...]

    @property
    def most(self) -> DropPart | None:
        """The part that takes most: what to thicken, shorten or clean first."""
        return max(self.parts, key=lambda part: part.drop_v, default=None)
