"""Workings of sources and batteries: what is left of the source, how long a battery lasts, days with the key off."""

from collections.abc import Iterator

from builds.engineering.assessing.condition_results import BatteryUse, battery_uses
from builds.engineering.assessing.source_outputs import available_output, curve_lacks
from builds.engineering.assessing.states import State
from builds.engineering.assessing.totals import (
    asleep_ratios,
    dead_with_key_off,
    idle_at_batteries_a,
    run_ons,
    self_discharge,
    standing_draws,
)
from builds.engineering.design import BatterySpec, OperatingCondition, PowerNode
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working
from builds.engineering.vocabulary import SourceState

__all__ = ["battery_working", "key_off_days_working", "key_off_working", "source_working"]


def source_working(subject: Subject, key: str) -> Working:
    """Return the working of what is left of the source in a condition."""
    condition, state, _ = subject.condition(key)
    result = next((item for item in subject.assessment.conditions if item.key == key), None)
    if result is None or result.source is None:
        raise UnknownTableEntry("The conditions that a source feeds", key)
    available = result.source.available_a
    steps: list[Step | Rows | Comparison] = [
        _given(subject, condition, state),
        Step(
            words="What is left", symbol="I_left", formula="I_s − I_mean",
            numbers=(
                Number(symbol="I_s", value=available, unit="A", words="what the sources give"),
                Number(symbol="I_mean", value=available - result.source.margin_a, unit="A", words="mean of what hangs on the batteries it charges" + ("" if result.source.charging_a < 1e-6 else ", converters that charge others at all they give")),
            ),
            value=result.source.margin_a, unit="A",
        ),
        Comparison(
            words="This buyer asks for", value=result.source.margin_a,
            limit=subject.solved.index.numbers["source-margin"] * available, unit="A", at_most=False,
        ),
    ]  # fmt: skip
    return Working(
        key=f"condition-source:{key}",
        title=f"Source left in “{condition.name}”",
        steps=tuple(steps),
        result=result.source.margin_a,
        unit="A",
        rule="source-margin: mean current against the source's hot output",
        sources=("the source's figures as entered; the loads' data sheets",),
    )


def _given(subject: Subject, condition: OperatingCondition, state: State) -> Rows:
    """What the sources that charge give: an estimate as rated × part, any other as its maker or the condition says."""
    charging = {key for keys in state.feeding.chargers.values() for key in keys}
    nodes = [node for node in subject.solved.index.design.nodes if node.key in charging]
    outputs = [(node, output) for node in nodes if (output := available_output(condition, node)) is not None]
    total = sum(output.available_a for _, output in outputs)
    if outputs and all(
        output.estimate and node.alternator is not None and not node.alternator.points for node, output in outputs
    ):
        rows = tuple(
            Row(
                node.name or node.key,
                (node.alternator.rated_a, output.available_a / node.alternator.rated_a),
                output.available_a,
            )
            for node, output in outputs
            if node.alternator is not None
        )
        return Rows(
            words="What the source gives hot, an estimate from its rating", symbol="I_s",
            heads=(("I_r", "A", "rated"), ("f", "", "part left hot")), formula="I_r × f", rows=rows, total=total, unit="A",
        )  # fmt: skip
    return Rows(
        words="What the sources give at most", symbol="I_s", heads=(), formula="",
        rows=tuple(Row(_given_words(condition, node), (), output.available_a) for node, output in outputs), total=total, unit="A",
        note="from the maker's curve, the source's limit or what the condition says of it",
    )  # fmt: skip


def _given_words(condition: OperatingCondition, node: PowerNode) -> str:
    """A source's name, and where its figure is an estimate, of what."""
    name, spec, lacks = node.name or node.key, node.alternator, curve_lacks(condition, node)
    if lacks and spec is not None:
        idle = condition.source_state is not SourceState.AT_SPEED
        part, end = (spec.idle_ratio, "least") if idle else (spec.speed_ratio, "most")
        return f"{name}, an estimate: the lesser of {spec.rated_a:g} A × {part:g} and the {end} of its hottest curve"
    output = available_output(condition, node)
    return (
        f"{name}, an estimate: hotter than its hottest curve"
        if output and output.estimate and spec and spec.points
        else name
    )


def battery_working(subject: Subject, key: str) -> Working:
    """Return the working of the time to cut-off in a condition without an engine."""
    uses = [use for use in battery_uses(subject.solved.index, subject.solved.network) if use.condition.key == key]
    result = next((item for item in subject.assessment.conditions if item.key == key), None)
    if not uses or result is None or result.battery_h is None:
        raise UnknownTableEntry("The conditions that batteries carry", key)
    use = min(uses, key=lambda item: item.time_h)
    spec = use.battery.battery
    assert spec is not None  # battery_uses lists no others
    steps: list[Step | Rows | Comparison] = [*_given_beside(use), *_discharge(spec, use.mean_a)]
    if use.condition.min_hours is not None:
        steps.append(
            Comparison(words="This buyer asks for", value=result.battery_h, limit=use.condition.min_hours, unit="h", at_most=False)
        )  # fmt: skip
    return Working(
        key=f"condition-battery:{key}",
        title=f"Time of {use.battery.name or use.battery.key} in “{use.condition.name}”",
        steps=tuple(steps),
        result=result.battery_h,
        unit="h",
        rule="rated capacity, Peukert's exponent in the rated-hours form capped at the rated current, part that may be used",
        sources=("Peukert, rated-hours form t = H (C / (I H))^k", "the battery's figures as entered"),
    )


def _given_beside(use: BatteryUse) -> Iterator[Step]:
    """What a charger that is too small leaves to the battery."""
    if use.charged_a:
        yield Step(
            words="What the charger leaves to the battery", symbol="I", formula="I_mean − I_s",
            numbers=(
                Number(symbol="I_mean", value=use.mean_a + use.charged_a, unit="A", words="mean of the loads on this battery"),
                Number(symbol="I_s", value=use.charged_a, unit="A", words="what charges it gives at most"),
            ),
            value=use.mean_a, unit="A",
        )  # fmt: skip


def _discharge(spec: BatterySpec, current_a: float) -> tuple[Step, Step]:
    rated_a = spec.capacity_ah / spec.rated_hours
    numbers = {
        "C": Number(symbol="C", value=spec.capacity_ah, unit="Ah", words="capacity at its rated hours"),
        "H": Number(symbol="H", value=spec.rated_hours, unit="h", words="rated hours"),
        "k": Number(symbol="k", value=spec.peukert_exponent, unit="", words="Peukert's exponent"),
        "I": Number(symbol="I", value=current_a, unit="A", words="mean current of this condition on this battery"),
        "u": Number(symbol="u", value=spec.usable_ratio, unit="", words="part that may be used"),
    }
    above = current_a > rated_a
    limit = Step(
        words="Current at which the label holds", symbol="I_H", formula="C / H", numbers=(numbers["C"], numbers["H"]),
        value=rated_a, unit="A", note="above it Peukert's law, up to it plain ampere-hours",
    )  # fmt: skip
    whole_h = (
        spec.rated_hours * (rated_a / current_a) ** spec.peukert_exponent if above else spec.capacity_ah / current_a
    )
    time = Step(
        words="Time to cut-off", symbol="t",
        formula="u × H × (C / (I × H))^k" if above else "u × C / I",
        numbers=tuple(numbers[name] for name in ("u", "H", "C", "I", "k")) if above else tuple(numbers[name] for name in ("u", "C", "I")),
        value=spec.usable_ratio * whole_h, unit="h",
    )  # fmt: skip
    return limit, time


def key_off_working(subject: Subject) -> Working:
    """Return the working of the draw with the key off."""
    energy, index, network = subject.assessment.energy, subject.solved.index, subject.solved.network
    ratios, dead = asleep_ratios(index, network), dead_with_key_off(index, network)
    rows = tuple(
        Row(
            load.name or load.key,
            (load.quantity, 1000 * load.key_off_a, ratio),
            1000 * load.key_off_a * load.quantity * ratio,
        )
        for load in subject.design.loads
        if load.key_off_a and load.circuit not in dead
        for ratio in [ratios.get(load.circuit, 1.0)]
    )
    idle_ma = 1000 * idle_at_batteries_a(index, network)
    if idle_ma:
        rows = (*rows, Row("Converters by themselves", (1, idle_ma, 1.0), idle_ma))
    return Working(
        key="key-off",
        title="Draw of the added gear with the key off",
        steps=(
            Rows(
                words="Every load that sleeps", symbol="I", heads=(("q", "", "how many"), ("i", "mA", "asleep, each"),
                       ("k", "", "amperes of the battery for one; behind a converter its output volts over efficiency and input volts")),
                formula="q × i × k", rows=rows, total=sum(row.value for row in rows), unit="mA",
            ),
            Comparison(words="Limit", value=energy.key_off_ma, limit=energy.key_off_limit_ma, unit="mA", at_most=True),
        ),
        result=energy.key_off_ma,
        unit="mA",
        rule="key-off-limit",
        sources=("the loads' data sheets as entered", "maker service manuals: more than 50 mA is a fault"),
    )  # fmt: skip


def key_off_days_working(subject: Subject) -> Working:
    """Return the working of how many days the vehicle may stand."""
    days = subject.assessment.energy.key_off_days
    if days is None:
        raise UnknownTableEntry("What sleeps on a battery of this build", "key-off-days")
    usable = subject.solved.index.numbers["key-off-usable"]
    index, network = subject.solved.index, subject.solved.network
    limit = Comparison(
        words="This buyer asks for", value=days, limit=index.numbers["key-off-days"], unit="d", at_most=False
    )
    for (battery, draw_a), (_, run_on_ah) in zip(standing_draws(index, network), run_ons(index, network), strict=True):
        if battery.battery is None or not draw_a:
            continue
        step = _standing(battery.name or battery.key, battery.battery, usable, draw_a, run_on_ah)
        if abs(step.value - days) <= 1e-9 * max(days, 1.0):
            return Working(
                key="key-off-days",
                title="Days the vehicle may stand with the key off",
                steps=(step, limit),
                result=days,
                unit="d",
                rule="key-off-days, with the part that key-off-usable leaves; never Peukert's law",
                sources=("maker bulletin: no start after about 40 % of the ampere-hours",),
            )
    raise UnknownTableEntry("What sleeps on a battery of this build", "key-off-days")


def _standing(battery: str, spec: BatterySpec, usable_ratio: float, draw_a: float, run_on_ah: float) -> Step:
    capacity_ah, lost = spec.capacity_ah, self_discharge(spec)
    numbers = [
        Number(symbol="u", value=usable_ratio, unit="", words="part that standing may use"),
        Number(symbol="C", value=capacity_ah, unit="Ah", words="capacity"),
        Number(symbol="I", value=1000 * draw_a, unit="mA", words="draw of what sleeps on this battery"),
    ]
    numbers.append(Number(symbol="s", value=lost, unit="1/d", words="part that the battery loses by itself in a day"))
    formula = "u × C / (24 × I / 1000 + s × C)"
    if run_on_ah:
        numbers.append(
            Number(symbol="R", value=run_on_ah, unit="Ah", words="what timers take once after the key is off")
        )
        formula = "(u × C − R) / (24 × I / 1000 + s × C)"
    value = max(usable_ratio * capacity_ah - run_on_ah, 0.0) / (24 * draw_a + lost * capacity_ah)
    return Step(
        words=f"On {battery}, plain ampere-hours",
        symbol="d",
        formula=formula,
        numbers=tuple(numbers),
        value=value,
        unit="d",
    )
