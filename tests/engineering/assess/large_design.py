"""A build of the size of a real incident van: 120 circuits on 12 panels, 180 loads, 6 conditions, two batteries."""

from dataclasses import replace

from builds.engineering.design import Design, Load, LoadUse, OperatingCondition, PanelSpec, PowerNode, Run
from builds.engineering.vocabulary import LoadModel, NodeKind, RunSide, SourceState
from tests.engineering.assess.designs import SOUND, circuit, load, supply

PANELS = tuple(f"Q{number:02d}" for number in range(12))
_MODELS = tuple(LoadModel)


def _panel(number: int, key: str) -> PowerNode:
    zone = ("cab", "cargo", "roof")[number % 3]
    return PowerNode(
        key=key, kind=NodeKind.PANEL, name=f"panel {key}", zone=zone, panel=PanelSpec(positions=14, columns=2)
    )


def _load(number: int) -> Load:
    return load(
        f"L{number:03d}", f"C{number % 120:03d}", f"load {number}", "cargo", 0.4 + 0.01 * (number % 40),
        model=_MODELS[number % 3], duty_ratio=0.5 if number % 4 == 0 else 1.0, can_be_steady=number % 8 != 0,
    )  # fmt: skip


def _condition(number: int, state: SourceState) -> OperatingCondition:
    running = state in (SourceState.IDLE, SourceState.AT_SPEED)
    uses = tuple(LoadUse(load=f"L{key:03d}") for key in range(180) if (key + number) % (2 if running else 9) == 0)
    low_v, high_v = (13.0, 14.4) if running else (12.1, 12.8)
    return OperatingCondition(
        key=f"K{number}",
        name=f"condition {number}",
        source_state=state,
        source_low_v=low_v,
        source_high_v=high_v,
        uses=uses,
    )


def large_design() -> Design:
    """The design, made anew at every call, so that nothing cached on the object itself can flatter a timing."""
    feeds = tuple(
        supply(f"F{key}", "DISC" if number % 2 else "DISC2", key, "6", 2.0, device_family="ANL", device_rating_a=60.0)
        for number, key in enumerate(PANELS)
    )
    grounds = tuple(
        PowerNode(
            key=f"G{key}", kind=NodeKind.GROUND, name=f"stud {key}", zone="cargo", resistance_mohm=0.4, chassis="BODY"
        )
        for key in PANELS
    )
    circuits = tuple(
        circuit(f"C{number:03d}", f"CIRCUIT {number}", PANELS[number % 12], number // 12 + 1, 10.0, "14", 3.0 + number % 5,
                return_node=f"G{PANELS[number % 12]}")
        for number in range(120)
    )  # fmt: skip
    states = (
        SourceState.AT_SPEED,
        SourceState.IDLE,
        SourceState.IDLE,
        SourceState.ENGINE_OFF,
        SourceState.ENGINE_OFF,
        SourceState.KEY_OFF,
    )
    frame = tuple(
        Run(key="S3", from_node="BODY", to_node="FRAME", side=RunSide.RETURN, gauge="2", length_m=0.4) for _ in range(1)
    )
    chassis = PowerNode(key="FRAME", kind=NodeKind.CHASSIS, name="frame", zone="cargo")
    nodes = tuple(node for node in SOUND.nodes if node.panel is None)
    runs = tuple(run for run in SOUND.runs if run.to_node not in ("P1", "P2"))
    return replace(
        SOUND,
        nodes=(*nodes, chassis, *(_panel(number, key) for number, key in enumerate(PANELS)), *grounds),
        runs=(*runs, *feeds, *frame),
        circuits=circuits,
        loads=tuple(_load(number) for number in range(180)),
        conditions=tuple(_condition(number, state) for number, state in enumerate(states)),
    )
