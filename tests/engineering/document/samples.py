"""A small sound document that tests change in one place at a time."""

import json
from typing import Any

from builds.engineering.design import Design
from builds.engineering.document import read_document

__all__ = ["small_design", "small_document", "small_text"]


def small_document() -> dict[str, Any]:
    """Return a fresh document of one circuit with one lamp, as plain values."""
    return {
        "format": "baywright-build",
        "schema": 1,
        "build": {
            "number": "9001",
            "title": "One work lamp",
            "kind": "new",
            "purchase_order": "",
            "conventions": {},
            "buyer": {"customer": "Invented buyer", "profile": "Invented profile"},
            "vehicle": {},
            "platform": {
                "name": "Invented van",
                "version": "1",
                "wheelbase_mm": 3500,
                "gvwr_kg": 3500,
                "gawr_front_kg": 1750,
                "gawr_rear_kg": 2250,
                "curb_front_kg": 1100,
                "curb_rear_kg": 900,
                "seats": 3,
                "zones": [
                    {"key": "engine", "name": "Engine bay", "ambient_c": 85, "x_mm": -300, "y_mm": 0, "sealed": False},
                    {"key": "cab", "name": "Cab", "ambient_c": 40, "x_mm": 1200, "y_mm": 0},
                ],
                "routes": [{"from_zone": "engine", "to_zone": "cab", "length_m": 2.5}],
            },
            "nodes": [
                {
                    "key": "BAT1",
                    "kind": "battery",
                    "name": "Start battery",
                    "zone": "engine",
                    "battery": {
                        "capacity_ah": 95,
                        "rated_hours": 20,
                        "peukert_exponent": 1.2,
                        "internal_mohm": 4,
                        "open_circuit_v": 12.8,
                        "usable_ratio": 0.5,
                    },
                },
                {"key": "CH", "kind": "chassis", "name": "Body", "zone": "cab"},
                {"key": "G1", "kind": "ground", "name": "Stud", "zone": "cab", "chassis": "CH"},
                {
                    "key": "P1",
                    "kind": "panel",
                    "name": "Cab panel",
                    "zone": "cab",
                    "panel": {"positions": 6, "columns": 3},
                },
            ],
            "runs": [
                {
                    "key": "R1",
                    "from_node": "BAT1",
                    "to_node": "P1",
                    "side": "supply",
                    "gauge": "8",
                    "length_m": 3,
                    "device_family": "MIDI",
                    "device_rating_a": 40,
                    "device_distance_m": 0.2,
                },
                {"key": "R2", "from_node": "BAT1", "to_node": "CH", "side": "return", "gauge": "4", "length_m": 0.6},
            ],
            "circuits": [
                {
                    "number": "101",
                    "legend": "WORK LAMP",
                    "panel": "P1",
                    "position": 1,
                    "device_family": "ATO",
                    "device_rating_a": 10,
                    "gauge": "14",
                    "length_m": 4.125,
                    "return_node": "G1",
                    "return_length_m": 1,
                }
            ],
            "loads": [
                {
                    "key": "L101",
                    "circuit": "101",
                    "name": "Work lamp",
                    "zone": "cab",
                    "model": "constant_current",
                    "current_a": 4,
                    "at_v": 13.6,
                }
            ],
            "conditions": [
                {
                    "key": "work",
                    "name": "At work",
                    "source_state": "idle",
                    "source_low_v": 13.2,
                    "source_high_v": 14.2,
                    "uses": [{"load": "L101"}],
                }
            ],
            "operations": [],
            "parts": [],
        },
    }


def small_text() -> str:
    """Return the small document as text."""
    return json.dumps(small_document())


def small_design() -> Design:
    """Return the small document as a design."""
    return read_document(small_text())
