"""Workings of drop rules of a part of the way: what each run and joint on the stretch takes, held against the rule's limit."""

from collections.abc import Iterator

from builds.engineering.assessing.section_drops import SectionDrop, section_drops
from builds.engineering.assessing.words import of_condition
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.drops import named_element
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working

__all__ = ["section_drop_working"]


def section_drop_working(subject: Subject, key: str) -> Working:
    """Return the working of the worst that a rule held beside the others has met. Raises UnknownTableEntry."""
    drops = [drop for drop in section_drops(subject.solved.index, subject.solved.network) if drop.rule.key == key]
    if not drops:
        raise UnknownTableEntry("What can be explained in this build", key)
    drop = max(drops, key=lambda drop: drop.weight)
    rule, index = drop.rule, subject.solved.index
    rows = tuple(_rows(subject, drop))
    ratio = 100 * drop.drop_v / drop.base_v
    where = f"{drop.start} to {drop.end or f'the loads of circuit {drop.circuit.number}'}"
    return Working(
        key=f"section-drop:{key}",
        title=f"Drop from {where} in {of_condition(index.conditions[drop.condition])}",
        steps=(
            Rows(
                words="On this part of the way", symbol="V",
                heads=(("R", "mΩ", "resistance"), ("I", "A", "current through it, with everything else that is on")),
                formula="R × I / 1000", rows=rows, total=sum(row.value for row in rows), unit="V",
                note=f"runs at {rule.conductor_temp_c:g} °C, joints as given; currents are those of the solved distribution",
            ),
            Step(
                words="In parts of the rule's base voltage", symbol="d", formula="100 × V / V_base",
                numbers=(
                    Number(symbol="V", value=drop.drop_v, unit="V", words="lost on this part of the way"),
                    Number(symbol="V_base", value=drop.base_v, unit="V", words="base of the rule"),
                ),
                value=ratio, unit="%",
            ),
            Comparison(words=f"Limit of {rule.key}", value=ratio, limit=100 * rule.limit_ratio, unit="%", at_most=True),
        ),
        result=ratio,
        unit="%",
        rule=f"{rule.key}: {100 * rule.limit_ratio:g} % of {drop.base_v:g} V at {rule.current} current, conductor at {rule.conductor_temp_c:g} °C",
        sources=(rule.source, subject.area_source, "IEC 60028, annealed copper: 0.017241 Ω·mm²/m at 20 °C"),
    )  # fmt: skip


def _rows(subject: Subject, drop: SectionDrop) -> Iterator[Row]:
    names = subject.solved.network.elements.names
    element_ohm = _element_ohm(subject, drop)
    for place, lost_v in enumerate(drop.element_v.tolist()):
        if lost_v:
            ohm = element_ohm[place]
            yield Row(named_element(subject, names[place]), (1000 * ohm, lost_v / ohm), lost_v)
    if drop.own_v:
        ohm = drop.own_v / drop.current_a
        words = f"Circuit {drop.circuit.number} {subject.wire_words(drop.circuit)}, out and back"
        yield Row(words, (1000 * ohm, drop.current_a), drop.own_v)
    if abs(drop.home_v) > 1e-12:
        # shared by several ways home: said as what it comes to for this circuit's current
        ohm = drop.home_v / drop.current_a
        yield Row(
            f"Home from {drop.circuit.return_node}, as it comes to for this circuit's current",
            (1000 * ohm, drop.current_a),
            drop.home_v,
        )


def _element_ohm(subject: Subject, drop: SectionDrop) -> list[float]:
    _, state, _ = subject.condition(drop.condition)
    element_ohm, _ = state.resistances.at(drop.rule.conductor_temp_c)
    return [float(ohm) for ohm in element_ohm]
