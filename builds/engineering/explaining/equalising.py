"""The working of the current between two batteries at the moment the switch between them closes."""

from builds.engineering.assessing.equalising import Equalising, equalisings
from builds.engineering.assessing.words import of_condition, of_node
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.subject import Subject, table_source
from builds.engineering.explaining.values import Comparison, Number, Step, Working

__all__ = ["equalising_working"]


def equalising_working(subject: Subject, key: str) -> Working:
    """Return the working of what flows into a battery that hangs on another. Raises UnknownTableEntry."""
    found = [one for one in equalisings(subject.solved.index, subject.solved.network) if one.empty.key == key]
    if not found:
        raise UnknownTableEntry("What can be explained in this build", key)
    [one] = found
    assert one.empty.battery is not None
    at_v = one.empty_rest_v + one.current_a * one.between_ohm
    left = 100 * (1 - one.empty.battery.usable_ratio)
    numbers = (
        Number(symbol="V", value=at_v, unit="V", words="at the full battery's posts"),
        Number(
            symbol="E2", value=one.empty_rest_v, unit="V",
            words=f"{of_node(one.empty)} at rest with {left:g} % left{_diode_words(one)}",
        ),
        Number(symbol="R", value=1000 * one.between_ohm, unit="mΩ", words="inside it and of the way between, out and back"),
    )  # fmt: skip
    return Working(
        key=f"battery-equalising:{key}",
        title=f"Current from {of_node(one.full)} into {of_node(one.empty)} at closing, {of_condition(one.condition)}",
        steps=(
            *_voltage(one, at_v),
            Step(
                words="What flows", symbol="I", formula="1000 × (V - E2) / R", numbers=numbers, value=one.current_a, unit="A",
                note="at the first moment and with nothing else on; it falls over minutes",
            ),
        ),
        result=one.current_a,
        unit="A",
        rule="no limit of its own: it is held against the switches and the devices on the way",
        sources=("Ohm's law", table_source("rest_voltages"), table_source("source_defaults")),
    )  # fmt: skip


def _diode_words(one: Equalising) -> str:
    return f", and the {one.diode_v:g} V that the isolator's diodes lose" if one.diode_v else ""


def _voltage(one: Equalising, at_v: float) -> tuple[Step | Comparison, ...]:
    """How the voltage at the posts comes about: of the sources' current, of their setting, or with the battery's own share."""
    empty = Number(
        symbol="E2", value=one.empty_rest_v, unit="V", words=f"of the empty battery at rest{_diode_words(one)}"
    )
    between = Number(symbol="R", value=1000 * one.between_ohm, unit="mΩ", words="inside it and between the two")
    given = Number(symbol="I_c", value=one.charging_a, unit="A", words="all that what charges the full one gives")
    through_v = one.empty_rest_v + one.charging_a * one.between_ohm
    if min(through_v, one.charging_v) < one.full_rest_v:
        own = (
            Number(symbol="E1", value=one.full_rest_v, unit="V", words="of the full battery at rest"),
            Number(symbol="R1", value=1000 * one.full_ohm, unit="mΩ", words="inside the full battery"),
        )  # fmt: skip
        formula = "(E1 / R1 + E2 / R + I_c / 1000) / (1 / R1 + 1 / R)"
        words = "Voltage at which both batteries and what charges the full one agree"
        return (
            Step(words=words, symbol="V", formula=formula, numbers=(*own, empty, between, given), value=at_v, unit="V"),
        )
    symbol = "V" if through_v <= one.charging_v else "V_all"  # past the setting it is the setting that holds
    whole = Step(
        words="Voltage that sends all of the charging current through", symbol=symbol, formula="E2 + I_c × R / 1000",
        numbers=(empty, given, between), value=through_v, unit="V",
    )  # fmt: skip
    held = Comparison(
        words="What the source is set to, which holds where this is more", value=through_v, limit=one.charging_v, unit="V",
        at_most=True,
    )  # fmt: skip
    return whole, held
