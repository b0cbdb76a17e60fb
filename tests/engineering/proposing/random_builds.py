"""Builds nobody thought of: panels one behind the other, two bodies and a strap loop, loads of every kind."""

import json
import random
from pathlib import Path
from typing import Any

from builds.engineering.design import Design
from builds.engineering.document import read_document

__all__ = ["random_build"]

_SHELL = Path(__file__).parents[2] / "cases" / "32-duty-profile.json"
_GAUGES = ("16", "14", "12", "10", "8", "6", "4", "2")
_BATTERY = {
    "capacity_ah": 100, "rated_hours": 20, "peukert_exponent": 1.2, "internal_mohm": 8, "open_circuit_v": 12.8, "usable_ratio": 0.5,
}  # fmt: skip


def random_build(seed: int) -> Design:
    """Return the build of a seed: two to five panels, three to ten circuits, judged with the engine on and off."""
    draw = random.Random(seed)
    document: dict[str, Any] = json.loads(_SHELL.read_text())
    build = document["build"]
    build.pop("duty_profiles", None)
    build.pop("duty_segments", None)
    nodes, runs = _vehicle(draw)
    places = ["B1"]
    for at in range(draw.randint(2, 5)):
        nodes.append(
            _node(f"P{at}", "panel", panel={"positions": 20, "columns": 5}, resistance_mohm=draw.choice([0, 0.2, 0.5]))
        )
        runs.append(_run(draw, f"F{at}", draw.choice(places), f"P{at}", device=("MIDI", 80)))
        places.append(f"P{at}")
    circuits, loads = [], []
    for at in range(draw.randint(3, 10)):
        circuits.append(_circuit(draw, str(100 + at), at + 1, draw.choice(places[1:])))
        loads.append(_load(draw, f"L{at}", str(100 + at)))
    uses = [{"load": load["key"]} for load in loads]
    conditions = [_condition("work", "idle", 13.2, 13.2, uses), _condition("off", "engine_off", 11.8, 12.7, uses)]
    build.update(nodes=nodes, runs=runs, circuits=circuits, loads=loads, conditions=conditions)
    return read_document(json.dumps(document).encode())


def _vehicle(draw: random.Random) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    nodes = [
        _node("B1", "battery", zone="engine", battery=_BATTERY),
        _node("ALT", "alternator", zone="engine", alternator={"rated_a": 300, "idle_ratio": 0.9, "speed_ratio": 0.95}),
        _node("BODY", "chassis"),
        _node("FR", "chassis", zone="bay"),
        _node("K0", "ground", resistance_mohm=0.4, chassis="BODY"),
        _node("K1", "ground", zone="bay", resistance_mohm=0.7, chassis="FR"),
        _node("K2", "ground", zone="bay"),
    ]
    runs = [
        _run(draw, "R0", "B1", "ALT", gauge="4/0", length_m=1, device=("MEGA", 300)),
        _run(draw, "N1", "B1", "BODY", side="return", gauge="1/0", length_m=0.5),
        _run(draw, "S1", "BODY", "FR", side="return", gauge="4", length_m=0.4),
        _run(draw, "S2", "BODY", "FR", side="return", gauge="6", length_m=0.7),
        _run(draw, "N3", "K1", "K2", side="return", gauge="6", length_m=2),
    ]
    if draw.random() < 0.5:
        runs.append(_run(draw, "N2", "B1", "FR", side="return", gauge="2", length_m=1))
    if draw.random() < 0.5:
        runs.append(_run(draw, "N4", "K0", "K2", side="return", gauge="8", length_m=2))
    return nodes, runs


def _node(key: str, kind: str, zone: str = "cab", **more: Any) -> dict[str, Any]:
    return {"key": key, "kind": kind, "name": key, "zone": zone, **more}


def _run(
    draw: random.Random, key: str, start: str, end: str, *, side: str = "supply", gauge: str = "", length_m: float = 0.0,
    device: tuple[str, float] | None = None,
) -> dict[str, Any]:  # fmt: skip
    run = {
        "key": key, "from_node": start, "to_node": end, "side": side, "gauge": gauge or draw.choice(_GAUGES[3:]),
        "length_m": length_m or round(draw.uniform(0.3, 4.0), 2),
    }  # fmt: skip
    if device is not None:
        run |= {"device_family": device[0], "device_rating_a": device[1], "device_distance_m": 0.1}
    return run


def _circuit(draw: random.Random, number: str, position: int, panel: str) -> dict[str, Any]:
    return {
        "number": number, "legend": f"C{number}", "panel": panel, "position": position, "device_family": "ATO",
        "device_rating_a": 20, "gauge": draw.choice(_GAUGES[:5]), "length_m": round(draw.uniform(1.0, 5.0), 2),
        "return_node": draw.choice(["K0", "K1", "K2", "B1"]), "return_length_m": round(draw.uniform(0.1, 3.0), 2), "colour": "WH",
    }  # fmt: skip


def _load(draw: random.Random, key: str, circuit: str) -> dict[str, Any]:
    return {
        "key": key, "circuit": circuit, "name": key, "zone": "cab",
        "model": draw.choice(["constant_current", "resistive", "constant_power"]),
        "current_a": round(draw.uniform(1.0, 12.0), 2), "at_v": draw.choice([12.0, 12.8, 13.6]),
    }  # fmt: skip


def _condition(key: str, state: str, low_v: float, high_v: float, uses: list[dict[str, str]]) -> dict[str, Any]:
    return {
        "key": key,
        "name": key,
        "source_state": state,
        "source_low_v": low_v,
        "source_high_v": high_v,
        "uses": uses,
    }
