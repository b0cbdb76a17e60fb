"""
The checklist a design asks for by itself: its operations in working order, and the readings and checks that follow from it.

Every step has a key that stays the same when the design is edited around it, so a tick already made finds its step
again. A reading carries what was calculated beside its limits; nothing here decides what was measured.
"""

from collections.abc import Iterable, Iterator

from builds.engineering.assessing.indexed import IndexedDesign, index_design
from builds.engineering.assessing.words import device_word, length, mass
from builds.engineering.assessment import Assessment
from builds.engineering.design import Circuit, Design, PowerNode
from builds.engineering.function_steps import function_steps
from builds.engineering.operation_order import working_order
from builds.engineering.step_plans import ReadingPlan, StepPlan
from builds.engineering.vocabulary import NodeKind, Phase, Place, SourceState
from builds.engineering.voltage_steps import ABOVE_SOURCE_RATIO, voltage_steps

__all__ = ["ReadingPlan", "StepPlan", "derive_steps"]

_PHASES = tuple(Phase)
_READ_UNDER_LOAD = (SourceState.ENGINE_OFF, SourceState.IDLE, SourceState.AT_SPEED)
_RESTED_LOSS_RATIO = 0.2 / 12.8  # three quarters charged and up: 12.6 of 12.8 V at rest (AGM bands, secondary source)


def derive_steps(design: Design, assessment: Assessment) -> tuple[StepPlan, ...]:
    """
    Return the steps of a design in working order.

    Parameters
    ----------
    design : Design
        What is built.
    assessment : Assessment
        The assessment of this same design, for the calculated values.

    Returns
    -------
    tuple of StepPlan
        By phase; within a phase the operations in their after-order, then checks and readings, a hold point last.
        Circuits and grounds that the assessment could not compute get no reading.
    """
    index = index_design(design)
    work = [
        *_operation_steps(design),
        *_panel_steps(index),
        _seal_step(),
        *_battery_steps(index),
        *_disconnect_steps(index),
        *_stud_steps(index, assessment),
        *voltage_steps(index, assessment),
        *_load_steps(index, assessment),
        *function_steps(design),
        _key_off_step(assessment),
        *_weigh_steps(design, assessment),
    ]
    return tuple(_in_phases(work))


def _in_phases(work: list[StepPlan]) -> Iterator[StepPlan]:
    holds = {Phase.WIRE: _before_trim(work), Phase.CLOSE: _final(work)}
    for phase in _PHASES:
        yield from (step for step in work if step.phase is phase)
        if phase in holds:
            yield holds[phase]


def _before_trim(work: Iterable[StepPlan]) -> StepPlan:
    return StepPlan(
        key="hold/before-trim",
        title="Sign before trim closes",
        why="What is behind the trim cannot be seen again.",
        instructions=("Look at every wire, ground, seal and photo of this phase before the trim goes on.",),
        phase=Phase.WIRE,
        place=Place.VEHICLE,
        hold_point=True,
        covers=tuple(step.key for step in work if step.phase is Phase.WIRE),
    )


def _final(work: Iterable[StepPlan]) -> StepPlan:
    return StepPlan(
        key="hold/final",
        title="Sign the final check",
        why="The next person who looks at this work is the customer.",
        instructions=("Read every test and every reading; send back what is defective.",),
        phase=Phase.CLOSE,
        place=Place.VEHICLE,
        hold_point=True,
        covers=tuple(step.key for step in work if step.phase in (Phase.TEST, Phase.CLOSE)),
    )


def _operation_steps(design: Design) -> Iterator[StepPlan]:
    names = {operation.key: operation.name for operation in design.operations}
    for operation in working_order(design.operations):
        times = f", {operation.quantity} times" if operation.quantity > 1 else ""
        waits = tuple(f"Comes after: {names[key]}." for key in operation.after if key in names)
        people = (f"Needs {operation.crew} people.",) if operation.crew > 1 else ()
        yield StepPlan(
            key=f"op/{operation.key}",
            title=f"{operation.name}{times}",
            why=f"Part of the build sheet; {operation.skill}." if operation.skill else "Part of the build sheet.",
            instructions=waits + people,
            phase=operation.phase,
            place=operation.place,
            operation=operation.key,
            subject=f"operation:{operation.key}",
        )


def _panel_steps(index: IndexedDesign) -> Iterator[StepPlan]:
    spacing = length(index.numbers["label-spacing"] / 1000, index.design.conventions)
    for node in index.design.nodes:
        circuits = sorted(index.circuits_of.get(node.key, ()), key=lambda circuit: circuit.position)
        if circuits:
            yield _legend_step(node, circuits, spacing)
            yield _device_step(node, circuits)


def _legend_step(panel: PowerNode, circuits: list[Circuit], spacing: str) -> StepPlan:
    return StepPlan(
        key=f"legend/{panel.key}",
        title=f"Read the legends of {panel.key}",
        why="Wiring nobody can trace is the complaint heard most.",
        instructions=(
            f"Legend readable at both ends and every {spacing}.",
            *(_position_line(c, c.legend or c.number) for c in circuits),
        ),
        phase=Phase.WIRE,
        place=Place.VEHICLE,
        subject=f"node:{panel.key}",
        photo_required=True,
    )


def _device_step(panel: PowerNode, circuits: list[Circuit]) -> StepPlan:
    return StepPlan(
        key=f"device/{panel.key}",
        title=f"Check every device in {panel.key}",
        why="A device above its conductor lets the wire burn first.",
        instructions=tuple(
            _position_line(c, f"{c.device_rating_a:g} A {device_word(c.device_family)}") for c in circuits
        ),
        phase=Phase.WIRE,
        place=Place.VEHICLE,
        subject=f"node:{panel.key}",
    )


def _position_line(circuit: Circuit, text: str) -> str:
    return f"Position {circuit.position}: {text}"


def _seal_step() -> StepPlan:
    return StepPlan(
        key="seal",
        title="Seal every body penetration",
        why="An open hole lets water and exhaust in.",
        instructions=(
            "Grommet or edge guard at every metal edge, sealer all round.",
            "One photo of each hole, before the trim closes.",
        ),
        phase=Phase.WIRE,
        place=Place.VEHICLE,
        photo_required=True,
    )


def _battery_steps(index: IndexedDesign) -> Iterator[StepPlan]:
    for node in index.batteries():
        rested_v = node.battery.open_circuit_v if node.battery else None
        least_v = None if rested_v is None else round(rested_v * (1 - _RESTED_LOSS_RATIO), 2)
        most_v = None if rested_v is None else round(rested_v * (1 + ABOVE_SOURCE_RATIO), 2)
        yield StepPlan(
            key=f"battery/{node.key}",
            title=f"Measure {node.key} at rest",
            why="A tired battery spoils every reading after it.",
            instructions=("Charger off and loads off for an hour.", "Meter on the posts, not on the clamps."),
            phase=Phase.TEST,
            place=Place.VEHICLE,
            subject=f"node:{node.key}",
            reading=ReadingPlan(
                unit="V", minimum=least_v, maximum=most_v, calculated=rested_v, instrument="voltmeter", decimals=2
            ),
        )


def _disconnect_steps(index: IndexedDesign) -> Iterator[StepPlan]:
    for node in index.design.nodes:
        if node.kind is NodeKind.DISCONNECT:
            yield StepPlan(
                key=f"disconnect/{node.key}",
                title=f"Open and close disconnect {node.key}",
                why="Whoever works on the vehicle, or cuts it open, makes it dead here.",
                instructions=(
                    "Engine off: opening it with the engine running can destroy electronics.",
                    "Open: every panel behind it is dead, measured, not looked at.",
                    "Close: everything comes back as it was.",
                ),
                phase=Phase.TEST,
                place=Place.VEHICLE,
                subject=f"node:{node.key}",
            )


def _stud_steps(index: IndexedDesign, assessment: Assessment) -> Iterator[StepPlan]:
    limit_v = index.numbers["stud-drop"]
    for ground in assessment.grounds:
        condition = (
            index.conditions[ground.worst_condition].name
            if ground.worst_condition in index.conditions
            else "its worst condition"
        )
        yield StepPlan(
            key=f"stud/{ground.key}",
            title=f"Measure the voltage at ground {ground.key}",
            why="A poor ground looks like a poor device.",
            instructions=(
                f"Turn on everything of {condition}.",
                "Meter between the stud and the battery's negative post, leads held on bare metal.",
                "Write down the voltage at the battery beside the reading.",
                *_assumed(index.nodes[ground.key]),
            ),
            phase=Phase.TEST,
            place=Place.VEHICLE,
            subject=f"node:{ground.key}",
            reading=ReadingPlan(
                unit="V",
                minimum=-limit_v,  # leads the other way round read below nothing
                maximum=limit_v,
                calculated=round(ground.rise_v, 3),
                instrument="voltmeter",
                decimals=3,
            ),
            photo_required=True,
        )


def _assumed(ground: PowerNode) -> Iterator[str]:
    """What the figures take a joint for, until this step has measured it."""
    if ground.kind is NodeKind.GROUND and ground.chassis:
        yield f"The figures assume {ground.resistance_mohm:g} mΩ at its joint: more than the calculated voltage says that it is worse."


def _load_steps(index: IndexedDesign, assessment: Assessment) -> Iterator[StepPlan]:
    """For each way of being fed, the current of the condition that takes most."""
    for state in _READ_UNDER_LOAD:
        alike = (c for c in assessment.conditions if index.conditions[c.key].source_state is state and c.mean_a > 0)
        worst = max(alike, key=lambda condition: condition.mean_a, default=None)
        if worst is not None:
            yield StepPlan(
                key=f"load/{worst.key}",
                title=f"Measure the current of {worst.name}",
                why="A figure that only a computer has seen is a guess until a meter has.",
                instructions=(
                    f"Turn on everything of {worst.name}.",
                    "Clamp around each cable that feeds the added distribution, one after the other; add them up.",
                    "Flashing lamps: write down the meter's average over a minute.",
                    "Write down the voltage at the battery beside the reading.",
                ),
                phase=Phase.TEST,
                place=Place.VEHICLE,
                subject=f"condition:{worst.key}",
                reading=ReadingPlan(
                    unit="A",
                    minimum=0.0,  # below nothing the clamp is the other way round
                    maximum=None,
                    calculated=round(worst.mean_a, 1),
                    instrument="clamp ammeter",
                    decimals=1,
                ),
            )


def _key_off_step(assessment: Assessment) -> StepPlan:
    return StepPlan(
        key="key-off",
        title="Measure the key-off draw",
        why="A battery that is flat on Monday comes back to the shop.",
        instructions=(
            "Clamp or shunt in place before the key goes off; the circuit is not opened again.",
            "Hood and door latches closed, keys out of reach.",
            "Wait until the current has been steady for 10 minutes; modules take 20 to 60 minutes to sleep.",
            "Write down the voltage at the battery, how long you waited and the temperature.",
            "The calculated figure is the added gear alone; what the vehicle takes by itself comes on top.",
        ),
        phase=Phase.TEST,
        place=Place.VEHICLE,
        reading=ReadingPlan(
            unit="mA",
            minimum=0.0,
            maximum=assessment.energy.key_off_limit_ma,
            calculated=round(assessment.energy.key_off_ma, 1),
            instrument="clamp ammeter",
            decimals=1,
        ),
    )


def _weigh_steps(design: Design, assessment: Assessment) -> Iterator[StepPlan]:
    weight = assessment.weight
    axles = (("front", weight.front_axle_kg, weight.gawr_front_kg), ("rear", weight.rear_axle_kg, weight.gawr_rear_kg))
    for axle, calculated_kg, limit_kg in axles:
        yield StepPlan(
            key=f"weigh/{axle}",
            title=f"Weigh the {axle} axle",
            why="An axle can be over its rating while the whole vehicle is under.",
            instructions=(
                "Level scale, fluids full, nobody aboard, all gear in its place.",
                f"Rating of this axle: {mass(limit_kg, design.conventions)}.",
            ),
            phase=Phase.CLOSE,
            place=Place.YARD,
            reading=ReadingPlan(
                unit="kg",
                minimum=0.0,
                maximum=limit_kg,
                calculated=round(calculated_kg, 1),
                instrument="axle scale",
                decimals=1,
            ),
        )
