"""What the look page shows: one of everything, with figures of the invented demo shop."""

from types import SimpleNamespace
from typing import Any


def _row(mark: str, number: str, legend: str, place: str, to: str, load: str, peak: str, fuse: float, gauge: str, colour: str, feet: str, drop: float) -> dict[str, Any]:
    names = ("mark", "number", "legend", "place", "to", "load", "peak", "fuse", "gauge", "colour", "feet", "drop")
    return dict(zip(names, (mark, number, legend, place, to, load, peak, fuse, gauge, colour, feet, drop), strict=True))


CIRCUITS = (
    _row("", "201", "REAR WARNING", "P2-01", "Tailgate", "3.8", "5.8", 10, "14", "WH/RD", "10", 3.6),
    _row("", "202", "SCENE LEFT", "P2-02", "Locker top left", "7.2", "7.2", 10, "14", "WH/BU", "8", 4.3),
    _row("blocking", "203", "SCENE RIGHT", "P2-03", "Locker top right", "7.2", "7.2", 10, "14", "WH/YE", "12", 5.5),
    _row("", "204", "LOCKER LAMPS", "P2-04", "Lockers 1 to 4", "2.4", "2.4", 5, "16", "BU/WH", "9", 3.4),
    _row("changed", "205", "RACK HEATER", "P2-05", "Cylinder rack", "11.0", "11.0", 15, "10", "BN", "14", 4.5),
    _row("", "206", "RADIO WATCH", "P2-06", "Locker 1 left", "2.1", "9.5", 15, "12", "VT/BK", "7", 2.4),
    _row("caution", "207", "WASH PUMP", "P2-07", "Rear deck", "9.0", "14.0", 20, "10", "GN", "16", 4.8),
)


def _figure(key: str, label: str, value: str, unit: str = "", **more: Any) -> dict[str, Any]:
    return {"key": key, "label": label, "value": value, "unit": unit, "limit": None, **more}


STRIP = (
    _figure("load", "Load, scene, idling", "113.9", "A", used=113.9, limit=118, revised=111.0),
    _figure("drop", "Worst drop, circuit 203", "5.5", "%", used=5.5, limit=5.0, places=1, revised=4.8),
    _figure("key-off", "Key-off draw", "31", "mA", used=31, limit=35, revised=30),
    _figure("watch", "Radio watch", "27.3", "h", used=27.3, limit=24, kind="at_least", revised=30),
    _figure("payload", "Payload left, 5 seats", "680", "lb", used=9220, limit=9900, revised=9100),
    _figure("axle", "Rear axle", "4,830", "lb", used=4830, limit=6040, revised=4700),
    _figure("hours", "Hours, likely", "61.5", "h", used=61.5, limit=66, revised=58),
    _figure("draw", "Draw by clamp meter", "–", "", state="not_measured"),
)

FINDINGS = (
    {"severity": "blocking", "subject_address": "3 · 203", "subject_url": "#circuit-203", "message": "Scene right drops 5.5 %. This buyer allows 5.0 %.", "numbers_words": "7.2 A, 14 gauge, 12 ft; the feed takes 2.1 of it. 12 gauge brings it to 4.2 %.", "fix_url": "#", "fix_word": "Use 12 gauge", "override_url": "#", "id": "drop-over-limit", "source": "buyer rule 4"},
    {"severity": "caution", "subject_address": "4 · Load", "subject_url": "#figure-load", "message": "Idling hot, the alternator has 4.1 A to spare.", "numbers_words": "113.9 of 118 A. Shedding 205 frees 11.0 A.", "id": "source-margin-low", "source": "shop rule 2"},
    {"severity": "note", "subject_address": "3 · P2", "subject_url": "#p2", "message": "One spare position left in P2.", "numbers_words": "This buyer asks for one; none is left for growth.", "id": "spare-positions", "source": ""},
)

BUILDS = (
    {"number": "2612", "buyer": "Ridgeway Roads", "vehicle": "Incident van 1 of 6", "unit": "RR-31", "stage": "in_work", "hold": False, "match": (True, True, True), "state": ("late", "Late 1 day"), "promised": "Wed 9 Dec", "acts": "Fitter: mount cone rack", "steps": "21 of 38"},
    {"number": "2614", "buyer": "Saltmarsh Water Rescue", "vehicle": "Crew-cab truck, lockers, winch", "unit": "SWR-7", "stage": "in_work", "hold": False, "match": (True, True, True), "state": ("at_risk", "At risk: change 2"), "promised": "Fri 18 Dec", "acts": "Buyer: sign change 2", "steps": "17 of 46"},
    {"number": "2609", "buyer": "Harrow Airfield", "vehicle": "Escort car 1", "unit": "A-04", "stage": "final_check", "hold": False, "match": (True, True, None), "state": ("on_time", "On time"), "promised": "Thu 10 Dec", "acts": "Inspector: finish tests", "steps": "39 of 41"},
    {"number": "2615", "buyer": "Ridgeway Roads", "vehicle": "Incident van 3 of 6", "unit": "RR-33", "stage": "approved", "hold": False, "match": (True, False, True), "state": ("waiting", "Waiting: parts"), "promised": "Tue 22 Dec", "acts": "Stores: 2 short, Fri 11", "steps": "0 of 38"},
    {"number": "2618", "buyer": "Saltmarsh Water Rescue", "vehicle": "Boat tender", "unit": "SWR-9", "stage": "approved", "hold": True, "match": (True, True, False), "state": ("waiting", "Waiting: buyer's gear"), "promised": "Wed 6 Jan", "acts": "Buyer: send radio set", "steps": "0 of 22"},
    {"number": "2619", "buyer": "Harrow Airfield", "vehicle": "Runway sweeper, amber only", "unit": "A-11", "stage": "quoted", "hold": False, "match": (False, None, None), "state": ("waiting", "Waiting: signature"), "promised": "not promised", "acts": "Buyer: sign quote", "steps": "–"},
)

PHASES = (
    {"name": "Strip", "done": 9, "total": 9},
    {"name": "Mount", "done": 8, "total": 13, "present": 8},
    {"name": "Wire", "done": 0, "total": 12},
    {"name": "Test", "done": 0, "total": 7},
    {"name": "Close", "done": 0, "total": 5},
)

STATE_NAMES = ("blocking", "caution", "note", "pass", "defective", "not_applicable", "not_measured", "to_do", "in_work", "waiting", "hold_point", "changed")
FUSE_RATINGS_A = (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 40, 200)
WIRE_CODES = ("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "TQ", "WH/RD", "BU/WH", "VT/BK")
STAGE_NAMES = ("intake", "quoted", "approved", "in_work", "final_check", "ready", "delivered", "closed", "cancelled")


def _bound(name: str, label: str, markup: str, error: str = "") -> SimpleNamespace:
    """Stand in for a bound form field: the look page has no form behind it."""
    return SimpleNamespace(id_for_label=f"id_{name}", auto_id=f"id_{name}", label=label, errors=[error] if error else [], help_text="", field=SimpleNamespace(required=True), markup=markup)


def sample_context() -> dict[str, Any]:
    """Return everything the look page needs."""
    return {
        "circuits": CIRCUITS,
        "strip": STRIP,
        "findings": FINDINGS,
        "builds": BUILDS,
        "phases": PHASES,
        "state_names": STATE_NAMES,
        "stage_names": STAGE_NAMES,
        "fuse_ratings_a": FUSE_RATINGS_A,
        "wire_codes": WIRE_CODES,
    }
