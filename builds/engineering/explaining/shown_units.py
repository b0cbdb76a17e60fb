"""A working in the units of its build: computed in SI, shown in feet and pounds where the build says so."""

from dataclasses import replace

from builds.engineering.explaining.values import Comparison, Row, Rows, Step, Working, number_text
from builds.engineering.units import KG_PER_LB, M_PER_FT
from builds.engineering.vocabulary import UnitSystem

__all__ = ["length_shown", "working_shown"]

# What stands for an SI unit, and how much of it one of the SI unit is. Places stay in mm and temperatures in °C, as
# everywhere on the sheet; areas stay in mm², which no gauge basis is counted in.
_US = {"m": ("ft", 1 / M_PER_FT), "kg": ("lb", 1 / KG_PER_LB), "mΩ/m": ("mΩ/ft", M_PER_FT)}


def length_shown(length_m: float, units: UnitSystem) -> str:
    """
    Return a length in words.

    >>> length_shown(3.048, UnitSystem.US), length_shown(3.048, UnitSystem.METRIC)
    ('10 ft', '3.048 m')
    """
    unit, factor = _shown("m", units)
    return f"{number_text(length_m * factor, 4)} {unit}"


def working_shown(working: Working, units: UnitSystem) -> Working:
    """
    Return a working with every length and mass in the units of a build; everything else stays as it is.

    Each formula stands on the converted numbers as it stood on the SI ones, since all its terms are converted alike.
    """
    if units is not UnitSystem.US:
        return working
    unit, factor = _shown(working.unit, units)
    steps = tuple(_step_shown(step, units) for step in working.steps)
    return replace(working, steps=steps, result=working.result * factor, unit=unit)


def _shown(unit: str, units: UnitSystem) -> tuple[str, float]:
    return _US.get(unit, (unit, 1.0)) if units is UnitSystem.US else (unit, 1.0)


def _step_shown(step: Step | Rows | Comparison, units: UnitSystem) -> Step | Rows | Comparison:
    unit, factor = _shown(step.unit, units)
    if isinstance(step, Comparison):
        return replace(step, value=step.value * factor, limit=step.limit * factor, unit=unit)
    if isinstance(step, Rows):
        return _rows_shown(step, units)
    numbers = []
    for number in step.numbers:
        own_unit, own_factor = _shown(number.unit, units)
        numbers.append(replace(number, value=number.value * own_factor, unit=own_unit))
    return replace(step, numbers=tuple(numbers), value=step.value * factor, unit=unit)


def _rows_shown(rows: Rows, units: UnitSystem) -> Rows:
    unit, factor = _shown(rows.unit, units)
    columns = [_shown(own_unit, units) for _, own_unit, _ in rows.heads]
    heads = zip(rows.heads, columns, strict=True)
    return replace(
        rows,
        heads=tuple((symbol, own_unit, words) for (symbol, _, words), (own_unit, _) in heads),
        rows=tuple(
            Row(
                row.words,
                tuple(value * own for value, (_, own) in zip(row.values, columns, strict=True)),
                row.value * factor,
            )
            for row in rows.rows
        ),
        total=rows.total * factor,
        unit=unit,
    )
