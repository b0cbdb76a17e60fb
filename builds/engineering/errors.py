"""
Errors of the engineering core: input that a formula is not valid for.

::

    EngineeringError
    ├── OutOfRange              a number outside the range a function states
    ├── UnknownTableEntry       a gauge, family, insulation or colour that no table has
    ├── NoStandardSize          nothing in the table is large enough
    ├── TreeRefused             a change of the power tree that makes no tree, in words for whoever asked
    └── NetworkError
        ├── ShortCircuit        a way between a source's own posts
        ├── Unconnected         a part that no source reaches
        ├── Floating            a part with no way back to what feeds it
        └── SelfFed             converters that nothing feeds but themselves

A bad *design* is not an error: it is reported as a :class:`builds.engineering.findings.Finding`.
"""

__all__ = [
    "EngineeringError",
    "Floating",
    "NetworkError",
    "NoStandardSize",
    "OutOfRange",
    "SelfFed",
    "ShortCircuit",
    "TreeRefused",
    "Unconnected",
    "UnknownTableEntry",
]


class EngineeringError(Exception):
    """Input that the core cannot compute with."""


class OutOfRange(EngineeringError):
    """A value that is not finite or lies outside its stated range."""

    def __init__(self, name: str, value: object, allowed: str) -> None:
        super().__init__(f"{name} is {value!r}; it must be {allowed}.")
        self.name = name
        self.value = value
        self.allowed = allowed


class UnknownTableEntry(EngineeringError):
    """A name that the table in question does not hold."""

    def __init__(self, table: str, entry: str, known: str = "") -> None:
        super().__init__(f"{table} has no {entry!r}." + (f" It has {known}." if known else ""))
        self.table = table
        self.entry = entry


class NoStandardSize(EngineeringError):
    """Nothing in the table is large enough."""

    def __init__(self, table: str, wanted: str) -> None:
        super().__init__(f"{table} has nothing for {wanted}.")
        self.table = table
        self.wanted = wanted


class TreeRefused(EngineeringError):
    """A change of the power tree that cannot be made; ``field`` names what to change in what was asked, if one does."""

    def __init__(self, message: str, field: str = "") -> None:
        super().__init__(message)
        self.field = field


class NetworkError(EngineeringError):
    """A distribution that cannot be solved as drawn."""

    def __init__(self, message: str, keys: tuple[str, ...]) -> None:
        super().__init__(message)
        self.keys = keys


class ShortCircuit(NetworkError):
    """Branches that join a source's own two posts."""


class Unconnected(NetworkError):
    """A part that no source reaches."""


class Floating(NetworkError):
    """A part that a source reaches and that has no way back to it."""


class SelfFed(NetworkError):
    """Converters that feed each other and that no source feeds."""
