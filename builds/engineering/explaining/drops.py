"""Workings of voltage drop: everything between the battery's post and the load and back, element by element."""

from collections.abc import Iterator

import numpy as np

from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.source_volts import lost_in_diodes_v
from builds.engineering.assessing.states import State, case_of
from builds.engineering.assessing.worst_drops import WorstDrop
from builds.engineering.electrical.conductors import resistance_ratio
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.conductors import resistance_steps
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working

__all__ = ["circuit_drop_working", "lowest_working", "named_element", "run_drop_working"]


_HEADS = (
    ("R", "mΩ", "resistance"),
    ("I", "A", "current through it, with everything else that is on"),
    ("w", "", "part of this circuit's current that goes this way"),
)


def circuit_drop_working(subject: Subject, number: str) -> Working:
    """Return the working of a circuit's worst drop."""
    facts = subject.circuit(number)
    drop, rule = facts.drop, facts.drop.rule
    steps: list[Step | Rows | Comparison] = []
    if drop.condition:
        _, state, _ = subject.condition(drop.condition)
        column = drop.column
        row = state.feeding.column_of[number]
        current_a = float(state.drops[case_of(rule)].current_a[row, column])
        shared = _shared(subject, state, row, column, drop)
        steps.append(shared)
        shared_v = shared.total
    else:
        shared_v, current_a = (
            0.0,
            drop.drop_v / max(facts.wire.ohm * resistance_ratio(temperature_c=rule.conductor_temp_c), 1e-12),
        )
    steps += resistance_steps(subject, facts.circuit, facts.wire, rule.conductor_temp_c, "R")
    steps += _own_and_all(subject, facts, current_a, shared_v)
    ratio = 100 * drop.drop_v / rule.base_v
    steps.append(
        Step(
            words="In parts of the rule's base voltage", symbol="d", formula="100 × V / V_base",
            numbers=(
                Number(symbol="V", value=drop.drop_v, unit="V", words="drop"),
                Number(symbol="V_base", value=rule.base_v, unit="V", words="base of the rule"),
            ),
            value=ratio, unit="%",
        )
    )  # fmt: skip
    steps.append(
        Comparison(words=f"Limit of {rule.key}", value=ratio, limit=100 * rule.limit_ratio, unit="%", at_most=True)
    )
    where = f"in “{subject.solved.index.conditions[drop.condition].name}”" if drop.condition else "of its loads alone"
    return Working(
        key=f"circuit-drop:{number}",
        title=f"Drop of circuit {number} {where}",
        steps=tuple(steps),
        result=ratio,
        unit="%",
        rule=f"{rule.key}: {100 * rule.limit_ratio:g} % of {rule.base_v:g} V at {rule.current} current, conductor at {rule.conductor_temp_c:g} °C",
        sources=(rule.source, subject.area_source, "IEC 60028, annealed copper: 0.017241 Ω·mm²/m at 20 °C"),
    )


def _shared(subject: Subject, state: State, row: int, column: int, drop: WorstDrop) -> Rows:
    """What is lost outside the circuit's own wire: each run and joint on the way out and home."""
    case = case_of(drop.rule)
    element_ohm, _ = state.resistances.at(case.conductor_temp_c)
    rows = tuple(_lost(subject, state, row, column, element_ohm, state.drops[case].current_a))
    return Rows(
        words="On the way to the panel and home from the stud",
        symbol="V_way",
        heads=_HEADS,
        formula="R × I × w / 1000",
        rows=rows,
        total=sum(item.value for item in rows),
        unit="V",
        note=f"runs at {case.conductor_temp_c:g} °C, joints as given; currents are those of the solved distribution",
    )


def _lost(
    subject: Subject, state: State, row: int, column: int, element_ohm: "np.ndarray[tuple[int], np.dtype[np.float64]]",
    current_a: "np.ndarray[tuple[int, int], np.dtype[np.float64]]",
) -> Iterator[Row]:  # fmt: skip
    feeding, names = state.feeding, subject.solved.network.elements.names
    lost_v = feeding.losses_v(element_ohm, current_a[:, [column]], row)[:, 0]
    parts = feeding.parts_of(row)
    for place, (ohm, part, volts) in enumerate(zip(element_ohm.tolist(), parts.tolist(), lost_v.tolist(), strict=True)):
        if ohm and part:
            yield Row(named_element(subject, names[place]), (1000 * ohm, volts / (ohm * part), part), volts)


def named_element(subject: Subject, key: str) -> str:
    """Say a run with its ends and its conductor, or a node."""
    run = subject.solved.index.runs.get(key)
    if run is None:
        node = subject.solved.index.nodes[key]
        return f"{key} {node.name}".strip()
    return f"Run {key} {run.from_node} → {run.to_node}: {subject.wire_words(run)}"


def _own_and_all(subject: Subject, facts: CircuitFacts, current_a: float, shared_v: float) -> tuple[Step, Step]:
    ohm = facts.wire.ohm * resistance_ratio(temperature_c=facts.drop.rule.conductor_temp_c)
    own = Step(
        words="In its own wire", symbol="V_own", formula="R × I / 1000",
        numbers=(
            Number(symbol="R", value=1000 * ohm, unit="mΩ", words="its own resistance"),
            Number(symbol="I", value=current_a, unit="A", words=f"{facts.drop.rule.current} current of the solved distribution"),
        ),
        value=ohm * current_a, unit="V",
    )  # fmt: skip
    whole = Step(
        words="From the battery's post to the load and back", symbol="V", formula="V_way + V_own",
        numbers=(
            Number(symbol="V_way", value=shared_v, unit="V", words="outside its own wire"),
            Number(symbol="V_own", value=ohm * current_a, unit="V", words="its own wire"),
        ),
        value=shared_v + ohm * current_a, unit="V",
    )  # fmt: skip
    return own, whole


def lowest_working(subject: Subject, key: str) -> Working:
    """Return the working of the voltage of the load that is left with least in a condition."""
    condition, state, column = subject.condition(key)
    result = next((item for item in subject.assessment.conditions if item.key == key), None)
    load = subject.solved.index.loads.get(result.lowest_load_key) if result is not None else None
    if result is None or result.lowest_load_v is None or load is None:
        raise UnknownTableEntry("The conditions with something on", key)
    row, moments = state.feeding.column_of[load.circuit], state.moments.columns_of(column)
    low = state.low.at_moment
    at = moments[int(low.voltage_v[row, list(moments)].argmin())]
    hottest_c = max(case.conductor_temp_c for case in state.drops)
    element_ohm, own_ohm = state.resistances.at(hottest_c)
    way = Rows(
        words="On the way to the panel and home from the stud", symbol="V_way",
        heads=_HEADS,
        formula="R × I × w / 1000", rows=(rows := tuple(_lost(subject, state, row, at, element_ohm, low.current_a))),
        total=sum(item.value for item in rows), unit="V", note=f"runs at {hottest_c:g} °C, joints as given",
    )  # fmt: skip
    inside_v = float(state.before_post_v(low.current_a, hottest_c)[row, at])
    source_v = float(state.low.source_v[row, column])
    voltage = Step(
        words=f"Left at {load.name or load.key}", symbol="V", formula="E − V_in − V_way − R × I / 1000",
        numbers=(
            Number(symbol="E", value=source_v, unit="V", words=_source_words(subject, state, row)),
            Number(symbol="V_in", value=inside_v, unit="V", words="before the battery's posts: inside it, or in the cable of the source"),
            Number(symbol="V_way", value=way.total, unit="V", words="on the way"),
            Number(symbol="R", value=1000 * float(own_ohm[row]), unit="mΩ", words=f"own wire of circuit {load.circuit}"),
            Number(symbol="I", value=float(low.current_a[row, at]), unit="A", words="its current"),
        ),
        value=source_v - inside_v - way.total - float(own_ohm[row] * low.current_a[row, at]), unit="V",
    )  # fmt: skip
    return Working(
        key=f"condition-lowest:{key}",
        title=f"Lowest voltage of any load in “{condition.name}”",
        steps=(way, voltage), result=result.lowest_load_v, unit="V",
        rule="everything lit that can be lit together, at the source's lowest voltage",
        sources=("the solved distribution; the loads' data sheets as entered",),
    )  # fmt: skip


def run_drop_working(subject: Subject, key: str) -> Working:
    """Return the working of what a run loses at its worst."""
    facts = subject.run(key)
    network = subject.solved.network
    row = network.elements.run_row[key]
    hottest_c, current_a = 20.0, 0.0
    for state in network.states:
        if not state.chosen or not state.feeding.circuits:
            continue
        temperature_c = max(case.conductor_temp_c for case in state.drops)
        through_a = float(state.through_a(state.low_lit_a)[row].max())
        if through_a >= current_a:
            hottest_c, current_a = temperature_c, through_a
    words = "all that is lit together, at the lowest source voltage"
    if facts.charging_a > current_a:
        hottest_c = max(rule.conductor_temp_c for rule in subject.solved.index.rules_in_use.values())
        words, current_a = "what the source sends at most to a flat battery", facts.charging_a
    given = facts.run.resistance_mohm
    steps: list[Step | Rows | Comparison] = []
    if given is None:
        steps += resistance_steps(subject, facts.run, facts.wire, hottest_c, "R")
        ohm = facts.wire.ohm * resistance_ratio(temperature_c=hottest_c)
    else:
        ohm = given / 1000
    steps.append(
        Step(
            words="What it loses", symbol="V", formula="R × I / 1000",
            numbers=(
                Number(symbol="R", value=1000 * ohm, unit="mΩ", words="as given for this run" if given is not None else "its own resistance"),
                Number(symbol="I", value=current_a, unit="A", words=words),
            ),
            value=ohm * current_a, unit="V",
        )
    )  # fmt: skip
    return Working(
        key=f"run-drop:{key}",
        title=f"Drop of run {key}, {subject.wire_words(facts.run)}",
        steps=tuple(steps),
        result=ohm * current_a,
        unit="V",
        rule="no limit of its own: it is counted in the drop of every circuit behind it",
        sources=(subject.area_source, "IEC 60028, annealed copper: 0.017241 Ω·mm²/m at 20 °C"),
    )


def _source_words(subject: Subject, state: State, row: int) -> str:
    lost_v = lost_in_diodes_v(subject.solved.index, state.feeding)
    if lost_v is None or not lost_v[row, 0]:
        return "the source at its lowest"
    return f"the source at its lowest, less the {float(lost_v[row, 0]):g} V that the isolator's diodes lose"
