"""Workings of a conductor: what it carries where it lies, its resistance, how it stands to its device."""

from builds.engineering.assessing.bundles import Laid
from builds.engineering.assessing.wires import Wire
from builds.engineering.assessing.words import of_circuit, of_run
from builds.engineering.design import Circuit, Run
from builds.engineering.electrical.ampacity import Ampacity, ampacity
from builds.engineering.electrical.conductors import ConductorSize, resistance_ohm_per_m, resistance_ratio
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.subject import Subject, table_source
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working

__all__ = ["ampacity_working", "margin_working", "resistance_steps"]

_REFERENCE_C = 30.0


def ampacity_working(subject: Subject, part: Circuit | Run, wire: Wire, key: str) -> Working:
    """Return the working of what a conductor may carry."""
    carried = _carried(subject, part, wire)
    return Working(
        key=key,
        title=f"What {subject.wire_words(part)} carries",
        steps=(*_counted(subject, part), *_factors(carried), _product(carried, wire)),
        result=carried.value_a * wire.parallel,
        unit="A",
        rule="table value × ambient × bundle; at least the load, and the buyer's margin over the device",
        sources=(
            table_source("allowable_amperage"),
            table_source("engine_space_factors"),
            table_source("bundle_factors"),
        ),
    )


def _carried(subject: Subject, part: Circuit | Run, wire: Wire) -> Ampacity:
    if wire.row is None:
        raise UnknownTableEntry("The allowable-amperage table", part.gauge)
    size = ConductorSize(subject.design.conventions.gauge_basis, part.gauge)
    return ampacity(
        size=size, insulation_c=part.insulation_c, ambient_c=wire.ambient_c, bundle_count=subject.solved.index.bundle_of(part)
    )  # fmt: skip


def _counted(subject: Subject, part: Circuit | Run) -> tuple[Rows, ...]:
    """The conductors of its bundle, where it names one and more of them were drawn than typed."""
    index = subject.solved.index
    bundle = index.bundle_named(part)
    if bundle is None or bundle.together < part.bundle or not bundle.laid:
        return ()
    rows = tuple(Row(laid_words(one), (), one.count) for one in bundle.laid)
    left = f"; left out, because no condition has them on with these: {', '.join(map(laid_words, bundle.left_out))}"
    return (
        Rows(
            words=f"Current-carrying conductors in bundle {bundle.name}", symbol="n", heads=(), formula="", rows=rows,
            total=sum(row.value for row in rows), unit="",
            note="ways out, wires back that lie along them, cables in parallel; spares do not count" + (left if bundle.left_out else ""),
        ),
    )  # fmt: skip


def laid_words(laid: Laid) -> str:
    """Name a part of a bundle."""
    return of_circuit(laid.part) if isinstance(laid.part, Circuit) else of_run(laid.part)


def _factors(carried: Ampacity) -> tuple[Step, ...]:
    insulation_c, ambient_c = carried.insulation_class_c, carried.ambient_c
    base = Step(
        words=f"Table value: row {carried.table_gauge}, column {insulation_c:g} °C insulation",
        symbol="A0", formula="a", numbers=(Number(symbol="a", value=carried.base_a, unit="A", words="33 CFR 183.425 Table 5"),),
        value=carried.base_a, unit="A",
    )  # fmt: skip
    law = _REFERENCE_C < ambient_c < insulation_c and not _is_tabulated(carried)
    ambient = Step(
        words="What the ambient leaves",
        symbol="f_amb",
        formula="√((T_ins − T_amb) / (T_ins − T_ref))" if law else "f",
        numbers=(
            Number(symbol="T_ins", value=insulation_c, unit="°C", words="insulation class"),
            Number(symbol="T_amb", value=ambient_c, unit="°C", words="hottest zone on its way"),
            Number(symbol="T_ref", value=_REFERENCE_C, unit="°C", words="ambient of the table"),
        )
        if law
        else (Number(symbol="f", value=carried.ambient_ratio, unit="", words=_ambient_words(carried)),),
        value=carried.ambient_ratio,
        unit="",
    )
    bundle = Step(
        words="What the bundle leaves",
        symbol="f_bun",
        formula="b",
        numbers=(
            Number(
                symbol="b",
                value=carried.bundle_ratio,
                unit="",
                words=f"{carried.bundle_count} current-carrying in the bundle",
            ),
        ),
        value=carried.bundle_ratio,
        unit="",
    )
    return base, ambient, bundle


def _is_tabulated(carried: Ampacity) -> bool:
    law = (carried.insulation_class_c - carried.ambient_c) / (carried.insulation_class_c - _REFERENCE_C)
    return bool(abs(law**0.5 - carried.ambient_ratio) > 1e-12)


def _ambient_words(carried: Ampacity) -> str:
    if carried.ambient_c <= _REFERENCE_C:
        return f"nothing is taken off up to {_REFERENCE_C:g} °C"
    if carried.ambient_c >= carried.insulation_class_c:
        return "nothing is left at the insulation's own temperature"
    return f"the Code's own factor at {carried.ambient_c:g} °C, Note 1"


def _product(carried: Ampacity, wire: Wire) -> Step:
    numbers = [
        Number(symbol="A0", value=carried.base_a, unit="A", words="table value"),
        Number(symbol="f_amb", value=carried.ambient_ratio, unit="", words="ambient"),
        Number(symbol="f_bun", value=carried.bundle_ratio, unit="", words="bundle"),
    ]
    formula = "A0 × f_amb × f_bun"
    if wire.parallel > 1:
        numbers.append(Number(symbol="n", value=wire.parallel, unit="", words="conductors in parallel"))
        formula += " × n"
    return Step(
        words="What it carries where it lies", symbol="A", formula=formula, numbers=tuple(numbers),
        value=carried.value_a * wire.parallel, unit="A",
    )  # fmt: skip


def resistance_steps(
    subject: Subject, part: Circuit | Run, wire: Wire, temperature_c: float, symbol: str
) -> tuple[Step, ...]:
    """Return the steps to a conductor's own resistance in mΩ at a temperature, out and, for a circuit, back."""
    ratio = resistance_ratio(temperature_c=temperature_c)
    warm = Step(
        words=f"Copper at {temperature_c:g} °C beside 20 °C", symbol="k", formula="(z + T) / (z + 20)",
        numbers=(
            Number(symbol="z", value=234.5, unit="°C", words="inferred zero of copper, FAA AC 43.13-1B"),
            Number(symbol="T", value=temperature_c, unit="°C", words="conductor temperature of the rule"),
        ),
        value=ratio, unit="",
    )  # fmt: skip
    per_m = 1000 * resistance_ohm_per_m(size=ConductorSize(subject.design.conventions.gauge_basis, part.gauge))
    numbers = [
        Number(symbol="r", value=per_m, unit="mΩ/m", words=f"{part.gauge} at 20 °C, from its area"),
        Number(
            symbol="L", value=wire.length_m, unit="m", words="out and back" if isinstance(part, Circuit) else "length"
        ),
        Number(symbol="k", value=ratio, unit="", words="temperature"),
    ]
    formula = "r × L × k"
    if wire.parallel > 1:
        numbers.append(Number(symbol="n", value=wire.parallel, unit="", words="conductors in parallel"))
        formula += " / n"
    own = Step(
        words="Its own resistance", symbol=symbol, formula=formula, numbers=tuple(numbers), value=1000 * wire.ohm * ratio, unit="mΩ"
    )  # fmt: skip
    return warm, own


def margin_working(
    subject: Subject, part: Circuit | Run, wire: Wire, *, rating_a: float, device_words: str, key: str
) -> Working:
    """Return the working of a conductor's ampacity over the rating of the device before it."""
    carried = _carried(subject, part, wire)
    carries_a = carried.value_a * wire.parallel
    limit = subject.solved.index.numbers["conductor-margin"]
    ratio = carries_a / rating_a
    return Working(
        key=key,
        title=f"Margin of {subject.wire_words(part)} over its device",
        steps=(
            *_factors(carried),
            _product(carried, wire),
            Step(
                words="Over the device", symbol="m", formula="A / I_dev",
                numbers=(
                    Number(symbol="A", value=carries_a, unit="A", words="what it carries"),
                    Number(symbol="I_dev", value=rating_a, unit="A", words=device_words),
                ),
                value=ratio, unit="",
            ),
            Comparison(words="This buyer asks for", value=ratio, limit=limit, unit="", at_most=False),
        ),
        result=ratio,
        unit="",
        rule="conductor-margin: below 1.00 blocks, below the buyer's figure is a caution",
        sources=(table_source("allowable_amperage"), "California fleet electrical standard 3.4; buyers ask from 0.80 to 1.35"),
    )  # fmt: skip
