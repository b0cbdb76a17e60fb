"""Workings of what a panel's feed loses and of what an alternator gives hot, where its maker's curve is not read."""

from builds.engineering.assessing.source_outputs import output_of_rating
from builds.engineering.assessing.states import State
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.drops import named_element
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Number, Row, Rows, Step, Working

__all__ = ["alternator_hot_working", "feed_drop_working"]


def feed_drop_working(subject: Subject, key: str) -> Working:
    """Return the working of the most that is lost between a battery's post and a panel, the way out alone."""
    result = next((item for item in subject.assessment.panels if item.key == key), None)
    worst = max(
        (found for state in subject.solved.network.states if (found := _worst(state, key))), default=None, key=_drop
    )
    if result is None or worst is None:
        raise UnknownTableEntry("The fed panels of this build", key)
    _, state, panel, column = worst
    hottest_c = max(case.conductor_temp_c for case in state.drops)
    element_ohm, _ = state.resistances.at(hottest_c)
    lost_v = state.feeding.feed_losses_v(element_ohm, state.low_lit_a, panel)[:, column].tolist()
    names = subject.solved.network.elements.names
    rows = tuple(
        Row(named_element(subject, names[at]), (1000 * ohm, volts / ohm), volts)
        for at, (ohm, volts) in enumerate(zip(element_ohm.tolist(), lost_v, strict=True))
        if ohm and volts
    )
    node, condition = subject.node(key), subject.design.conditions[state.chosen[int(state.moments.of[column])]]
    lost = Rows(
        words="On the way from the battery's post to the panel", symbol="V",
        heads=(("R", "mΩ", "resistance"), ("I", "A", "current through it, its part that goes this way")), formula="R × I / 1000",
        rows=rows, total=sum(row.value for row in rows), unit="V", note=f"runs at {hottest_c:g} °C, joints as given",
    )  # fmt: skip
    ratio = Step(
        words="In parts of the panel's nominal voltage", symbol="d", formula="100 × V / V_n",
        numbers=(
            Number(symbol="V", value=lost.total, unit="V", words="lost on the way"),
            Number(symbol="V_n", value=node.nominal_v, unit="V", words="nominal voltage of the panel"),
        ),
        value=100 * lost.total / node.nominal_v, unit="%",
    )  # fmt: skip
    return Working(
        key=f"panel-feed-drop:{key}", title=f"Feed drop of {node.name or key} in “{condition.name}”", steps=(lost, ratio),
        result=100 * result.feed_drop_ratio, unit="%",
        rule="no limit of its own: all that is lit together at the source's lowest voltage, the way out alone; it is counted in the drop of every circuit behind it",
        sources=(subject.area_source, "the solved distribution; the loads' data sheets as entered"),
    )  # fmt: skip


_Worst = tuple[float, State, int, int]


def _drop(found: _Worst) -> float:
    return found[0]


def _worst(state: State, key: str) -> _Worst | None:
    """The largest feed drop of a panel in a state, with the panel's row and the moment; None where it is not fed there."""
    names = [panel for panel, _ in state.feeding.panels.names]
    if key not in names or not state.chosen:
        return None
    panel = names.index(key)
    element_ohm, _ = state.resistances.at(max(case.conductor_temp_c for case in state.drops))
    of_panel = state.feeding.feed_drop_v(element_ohm, state.low_lit_a)[panel]
    column = int(of_panel.argmax())
    return float(of_panel[column]), state, panel, column


def alternator_hot_working(subject: Subject, key: str, *, idle: bool) -> Working:
    """Return the working of what an alternator gives hot at idle or at road speed, by its rating."""
    node = subject.solved.index.nodes.get(key)
    spec = node.alternator if node is not None else None
    if node is None or spec is None:
        raise UnknownTableEntry("The alternators of this build", key)
    part, where = (spec.idle_ratio, "at idle") if idle else (spec.speed_ratio, "at road speed")
    output_a = output_of_rating(spec, idle=idle).available_a
    hot = Step(
        words="Hot part of its rating", symbol="I", formula="I_r × f",
        numbers=(
            Number(symbol="I_r", value=spec.rated_a, unit="A", words="rated output"),
            Number(symbol="f", value=part, unit="", words=f"part of it that is left hot {where}, as entered"),
        ),
        value=spec.rated_a * part, unit="A",
    )  # fmt: skip
    curve = Step(
        words=f"Its curve has less: the {'least' if idle else 'most'} of its hottest one", symbol="I_c", formula="a",
        numbers=(Number(symbol="a", value=output_a, unit="A", words="as its maker prints it"),), value=output_a, unit="A",
    )  # fmt: skip
    return Working(
        key=f"alternator-{'idle' if idle else 'speed'}:{key}", title=f"What {node.name or key} gives hot {where}, an estimate",
        steps=(hot,) if output_a == spec.rated_a * part else (hot, curve), result=output_a, unit="A",
        rule="the hot part of the rating, no more than its curve has; a condition that states its engine speed is read from the curve instead",
        sources=("the alternator's figures as entered", "makers' data: hot over cold output 0.67 at low speed, 0.82 at high"),
    )  # fmt: skip
