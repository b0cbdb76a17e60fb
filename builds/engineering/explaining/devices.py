"""Workings of protection: how a device is loaded, what a short draws where it sits, what a short draws at the far end."""

from bisect import bisect_right

from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.devices import Device, breaks_a
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.shorts import battery_end, cold_ohm
from builds.engineering.design import Run
from builds.engineering.electrical.conductors import COLDEST_CABLE_C, resistance_ratio
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.conductors import resistance_steps
from builds.engineering.explaining.subject import Subject, table_source
from builds.engineering.explaining.values import Comparison, Number, Step, Working
from builds.engineering.tables.loader import load_table

__all__ = ["far_end_working", "loading_working", "short_working"]


def loading_working(subject: Subject, facts: CircuitFacts | RunFacts, key: str) -> Working:
    """Return the working of a device's continuous loading."""
    device = facts.device
    if device is None or not device.carries_a:
        raise UnknownTableEntry("The devices of this build", key)
    limit = subject.solved.index.numbers["device-loading"]
    loading = 100 * facts.continuous_a / device.carries_a
    steps: list[Step | Comparison] = [
        *_heat(device),
        Step(
            words="What it carries where it sits", symbol="I_c", formula="I_dev × f",
            numbers=(
                Number(symbol="I_dev", value=device.rating_a, unit="A", words=f"rating, {device.name}"),
                Number(symbol="f", value=device.heat_ratio, unit="", words="what heat leaves"),
            ),
            value=device.carries_a, unit="A",
        ),
        Step(
            words="Its loading", symbol="p", formula="100 × I / I_c",
            numbers=(
                Number(symbol="I", value=facts.continuous_a, unit="A", words="continuous RMS, the most of all conditions; what can be steady counts as steady"),
                Number(symbol="I_c", value=device.carries_a, unit="A", words="what it carries"),
            ),
            value=loading, unit="%",
        ),
        Comparison(words="Continuous loading", value=loading, limit=100 * limit, unit="%", at_most=True),
        Comparison(words="Everything at once", value=facts.sizing_a, limit=device.carries_a, unit="A", at_most=True),
    ]  # fmt: skip
    return Working(
        key=key,
        title=f"Loading of the {device.rating_a:g} A {device.name} device",
        steps=tuple(steps),
        result=loading,
        unit="%",
        rule=f"device-loading: at most {100 * limit:g} % of the rerated value",
        sources=(
            table_source("rerating_curves"),
            "device makers' loading rule: device at least 1.25 times the continuous load",
        ),
    )


def _heat(device: Device) -> tuple[Step, ...]:
    """What heat leaves, between two rows of the family's curve."""
    if device.family is None:
        words = "no table has this family: nothing is taken off"
        return (_heat_given(device.heat_ratio, words),)
    rows = [row for row in load_table("rerating_curves").rows if row["family"] == device.family.key]
    points = [(float(row["ambient_c"]), float(row["factor"])) for row in rows]
    place = bisect_right([point[0] for point in points], device.ambient_c)
    if not 0 < place < len(points) or device.ambient_c == points[place - 1][0]:
        return (_heat_given(device.heat_ratio, f"{device.family.key} at {device.ambient_c:g} °C"),)
    (cool_c, cool), (warm_c, warm) = points[place - 1], points[place]
    return (
        Step(
            words="What heat leaves of its rating", symbol="f", formula="f1 + (f2 − f1) × (T − T1) / (T2 − T1)",
            numbers=(
                Number(symbol="f1", value=cool, unit="", words=f"{device.family.key} at {cool_c:g} °C"),
                Number(symbol="f2", value=warm, unit="", words=f"{device.family.key} at {warm_c:g} °C"),
                Number(symbol="T", value=device.ambient_c, unit="°C", words="where it sits"),
                Number(symbol="T1", value=cool_c, unit="°C", words="row before"),
                Number(symbol="T2", value=warm_c, unit="°C", words="row after"),
            ),
            value=device.heat_ratio, unit="",
        ),
    )  # fmt: skip


def _heat_given(ratio: float, words: str) -> Step:
    number = Number(symbol="c", value=ratio, unit="", words=words)
    return Step(
        words="What heat leaves of its rating", symbol="f", formula="c", numbers=(number,), value=ratio, unit=""
    )


def short_working(subject: Subject, facts: CircuitFacts | RunFacts, key: str) -> Working:
    """Return the working of the prospective current at a device's own terminals."""
    shorts = subject.solved.shorts
    if isinstance(facts, CircuitFacts):
        node, before_ohm, value = facts.circuit.panel, 0.0, facts.result.prospective_a
    else:
        value = facts.result.prospective_a or 0.0
        share = min(facts.run.device_distance_m / facts.run.length_m, 1.0) if facts.run.length_m else 0.0
        before_ohm = cold_ohm(subject.solved.network, facts.run) * share
        node = _worse_end(subject, facts.run, before_ohm)
    if not value or node not in shorts.open_v:
        raise UnknownTableEntry("What a battery feeds in this build", key)
    numbers = (
        Number(symbol="E", value=shorts.open_v[node], unit="V", words=f"open voltage at {node}, every battery full"),
        Number(symbol="R_s", value=1000 * shorts.source_ohm[node], unit="mΩ", words=f"all batteries and cables up to {node} at {COLDEST_CABLE_C:g} °C, side by side where they are"),
        Number(symbol="R_c", value=1000 * before_ohm, unit="mΩ", words="cable between there and the device, cold"),
        Number(symbol="I_lim", value=value - shorts.open_v[node] / (shorts.source_ohm[node] + before_ohm), unit="A", words="what alternators and converters add"),
    )  # fmt: skip
    steps: list[Step | Comparison] = [
        Step(words="Short just behind the device", symbol="I", formula="1000 × E / (R_s + R_c) + I_lim", numbers=numbers, value=value, unit="A")
    ]  # fmt: skip
    device = facts.device
    capacity_a = breaks_a(device.name, facts.nominal_v) if device is not None else None
    if device is not None and capacity_a is not None:
        steps.append(
            Comparison(words=f"{device.name} breaks at {facts.nominal_v:g} V", value=value, limit=capacity_a, unit="A", at_most=True)
        )  # fmt: skip
    return Working(
        key=key,
        title=f"Prospective current at {node}",
        steps=tuple(steps),
        result=value,
        unit="A",
        rule="interrupting capacity at least the prospective current, or a cited device that backs it up",
        sources=(
            table_source("interrupting_capacities"),
            "upper bound: no resistance in the fault nor in the way back",
        ),
    )


def _worse_end(subject: Subject, run: Run, before_ohm: float) -> str:
    """The end at which a short draws most: of a run with one device that from which its place is counted."""
    shorts = subject.solved.shorts
    ends = (run.from_node, run.to_node) if run.device_at_both_ends else (battery_end(subject.solved.index, run),)
    return max(ends, key=lambda end: shorts.prospective_a(end, before_ohm) or 0.0)


def far_end_working(subject: Subject, number: str) -> Working:
    """Return the working of a short at a circuit's far end."""
    facts, solved = subject.circuit(number), subject.solved
    hot_c = facts.circuit.insulation_c  # a short may begin on a conductor as hot as its insulation bears
    own_mohm = 1000 * facts.wire.ohm * resistance_ratio(temperature_c=hot_c)
    value = facts.result.far_end_fault_a
    needed = _needed(facts)
    through_a = solved.shorts.source_v[number] / (solved.shorts.loop_ohm[number] + own_mohm / 1000)
    steps = (
        *resistance_steps(subject, facts.circuit, facts.wire, hot_c, "R"),
        *needed[:1],
        Step(
            words="Short at the far end", symbol="I", formula="1000 × V / (R_l + R)",
            numbers=(
                Number(symbol="V", value=solved.shorts.source_v[number], unit="V", words="nominal voltage"),
                Number(symbol="R_l", value=1000 * solved.shorts.loop_ohm[number], unit="mΩ", words="battery, feeds and way back, each conductor as hot as its insulation bears"),
                Number(symbol="R", value=own_mohm, unit="mΩ", words="its own wire, out and back"),
            ),
            value=through_a, unit="A",
        ),
        *_limited(value, through_a),
        *needed[1:],
    )  # fmt: skip
    return Working(
        key=f"circuit-far-end:{number}",
        title=f"Short at the far end of circuit {number}",
        steps=steps,
        result=value,
        unit="A",
        rule="the device opens within seconds, even where the short begins on a conductor as hot as its insulation bears",
        sources=(table_source("device_families"), table_source("opening_times"), subject.area_source),
    )


def _limited(value_a: float, through_a: float) -> tuple[Step, ...]:
    """Behind a converter a short draws what it gives at most, whatever the resistance would let through."""
    if value_a >= through_a * (1 - 1e-9):
        return ()
    number = Number(symbol="I_lim", value=value_a, unit="A", words="the most that the converter before it gives")
    return (
        Step(
            words="What its converter gives", symbol="I_f", formula="I_lim", numbers=(number,), value=value_a, unit="A"
        ),
    )


def _needed(facts: CircuitFacts) -> tuple[Step | Comparison, ...]:
    """What the device needs, and the comparison with it; nothing for a family of no table."""
    device = facts.device
    if device.family is None:
        return ()
    needed_a = device.family.far_end_multiple_ratio * device.rating_a
    step = Step(
        words="What its device needs to open quickly", symbol="I_q", formula="m × I_dev",
        numbers=(
            Number(symbol="m", value=device.family.far_end_multiple_ratio, unit="", words=f"{device.name}: opens within 10 s"),
            Number(symbol="I_dev", value=device.rating_a, unit="A", words="rating"),
        ),
        value=needed_a, unit="A",
    )  # fmt: skip
    value = facts.result.far_end_fault_a
    return step, Comparison(words="Short at the far end", value=value, limit=needed_a, unit="A", at_most=False)
