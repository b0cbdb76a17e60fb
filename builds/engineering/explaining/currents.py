"""Workings of currents: each circuit's from its loads at the voltage they have, a condition's from its circuits."""

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.charging_returns import charging_returns
from builds.engineering.assessing.link_charging import link_charges, with_charges
from builds.engineering.assessing.states import Side, State
from builds.engineering.design import Circuit
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.link_currents import charged_over, closing_row, deciding_closing
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.together import NAMES, of_circuits_a, through_elements_a
from builds.engineering.explaining.values import Row, Rows, Working
from builds.engineering.vocabulary import RunSide

__all__ = ["circuit_current_working", "condition_current_working", "panel_current_working", "run_current_working"]

Floats = NDArray[np.float64]

_USES = {
    "mean": "mean: lit part of the flash, for source and battery",
    "rms": "RMS: root of the lit part, for the heat of fuses and conductors",
    "peak": "peak: everything lit that can be lit together, for drop and switching",
    "continuous": "RMS, steady where it can be: what fuse and conductor are sized on",
}


def condition_current_working(subject: Subject, use: str, key: str) -> Working:
    """Return the working of the mean, RMS or peak of all loads together in a condition."""
    condition, state, column = subject.condition(key)
    from_batteries = state.feeding.from_batteries
    figures, when = of_circuits_a(state, use, column, lambda of_circuits: of_circuits[from_batteries].sum(axis=0))
    taken = np.where(from_batteries, figures, 0.0).tolist()
    rows = tuple(Row(words, (), figure) for words, figure in zip(_takers(state), taken, strict=True) if figure > 0)
    total = sum(row.value for row in rows)
    return Working(
        key=f"condition-{use}:{key}",
        title=f"{use.upper() if use == 'rms' else use.capitalize()} of “{condition.name}”",
        steps=(
            Rows(
                words="Every circuit that takes something", symbol="I", heads=(), formula="", rows=rows,
                total=total, unit="A",
                note=f"each at the worse of {condition.source_low_v:g} and {condition.source_high_v:g} V; a circuit's own figure opens how it came about"
                + (f"; {when}" if when else ""),
            ),
        ),
        result=total,
        unit="A",
        rule=_USES[use],
        sources=("the loads' data sheets as entered; the solved distribution",),
    )  # fmt: skip


def _takers(state: State) -> list[str]:
    """What takes current in each row: circuits, then converters by their own input."""
    circuits = [f"Circuit {circuit.number} {circuit.legend}".strip() for circuit in state.feeding.circuits]
    return circuits + [f"Converter {part.key}" for part in state.feeding.conversions]


def circuit_current_working(subject: Subject, use: str, number: str) -> Working:
    """Return the working of a circuit's mean, continuous or peak current at its worst."""
    facts = subject.circuit(number)
    worst = _worst(subject, use, number)
    rows: tuple[Row, ...] = ()
    note, where = "", "with nothing on in any condition"
    if worst is not None:
        state, column = worst
        side, side_words = _side(state, use, number, column)
        rows, note = _counted(subject, state, side, use, facts.circuit, column)
        note = f"{side_words}; {note}"
        where = f"in “{subject.design.conditions[state.chosen[column]].name}”"
    if use == "continuous":
        rows = (*rows, *_unused_rows(subject, number))
    if not rows:
        raise UnknownTableEntry("The loads that are on in this build", number)
    total = sum(row.value for row in rows)
    return Working(
        key=f"circuit-{use}:{number}",
        title=f"{use.capitalize()} current of circuit {number} {where}",
        steps=(
            Rows(
                words="Every load that counts", symbol="I",
                heads=(("q", "", "how many"), ("I_0", "A", "current each"), ("V_0", "V", "at"), ("V", "V", "has"),
                       ("e", "", "1 resistive, 0 constant current, −1 constant power"), ("d", "", "part that counts")),
                formula="q × I_0 × (V / V_0)^e × d", rows=rows, total=total, unit="A", note=note,
            ),
        ),
        result=total,
        unit="A",
        rule=_USES[use],
        sources=("the loads' data sheets as entered; the solved distribution",),
    )  # fmt: skip


def _counted(
    subject: Subject, state: State, side: Side, use: str, circuit: Circuit, column: int
) -> tuple[tuple[Row, ...], str]:
    """The loads' rows; where what they take on average is more than lit together, those of the average."""
    value = float(getattr(side, NAMES[use])[state.feeding.column_of[circuit.number], column])
    for counted, note in (
        (use, "voltage as solved with everything else that is on"),
        ("peak", "no heat is above the peak of what keeps step"),
        ("continuous", "sized with what can be steady steady"),
        ("mean", "with less lit the voltage is a little higher, and here that makes more than all lit at once"),
    ):
        load_v = _voltage(subject, state, side, counted, circuit.number, column)
        rows = tuple(_load_rows(subject, state, side, counted, circuit, column, load_v))
        if abs(sum(row.value for row in rows) - value) <= 1e-9 * max(value, 1.0):
            return rows, note
    return rows, note


def _unused_rows(subject: Subject, number: str) -> Iterator[Row]:
    """Loads that no condition uses count from their data sheet for their own circuit's device and conductor."""
    for load in subject.solved.index.loads_of.get(number, ()):
        if load.key not in subject.solved.index.used_loads and load.current_a:
            factor = 1.0 if load.can_be_steady else math.sqrt(load.duty_ratio)
            value = load.quantity * load.current_a * factor
            words = f"{load.name or load.key}, on in no condition"
            yield Row(words, (load.quantity, load.current_a, load.at_v, load.at_v, 0.0, factor), value)


def _worst(subject: Subject, use: str, number: str) -> tuple[State, int] | None:
    """The state and column in which a circuit's figure is largest."""
    best: tuple[float, State, int] | None = None
    for state in subject.solved.network.states:
        row = state.feeding.column_of.get(number)
        if row is None or not state.chosen:
            continue
        figures = getattr(state.worst, NAMES[use])[row]
        column = int(figures.argmax())
        if figures[column] > 0 and (best is None or figures[column] > best[0]):
            best = (float(figures[column]), state, column)
    return None if best is None else best[1:]


def _side(state: State, use: str, number: str, column: int) -> tuple[Side, str]:
    row = state.feeding.column_of[number]
    low, high = (float(getattr(side, NAMES[use])[row, column]) for side in (state.low, state.high))
    return (
        (state.low, "at the source's lowest voltage")
        if low >= high
        else (state.high, "at the source's highest voltage")
    )


def _voltage(subject: Subject, state: State, side: Side, use: str, number: str, column: int) -> float:
    """
    The voltage at a circuit's loads.

    A mean is solved with each load at its lit part, so its voltage is a little above that of everything lit: it is found
    back from the current, which rises or falls with it all the way.
    """
    row = state.feeding.column_of[number]
    if use == "peak":
        return float(side.at_moment.voltage_v[row, _moment(state, side, number, column)])
    lit_v = float(side.voltage_v[row, column])
    if use != "mean":
        return lit_v
    wanted_a = float(side.mean_a[row, column])
    rows = _factors(subject, state, side, "mean", number, column)
    demand = subject.solved.network.demand

    def taken_a(voltage_v: float) -> float:
        return float(sum(demand.lit.at(np.array([[voltage_v]]))[place, 0] * factor for place, factor in rows.items()))

    low, high = lit_v * 0.5, lit_v * 2.0
    rising = taken_a(high) >= taken_a(low)
    for _ in range(80):
        middle = (low + high) / 2
        if (taken_a(middle) < wanted_a) == rising:
            low = middle
        else:
            high = middle
    return lit_v if abs(taken_a(high) - taken_a(lit_v)) < 1e-9 else (low + high) / 2


def _moment(state: State, side: Side, number: str, column: int) -> int:
    """The moment of a condition at which a circuit takes most."""
    moments = state.moments.columns_of(column)
    return moments[int(side.at_moment.current_a[state.feeding.column_of[number], list(moments)].argmax())]


def _factors(subject: Subject, state: State, side: Side, use: str, number: str, column: int) -> dict[int, float]:
    """By row of load, the part of its lit current that counts."""
    demand, place = subject.solved.network.demand, state.chosen[column]
    if use == "peak":
        factor = state.moments.level[:, _moment(state, side, number, column)]
    else:
        factor = {"mean": demand.duty, "rms": demand.root_duty, "continuous": demand.sizing}[use][:, place]
    factor = factor * (1.0 - side.off[:, column])
    rows = [subject.solved.index.load_row[load.key] for load in subject.solved.index.loads_of.get(number, ())]
    return {row: float(factor[row]) for row in rows if factor[row] > 0}


def _load_rows(
    subject: Subject, state: State, side: Side, use: str, circuit: Circuit, column: int, load_v: float
) -> Iterator[Row]:
    loads, place = subject.design.loads, state.chosen[column]
    exponents = {"resistive": 1.0, "constant_current": 0.0, "constant_power": -1.0}
    for row, factor in _factors(subject, state, side, use, circuit.number, column).items():
        load = loads[row]
        exponent = exponents[load.model.value]
        value = load.quantity * load.current_a * (load_v / load.at_v) ** exponent * factor
        yield Row(load.name or load.key, (load.quantity, load.current_a, load.at_v, load_v, exponent, factor), value)
    asleep = subject.solved.network.demand.asleep_a[:, place]
    for load in subject.solved.index.loads_of.get(circuit.number, ()):
        asleep_a = float(asleep[subject.solved.index.load_row[load.key]])
        if asleep_a:
            yield Row(f"{load.name or load.key}, asleep", (1, asleep_a, load.at_v, load_v, 0.0, 1.0), asleep_a)


def run_current_working(subject: Subject, use: str, key: str) -> Working:
    """Return the working of a run's continuous or peak current: what each circuit sends through it."""
    facts = subject.run(key)
    place = subject.solved.network.elements.run_row[key]
    best = _most_through(subject, use, place)
    value = facts.sizing_a if use == "continuous" else facts.result.peak_a
    rows: tuple[Row, ...] = ()
    where, when = "nothing flows through it in any condition", ""
    if value > (0.0 if best is None else best[0]) * (1 + 1e-9):  # more than any load asks: what charges decides
        closing = deciding_closing(subject, place, value) if use == "peak" else None
        if closing is None:
            return _charging_working(subject, use, key, value)
        rows, where, when = (closing_row(closing),), "as a switch joins an empty battery to a full one", "for minutes"
    elif value and best is not None:
        state, column = best[1:]
        rows, when = _rows_sent(state, use, column, place)
        rows = (*rows, *charged_over(subject, state, column, place))
        where = f"in “{subject.design.conditions[state.chosen[column]].name}”"
    return Working(
        key=f"run-{use}:{key}",
        title=f"{use.capitalize()} current of run {key}, {where}",
        steps=(_parts_sent(rows, when),),
        result=value,
        unit="A",
        rule=_USES[use],
        sources=("the solved distribution",),
    )  # fmt: skip


def panel_current_working(subject: Subject, key: str) -> Working:
    """Return the working of a panel's continuous current: what stands on it and behind it, in its worst condition."""
    result = next((item for item in subject.assessment.panels if item.key == key), None)
    if result is None:
        raise UnknownTableEntry("The panels of this build", key)
    place = subject.solved.network.elements.node_row[key]
    best = _most_through(subject, "continuous", place)
    rows: tuple[Row, ...] = ()
    where, when = "nothing is on in any condition", ""
    if result.continuous_a > (0.0 if best is None else best[0]) * (1 + 1e-9):
        where, when = "while a flat battery is charged", "what sources send at most to their batteries, past it"
        rows = _sent_to_battery(subject, place)
    elif best is not None and result.continuous_a:
        state, column = best[1:]
        rows, when = _rows_sent(state, "continuous", column, place)
        rows = (*rows, *charged_over(subject, state, column, place))
        where = f"in “{subject.design.conditions[state.chosen[column]].name}”"
    return Working(
        key=f"panel-continuous:{key}",
        title=f"Continuous current of panel {key}, {where}",
        steps=(_parts_sent(rows, when),),
        result=result.continuous_a,
        unit="A",
        rule=_USES["continuous"],
        sources=("the solved distribution",),
    )


def _most_through(subject: Subject, use: str, place: int) -> tuple[float, State, int] | None:
    """The largest current of an element over all conditions, with the state and the column that have it."""
    best: tuple[float, State, int] | None = None
    for state in subject.solved.network.states:
        if not state.chosen or not state.feeding.circuits:
            continue
        charges = link_charges(subject.solved.index, subject.solved.network, state)
        through = with_charges(through_elements_a(state, use), charges)[place]
        column = int(through.argmax())
        if best is None or through[column] > best[0]:
            best = (float(through[column]), state, column)
    return best


def _rows_sent(state: State, use: str, column: int, place: int) -> tuple[tuple[Row, ...], str]:
    """What each circuit sends through an element in a condition, and words for when it does."""

    def through_a(of_circuits: Floats) -> Floats:
        return np.asarray(state.through_a(of_circuits, np.full(of_circuits.shape[1], column))[place])

    current_a, when = of_circuits_a(state, use, column, through_a)
    return tuple(_sent(state, current_a, column, place)), when


def _parts_sent(rows: tuple[Row, ...], when: str) -> Rows:
    return Rows(
        words="What each circuit sends through it",
        symbol="I",
        heads=(("I_c", "A", "current of the circuit"), ("w", "", "part that goes this way")),
        formula="I_c × w",
        rows=rows,
        total=sum(row.value for row in rows),
        unit="A",
        note=when,
    )


def _sent_home(subject: Subject, key: str) -> tuple[Row, ...]:
    """What each source that charges sends home through a run, of the setting that sends most."""
    place = subject.solved.network.elements.run_row[key]
    settings = charging_returns(subject.solved.index, subject.solved.network)
    sent = [
        tuple(
            Row(way.source.name or way.source.key, (way.current_a, float(way.part[place])), way.current_a * float(way.part[place]))
            for way in together if way.part[place]
        )
        for together in settings
    ]  # fmt: skip
    return max(sent, key=lambda rows: sum(row.value for row in rows), default=())


def _sent_to_battery(subject: Subject, place: int) -> tuple[Row, ...]:
    """What each source that charges sends at most through an element towards its battery, in the setting that sends most."""
    sent: list[tuple[Row, ...]] = [()]
    for state in subject.solved.network.states:
        ways = state.feeding.from_sources
        if ways is not None:
            parts = zip(ways.chargers, np.abs(ways.charging[place]).tolist(), strict=True)
            found = [(subject.solved.index.nodes[charger.key], charger.most_a, part) for charger, part in parts if part]
            sent.append(
                tuple(Row(node.name or node.key, (most_a, part), most_a * part) for node, most_a, part in found)
            )
    return max(sent, key=lambda rows: sum(row.value for row in rows))


def _charging_working(subject: Subject, use: str, key: str, value: float) -> Working:
    """A charging cable carries what the source at its end gives at most, which no load decides."""
    run = subject.run(key).run
    rows = tuple(
        Row(node.name or node.key, (node.alternator.rated_a, ratio), node.alternator.rated_a * ratio)
        for node in subject.solved.index.alternators()
        if node.alternator is not None and node.key in (run.from_node, run.to_node)
        for ratio in [max(node.alternator.idle_ratio, node.alternator.speed_ratio)]
    )
    heads: tuple[tuple[str, str, str], ...] = (
        ("I_r", "A", "rated"),
        ("f", "", "part given hot, the larger of idle and speed"),
    )
    formula = "I_r × f"
    if abs(sum(row.value for row in rows) - value) > 1e-9 * value:
        # sources of other kinds say their most themselves
        heads, formula = (("I_s", "A", "given at most"), ("w", "", "part that goes this way")), "I_s × w"
        rows = _sent_home(subject, key)
        if run.side is RunSide.SUPPLY:
            rows = _sent_to_battery(subject, subject.solved.network.elements.run_row[key])
    if abs(sum(row.value for row in rows) - value) > 1e-9 * value:
        rows, heads, formula = (Row("What the sources at its ends send at most", (), value),), (), ""
    return Working(
        key=f"run-{use}:{key}",
        title=f"{use.capitalize()} current of charging cable {key}",
        steps=(
            Rows(
                words="What the source gives at most, all of it to a flat battery", symbol="I",
                heads=heads, formula=formula, rows=rows, total=value, unit="A",
            ),
        ),
        result=value,
        unit="A",
        rule="a charging cable carries the whole output of its source",
        sources=("the source's figures as entered",),
    )  # fmt: skip


def _sent(state: State, circuit_a: Floats, column: int, place: int) -> Iterator[Row]:
    feeding, ways = state.feeding, state.feeding.from_sources
    of_panels, of_grounds = feeding.passed_ways
    out, home = of_panels[place][feeding.panels.column], of_grounds[place][feeding.returns.column]
    parts = out + home if feeding.sharing is not None else np.abs(out) + np.abs(home)
    made_up_a = float(state.short_a(circuit_a[:, None], np.array([column]))[0])
    against = 0.0 if ways is None else float(ways.between[place])
    sign = 1.0 if float(parts @ circuit_a) >= 0 else -1.0
    if sign * float(parts @ circuit_a) < against * made_up_a:
        sign, against = -sign, -against
    for words, part, current_a in zip(_takers(state), parts.tolist(), circuit_a.tolist(), strict=True):
        if part and current_a:
            yield Row(words, (current_a, sign * part), sign * part * current_a)
    if against and made_up_a:
        yield Row("What the battery makes up, from its side", (made_up_a, -against), -against * made_up_a)
