"""Where every input stands: a setting names those that are away from rest."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from builds.engineering.errors import UnknownTableEntry
from builds.engineering.functions.names import folded
from builds.engineering.functions.printing import print_name, print_value
from builds.engineering.functions.schedule import FunctionSchedule, Input

__all__ = ["AT_REST", "Setting", "setting_of", "setting_of_numbers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Inputs away from rest with their values, in schedule order; everything else stands at rest."""

    away: tuple[tuple[str, str], ...] = ()

    @property
    def away_count(self) -> int:
        """How many inputs are away from rest; a selector counts one."""
        return len(self.away)

    def __str__(self) -> str:
        return ", ".join(_said(key, value) for key, value in self.away) or "everything at rest"

    def value(self, part: Input) -> str:
        """Return where one input stands."""
        return dict(self.away).get(part.key, part.rest)


AT_REST = Setting()


def _said(key: str, value: str) -> str:
    return f"{print_name(key)} {print_value(value)}"


def setting_of(schedule: FunctionSchedule, values: Mapping[str, str]) -> Setting:
    """
    Return the setting in which these inputs have these values and all others are at rest.

    Parameters
    ----------
    schedule : FunctionSchedule
        Whose inputs they are.
    values : mapping of str to str
        Values by input; a name with spaces may be written with hyphens.

    Raises
    ------
    UnknownTableEntry
        If the schedule has no such input, or the input never has this value.
    """
    declared = {folded(part.key): part for part in schedule.inputs}
    wanted: dict[str, str] = {}
    for name, value in values.items():
        part = declared.get(folded(name))
        if part is None:
            raise UnknownTableEntry("The schedule's inputs", name, ", ".join(one.key for one in schedule.inputs))
        if value not in part.values:
            raise UnknownTableEntry(f"Input {part.key}", value, ", ".join(part.values))
        wanted[part.key] = value
    return Setting(
        away=tuple(
            (part.key, wanted[part.key]) for part in schedule.inputs if wanted.get(part.key, part.rest) != part.rest
        )
    )


def setting_of_numbers(inputs: Iterable[Input], numbers: Iterable[int]) -> Setting:
    """Return the setting behind one number of a value per input."""
    values = [(part, part.values[number]) for part, number in zip(inputs, numbers, strict=True)]
    return Setting(away=tuple((part.key, value) for part, value in values if value != part.rest))
