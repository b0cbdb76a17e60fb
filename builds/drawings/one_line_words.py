"""What a one-line diagram says in words beside its symbols."""

from collections import Counter

from builds.drawings.devices import is_breaker
from builds.drawings.measures import ampere_words, gauge_words, length_words
from builds.drawings.power_tree import Branch
from builds.drawings.text_width import shorten, wrap
from builds.engineering.assessment import Assessment
from builds.engineering.design import Circuit, Conventions, Design, PowerNode, Run
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = [
    "branch_lines",
    "branch_subjects",
    "circuit_device_words",
    "converter_volts",
    "device_words",
    "ground_of",
    "run_words",
    "step_lines",
]


def device_words(run: Run) -> str:
    """Rating and kind of the device on a run: "250 A MEGA fuse", "200 A breaker", "150 A MRBF fuse at both ends"."""
    return _device(run.device_family, run.device_rating_a or 0) + (" at both ends" if run.device_at_both_ends else "")


def circuit_device_words(circuit: Circuit) -> str:
    """Rating and kind of the device of a circuit."""
    return _device(circuit.device_family, circuit.device_rating_a)


def _device(family: str, rating_a: float) -> str:
    rating = ampere_words(rating_a)
    return f"{rating} breaker" if is_breaker(family) else " ".join(filter(None, (rating, family, "fuse")))


def run_words(run: Run, conventions: Conventions) -> tuple[str, str]:
    """Address of a run; its gauge and length, or the resistance of a vehicle maker's way whose wire is not known."""
    if not run.gauge and run.resistance_mohm is not None:
        return run.key, f"{run.resistance_mohm:.3g} mΩ"
    return (
        run.key,
        f"{gauge_words(run.gauge, conventions, parallel=run.parallel)} · {length_words(run.length_m, conventions)}",
    )


def converter_volts(node: PowerNode) -> tuple[str, str]:
    """What a converter takes and what it gives: "12 V", "24 V"."""
    given_v = node.converter.output_v if node.converter is not None else node.nominal_v
    return f"{node.nominal_v:g} V", f"{given_v:g} V"


def step_lines(node: PowerNode, design: Design, width: float) -> list[tuple[int, str]]:
    """Weight and words of each line beside a spine step, at most four."""
    lines = [(600, line) for line in wrap(f"{node.key} {node.name}", width, 13, weight=600, most_lines=2)]
    lines += [(400, shorten(line, width, 13)) for line in _data(node, design)]
    return lines[:4]


def _data(node: PowerNode, design: Design) -> list[str]:
    data: list[str] = []
    if node.battery:
        data.append(f"{node.battery.capacity_ah:g} Ah")
    elif node.alternator:
        data.append(f"{node.alternator.rated_a:g} A rated")
    elif node.source:
        data.append(f"{node.source.limit_a:g} A at most")
    elif node.converter:
        data.append(f"{node.converter.limit_a:g} A at most")
    elif node.rating_a:
        data.append(f"{node.rating_a:g} A")
    ground = ground_of(node, design)
    if ground:
        data.append(f"return {ground}")
    return data


def branch_lines(branch: Branch, design: Design, assessment: Assessment | None) -> tuple[tuple[str, str], str]:
    """Address and name of what a row ends in, and the line of data beneath."""
    if branch.circuit is not None:
        circuit = branch.circuit
        wire = gauge_words(circuit.gauge, design.conventions)
        return (
            circuit.number,
            circuit.legend,
        ), f"{ampere_words(circuit.device_rating_a)} · {wire} · return {circuit.return_node}"
    node = branch.node
    assert node is not None
    parts = []
    if node.panel:
        used = len({c.position for c in design.circuits if c.panel == node.key and c.position <= node.panel.positions})
        parts.append(f"{used} of {node.panel.positions} used")
    parts += _data(node, design) if node.kind not in (NodeKind.PANEL, NodeKind.MODULE) else _returns(node, design)
    return (node.key, node.name), " · ".join(parts)


def branch_subjects(branch: Branch, design: Design) -> list[str]:
    """What the findings at a box may be about: the node and every circuit on it."""
    if branch.circuit is not None:
        return [f"circuit:{branch.circuit.number}"]
    key = branch.node.key if branch.node else ""
    return [f"node:{key}", *(f"circuit:{circuit.number}" for circuit in design.circuits if circuit.panel == key)]


def _returns(node: PowerNode, design: Design) -> list[str]:
    """The stud most of a panel's circuits come back to, and how many others there are."""
    counted = Counter(circuit.return_node for circuit in design.circuits if circuit.panel == node.key)
    if not counted:
        return []
    stud = min(counted, key=lambda key: (-counted[key], key))
    others = len(counted) - 1
    return [f"return {stud}" + (f" + {others}" if others else "")]


def ground_of(node: PowerNode, design: Design) -> str:
    """The other end of the return run at a node, or nothing."""
    for run in design.runs:
        if run.side is RunSide.RETURN and node.key in (run.from_node, run.to_node):
            return run.to_node if run.from_node == node.key else run.from_node
    return ""
