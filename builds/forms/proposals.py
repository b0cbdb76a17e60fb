"""What a new row starts with: the next free address, and what its neighbours have in common."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from builds.engineering.changes import FAMILIES
from builds.engineering.design import Design
from builds.engineering.electrical.battery import source_default
from builds.engineering.vocabulary import NodeKind

__all__ = ["USUAL_FIGURES", "free_keys", "proposals", "usual"]

_DATA_SHEET_V = 12.8  # what most 12 V gear is measured at, from memory, editable

_PREFIX = {
    "load": "L",
    "run": "R",
    "operation": "O",
    "condition": "C",
    "part": "",
    "shed": "S",
    "duty": "D",
    "segment": "T",
}
_NODE_PREFIX = {
    NodeKind.BATTERY: "BAT", NodeKind.ALTERNATOR: "ALT", NodeKind.ISOLATOR: "ISO", NodeKind.DISCONNECT: "MD",
    NodeKind.BUS: "BUS", NodeKind.PANEL: "P", NodeKind.MODULE: "M", NodeKind.GROUND: "G", NodeKind.CHASSIS: "CH",
    NodeKind.DCDC: "DC", NodeKind.SHORE: "SH", NodeKind.SOLAR: "SOL", NodeKind.CONVERTER: "CV",
    NodeKind.LOW_VOLTAGE_DISCONNECT: "LVD", NodeKind.ACCESS_POINT: "AP",
}  # fmt: skip


def proposals(family: str, design: Design, *, kind: str = "", circuit: str = "") -> dict[str, Any]:
    """Return initial values of a new row, by form field name."""
    match family:
        case "circuit":
            return _circuit(design)
        case "node":
            return _usual_figures(kind) | {
                "kind": kind,
                "key": _next(_keys(design, "node"), _NODE_PREFIX.get(NodeKind(kind), "N") if kind else "N"),
            }
        case "load":
            return _load(design, circuit)
        case _:
            return {"key": _next(_keys(design, family), _PREFIX[family])}


# Fields of a new node, by form name, and the key of the table's starting value.
USUAL_FIGURES: dict[str, dict[str, str]] = {
    NodeKind.BATTERY: {
        f"battery__{name}": f"battery_{name}"
        for name in (
            "capacity_ah", "rated_hours", "peukert_exponent", "internal_mohm", "open_circuit_v", "usable_ratio",
        )
    },
    NodeKind.ALTERNATOR: {"alternator__idle_ratio": "idle_output_ratio", "alternator__speed_ratio": "hot_high_speed_ratio"},
}  # fmt: skip


def _usual_figures(kind: str) -> dict[str, Any]:
    """Return starting values of a battery's or an alternator's figures."""
    return {name: Decimal(repr(source_default(key))) for name, key in USUAL_FIGURES.get(kind, {}).items()}


def _keys(design: Design, family: str) -> list[str]:
    kind = FAMILIES[family]
    return [kind.key_of(part) for part in getattr(design, kind.field)]


def _next(keys: list[str], prefix: str) -> str:
    """
    Return the address after the highest of its kind.

    >>> _next(["P1", "P3", "MD"], "P"), _next([], "R"), _next(["1", "2"], "")
    ('P4', 'R1', '3')
    """
    found = (re.fullmatch(re.escape(prefix) + r"(\d{1,6})", key) for key in keys)
    return f"{prefix}{max((int(item.group(1)) for item in found if item), default=0) + 1}"


def free_keys(design: Design, family: str, given: set[str], *, beside: list[str] | None = None) -> Iterator[str]:
    """
    Yield address after address that no row has and that is not in ``given``, from the highest of its kind on.

    ``beside`` are the addresses to go on from, where those are not the whole family's; ``given`` may grow meanwhile.
    """
    taken = set(_keys(design, family))
    prefix = _PREFIX.get(family, "")
    number = int(_next(beside if beside is not None else [*taken, *given], prefix).removeprefix(prefix))
    while True:
        key = f"{prefix}{number}"
        if key not in taken and key not in given:
            yield key
        number += 1


def usual(values: Iterable[str]) -> str:
    """Return the value that stands most often, the first of several; empty for none."""
    found = Counter(values).most_common(1)
    return found[0][0] if found else ""


def _load(design: Design, circuit: str) -> dict[str, Any]:
    """Return what most loads of the build have: their zone, and the volts their data sheets are written at."""
    volts = Counter(load.at_v for load in design.loads).most_common(1)
    return {
        "circuit": circuit,
        "key": _next(_keys(design, "load"), "L"),
        "zone": usual(load.zone for load in design.loads),
        "at_v": Decimal(repr(volts[0][0] if volts else _DATA_SHEET_V)),
    }


def _circuit(design: Design) -> dict[str, Any]:
    """Return the first free position of the first panel that has one, and the number after the highest there."""
    taken = {(item.panel, item.position) for item in design.circuits}
    for panel in (node for node in design.nodes if node.panel is not None):
        free = [at for at in range(1, panel.panel.positions + 1) if (panel.key, at) not in taken] if panel.panel else []
        if free:
            return _circuit_at(design, panel.key, free[0])
    return {"number": _next(_keys(design, "circuit"), "")}


def _circuit_at(design: Design, panel: str, position: int) -> dict[str, Any]:
    own = [item for item in design.circuits if item.panel == panel] or list(design.circuits)
    numbers = [item.number for item in own]
    number = _next(numbers, "")
    return {
        "number": number if number not in _keys(design, "circuit") else _next(_keys(design, "circuit"), ""),
        "panel": panel,
        "position": Decimal(position),
        "device_family": usual(item.device_family for item in own),
        "return_node": usual(item.return_node for item in own),
    }
