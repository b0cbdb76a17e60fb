"""How the vehicle is used, made dead, started from another one and put away."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.documents.packet_context import PacketContext
from builds.drawings.power_tree import live_nodes
from builds.engineering.assessing.findings_surges import harmed_by_reversal, weaker_than
from builds.engineering.assessing.words import days
from builds.engineering.buyer_rules import rule_number
from builds.engineering.design import Load, OperatingCondition
from builds.engineering.functions.chart import operator_chart
from builds.engineering.functions.coupling import coupled
from builds.engineering.functions.reports import report_of
from builds.engineering.vocabulary import NodeKind, SourceState

__all__ = ["ConditionUse", "LivePart", "Switching", "Use", "switching_of", "use_of"]

_TRUCK_V = 24.0  # what a truck that helps out may put on a 12 V network

_STATES = {
    SourceState.IDLE: "engine idling",
    SourceState.AT_SPEED: "driving",
    SourceState.ENGINE_OFF: "engine off",
    SourceState.KEY_OFF: "key off",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionUse:
    """An operating condition and what is on in it."""

    name: str
    state: str
    loads: tuple[str, ...]
    circuit_count: int
    lasts: str
    standby: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlUse:
    """A control at one of its values: what it does by itself, once it is let go and with others, and what it keeps back."""

    control: str
    value: str
    by_hand: bool
    alone: tuple[str, ...]
    afterwards: tuple[str, ...]
    also: tuple[tuple[str, str], ...]
    stops: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """
    Section 4; what is on in every condition but key-off ones stands once, in ``always``.

    ``controls`` is the chart of the function schedule, empty where the design has none.
    """

    always: tuple[str, ...]
    conditions: tuple[ConditionUse, ...]
    controls: tuple[ControlUse, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LivePart:
    """Something that stays live with the disconnect open."""

    address: str
    name: str
    place: str
    circuits: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Switching:
    """Section 5."""

    disconnects: tuple[tuple[str, str, str], ...]
    live: tuple[LivePart, ...]
    batteries: tuple[tuple[str, str, str], ...]
    days: str
    standing_part: str
    draw: str
    jump_posts: str
    jump_order: str
    weak: tuple[tuple[str, str], ...]
    harmed: tuple[str, ...]


def use_of(context: PacketContext) -> Use:
    """Return the conditions of use."""
    design = coupled(context.design)
    awake = [item for item in design.conditions if item.source_state is not SourceState.KEY_OFF]
    common = set.intersection(*({use.load for use in item.uses} for item in awake)) if len(awake) > 1 else set[str]()
    return Use(
        always=tuple(_load_words(load) for load in context.design.loads if load.key in common),
        conditions=tuple(_condition(context, condition, common) for condition in design.conditions),
        controls=tuple(_controls(context.design.function_schedule)),
    )


def _controls(text: str) -> Iterator[ControlUse]:
    compiled = report_of(text).compiled
    for row in operator_chart(compiled) if compiled is not None else ():
        yield ControlUse(
            control=row.control,
            value=row.value,
            by_hand=row.by_hand,
            alone=row.alone,
            afterwards=row.afterwards,
            also=tuple((line.does, line.when) for line in row.also),
            stops=tuple((line.does, line.when) for line in row.stops),
        )


def _condition(context: PacketContext, condition: OperatingCondition, common: set[str]) -> ConditionUse:
    loads = {load.key: load for load in context.design.loads}
    on = [loads[use.load] for use in condition.uses if use.load in loads]
    told_once = common if condition.source_state is not SourceState.KEY_OFF else set[str]()
    return ConditionUse(
        name=condition.name,
        state=_STATES[condition.source_state],
        loads=tuple(_load_words(load) for load in on if load.key not in told_once),
        circuit_count=len({load.circuit for load in on}),
        lasts=_lasts(context, condition),
        standby=f"{context.assessment.energy.key_off_ma:.0f} mA"
        if condition.stands and context.assessment.energy.key_off_ma > 0
        else "",
    )


def _lasts(context: PacketContext, condition: OperatingCondition) -> str:
    """Battery time as calculated and as asked; a stand with the key off is told in days in section 5."""
    result = next((item for item in context.assessment.conditions if item.key == condition.key), None)
    calculated = result.battery_h if result and not condition.stands else None
    parts = [] if calculated is None else [f"{calculated:.1f} h to cut-off, calculated"]
    if condition.min_hours is not None:
        parts.append(f"{condition.min_hours:g} h asked")
    return "; ".join(parts)


def _load_words(load: Load) -> str:
    times = f" × {load.quantity}" if load.quantity > 1 else ""
    return f"{load.name}{times} ({load.circuit})"


def switching_of(context: PacketContext) -> Switching:
    """Return what can be switched off, what cannot, and how long the vehicle may stand."""
    live = live_nodes(context.design)
    energy = context.assessment.energy
    return Switching(
        disconnects=tuple((node.key, node.name, context.place(node.zone)) for node in context.disconnects),
        live=tuple(
            _live_part(context, node.key) for node in context.design.nodes if node.key in live and _named(node.kind)
        ),
        batteries=tuple(
            (node.key, node.name, f"{node.battery.capacity_ah:g} Ah, {context.place(node.zone)}")
            for node in context.design.nodes
            if node.battery
        ),
        jump_posts=context.design.platform.jump_posts,
        jump_order=context.design.platform.jump_order,
        weak=tuple(
            (_load_words(load), f"{stated_v:g} V")
            for load, stated_v in weaker_than(context.design, _TRUCK_V)
            if stated_v is not None
        ),
        harmed=tuple(_load_words(load) for load in harmed_by_reversal(context.design)),
        days="" if energy.key_off_days is None else days(energy.key_off_days),
        standing_part=f"{rule_number(context.design.buyer, 'key-off-usable'):.0%}".replace("%", " %"),
        draw=f"{energy.key_off_ma:.0f} mA",
    )


def _named(kind: NodeKind) -> bool:
    return kind not in (NodeKind.GROUND, NodeKind.CHASSIS)


def _live_part(context: PacketContext, key: str) -> LivePart:
    node = context.nodes[key]
    numbers = [circuit.number for circuit in context.circuits_of.get(key, [])]
    return LivePart(address=key, name=node.name, place=context.place(node.zone), circuits=" ".join(numbers))
