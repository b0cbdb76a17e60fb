"""Figures as people say them: rounded to what can be measured, with their unit, in the units of the build."""

import math

from builds.engineering.design import Circuit, Conventions, Load, OperatingCondition, PartsBillLine, PowerNode, Run
from builds.engineering.vocabulary import GaugeBasis, NodeKind, SourceState, UnitSystem

__all__ = [
    "ampere_hours",
    "amperes",
    "count_of",
    "days",
    "device_word",
    "gauge_words",
    "hours",
    "kind_words",
    "length",
    "listing",
    "mass",
    "milliamperes",
    "of_circuit",
    "of_condition",
    "of_load",
    "of_node",
    "of_part",
    "of_run",
    "percent",
    "share",
    "source_words",
    "temperature",
    "volts",
    "watts",
]

_KG_PER_LB = 0.45359237  # exact, international pound
_M_PER_IN = 0.0254  # exact


def amperes(current_a: float) -> str:
    """Tenths below 100 A, whole amperes above: "12.4 A", "135 A"; a whole rating stays whole."""
    return f"{_short(current_a, 0 if abs(current_a) >= 100 else 1)} A"


def milliamperes(current_ma: float) -> str:
    """Tenths below 10 mA, whole milliamperes above."""
    return f"{_short(current_ma, 0 if abs(current_ma) >= 10 else 1)} mA"


def ampere_hours(charge_ah: float) -> str:
    """Tenths below 100 Ah, whole ampere-hours above."""
    return f"{_short(charge_ah, 0 if abs(charge_ah) >= 100 else 1)} Ah"


def volts(voltage_v: float) -> str:
    """Hundredths: "12.46 V"."""
    return f"{voltage_v:.2f} V"


def watts(power_w: float) -> str:
    """Whole watts, rounded down, because it is said as the most there is."""
    return f"{int(power_w):,} W"


def percent(ratio: float) -> str:
    """Tenths of a percent, hundredths below two: "5.5 %", "1.67 %"."""
    return f"{_short(100 * ratio, 2 if abs(ratio) < 0.02 else 1)} %"


def share(ratio: float) -> str:
    """Hundredths, for a ratio of two currents: "1.25"."""
    return f"{ratio:.2f}"


def hours(duration_h: float) -> str:
    """Tenths of an hour from one hour on, else whole minutes."""
    return f"{duration_h:.1f} h" if duration_h >= 1 else f"{60 * duration_h:.0f} min"


def days(duration_d: float) -> str:
    """Tenths below ten days, whole days above."""
    return f"{_short(duration_d, 0 if duration_d >= 10 else 1)} days"


def temperature(temp_c: float) -> str:
    """Whole degrees."""
    return f"{temp_c:.0f} °C"


def mass(mass_kg: float, conventions: Conventions) -> str:
    """Pounds or kilograms, whole."""
    if conventions.units is UnitSystem.US:
        return f"{mass_kg / _KG_PER_LB:,.0f} lb"
    return f"{mass_kg:,.0f} kg"


def length(length_m: float, conventions: Conventions) -> str:
    """Short lengths: whole inches or hundredths of a metre."""
    if conventions.units is UnitSystem.US:
        return f"{length_m / _M_PER_IN:.0f} in"
    return f"{length_m:.2f} m"


def gauge_words(gauge: str, conventions: Conventions) -> str:
    """Say a gauge: "12 gauge", or "2.5 mm²" in a metric build."""
    return f"{gauge} mm²" if conventions.gauge_basis is GaugeBasis.METRIC else f"{gauge} gauge"


def of_circuit(circuit: Circuit) -> str:
    """Name a circuit: "Circuit 203 (SCENE LEFT)", or by its number alone where no legend is printed."""
    return f"Circuit {circuit.number} ({circuit.legend})" if circuit.legend.strip() else f"Circuit {circuit.number}"


def of_run(run: Run) -> str:
    """Name a run: "Run R4 (BAT1 to BUS1)"."""
    return f"Run {run.key} ({run.from_node} to {run.to_node})"


def of_load(load: Load) -> str:
    """Name a load at the head of a sentence: "Load RADIO (two-way radio)"."""
    return f"Load {load.key} ({load.name})" if load.name.strip() else f"Load {load.key}"


def of_part(line: PartsBillLine) -> str:
    """Name a line of the parts bill at the head of a sentence: "Part line 12 (light bar)"."""
    return f"Part line {line.key} ({line.description})" if line.description.strip() else f"Part line {line.key}"


def of_node(node: PowerNode) -> str:
    """Name a node at the head of a sentence: "P2 (cargo panel)"."""
    return f"{node.key} ({node.name})" if node.name.strip() else node.key


def of_condition(condition: OperatingCondition) -> str:
    """Name a condition within a sentence, marked as a name: “on scene”."""
    return f"“{condition.name.strip() or condition.key}”"


def count_of(number: int, one: str, many: str) -> str:
    """Say how many: "no positions", "1 position", "4 positions"."""
    return f"{number or 'no'} {one if number == 1 else many}"


def source_words(state: SourceState) -> str:
    """What feeds the vehicle, as it stands in a sentence: "at idle"."""
    return {
        SourceState.IDLE: "at idle",
        SourceState.AT_SPEED: "at road speed",
        SourceState.ENGINE_OFF: "with the engine off",
        SourceState.KEY_OFF: "with the key off",
    }[state]


def kind_words(kind: NodeKind) -> str:
    """What a node is, as it stands in a sentence: "alternator", "shore charger"."""
    return _KIND_WORDS.get(kind, kind.value.replace("_", " "))


_KIND_WORDS = {
    NodeKind.DCDC: "DC-DC of the vehicle",
    NodeKind.SHORE: "shore charger",
    NodeKind.SOLAR: "solar charger",
    NodeKind.LOW_VOLTAGE_DISCONNECT: "low-voltage disconnect",
}


def device_word(family: str) -> str:
    """
    Name a device of a family as people ask for it: the types of breaker by their number, a fuse by its family.

    >>> device_word("breaker-3"), device_word("ATO")
    ('type 3 breaker', 'ATO')
    """
    number = family.removeprefix("breaker-")
    return f"type {number} breaker" if number != family else family


def listing(names: tuple[str, ...]) -> str:
    """Name several: "R1", "R1 and R2", "R1, R2 and R3"."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _short(value: float, decimals: int) -> str:
    """Round, and leave off a tail of zeros; a limit that nothing reaches is without end."""
    if math.isinf(value):
        return "∞"
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
