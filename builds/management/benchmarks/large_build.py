"""
A build document of any size to measure with: the demo's largest build with its panels over again.

A copy of a panel has its feed, its circuits and their loads under addresses of their own, on in the same conditions.
Currents go down as the number of loads goes up, so that source and batteries carry what they carried.
"""

import json
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

__all__ = ["document_of"]

_DOCUMENT = Path(__file__).resolve().parents[3] / "demo" / "2614-crew-cab-truck.json"
_KEYS = {"nodes": "key", "runs": "key", "circuits": "number", "loads": "key"}


def document_of(load_count: int) -> bytes:
    """Return a build document with exactly ``load_count`` loads, at least as many as the demo's build has."""
    document = json.loads(_DOCUMENT.read_bytes())
    build = document["build"]
    own = len(build["loads"])
    original = {name: list(build[name]) for name in _KEYS}
    uses = {condition["key"]: list(condition["uses"]) for condition in build["conditions"]}
    for turn in count(1):
        if len(build["loads"]) >= load_count:
            break
        copy = _Copy(original, turn)
        wanted = load_count - len(build["loads"])
        for name, rows in copy.rows(wanted):
            build[name] += rows
        for condition in build["conditions"]:
            condition["uses"] += [
                use | {"load": copy.key(use["load"])} for use in uses[condition["key"]] if use["load"] in copy.loads
            ]
    for load in build["loads"]:
        for name in ("current_a", "inrush_a", "key_off_a"):
            if name in load:
                load[name] = round(load[name] * own / load_count, 3)
    return json.dumps(document).encode()


class _Copy:
    """One more set of panels, as far as loads are wanted."""

    def __init__(self, original: dict[str, list[dict[str, Any]]], turn: int) -> None:
        self.original = original
        self.mark = "abcdefghij"[turn - 1]
        self.loads: set[str] = set()

    def key(self, key: str) -> str:
        return f"{key}{self.mark}"

    def rows(self, wanted: int) -> Iterator[tuple[str, list[dict[str, Any]]]]:
        loads = self.original["loads"][:wanted]
        self.loads = {load["key"] for load in loads}
        numbers = {load["circuit"] for load in loads}
        circuits = [circuit for circuit in self.original["circuits"] if circuit["number"] in numbers]
        panels = {circuit["panel"] for circuit in circuits}
        yield "nodes", [self._named(node) for node in self.original["nodes"] if node["key"] in panels]
        feeds = [run for run in self.original["runs"] if run["to_node"] in panels and run["side"] == "supply"]
        yield "runs", [self._named(run) | {"to_node": self.key(run["to_node"])} for run in feeds]
        yield (
            "circuits",
            [
                circuit
                | {
                    "number": self.key(circuit["number"]),
                    "panel": self.key(circuit["panel"]),
                    "legend": f"{circuit['legend']} {self.mark.upper()}",
                }
                for circuit in circuits
            ],
        )
        yield "loads", [self._named(load) | {"circuit": self.key(load["circuit"])} for load in loads]

    def _named(self, row: dict[str, Any]) -> dict[str, Any]:
        return row | {"key": self.key(row["key"])}
