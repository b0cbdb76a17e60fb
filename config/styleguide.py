"""What the look pages show: one of everything, with figures of the invented demo shop."""

from collections.abc import Iterator
from typing import Any

# mark, number, legend, place, to, load A, peak A, fuse A, gauge, colour, length ft, drop %
_CIRCUITS = """
|201|REAR WARNING|P2-01|Tailgate|3.8|5.8|10|14|WH/RD|10|3.6
|202|SCENE LEFT|P2-02|Locker top left|7.2|7.2|10|14|WH/BU|8|4.3
blocking|203|SCENE RIGHT|P2-03|Locker top right|7.2|7.2|10|14|WH/YE|12|5.5
|204|LOCKER LAMPS|P2-04|Lockers 1 to 4|2.4|2.4|5|16|BU/WH|9|3.4
changed|205|RACK HEATER|P2-05|Cylinder rack|11.0|11.0|15|10|BN|14|4.5
|206|RADIO WATCH|P2-06|Locker 1 left|2.1|9.5|15|12|VT/BK|7|2.4
caution|207|WASH PUMP|P2-07|Rear deck|9.0|14.0|20|10|GN|16|4.8
"""

# number, buyer, vehicle, unit, stage, on hold, vehicle, parts, gear, state, its words, promised, who acts, steps
_BUILDS = """
2612|Ridgeway Roads|Incident van 1 of 6|RR-31|in_work||y|y|y|late|Late 1 day|Wed 9 Dec|Fitter: mount cone rack|21 of 38
2614|Saltmarsh Water Rescue|Crew-cab truck, lockers, winch|SWR-7|in_work||y|y|y|at_risk|At risk: change 2|Fri 18 Dec|Buyer: sign change 2|17 of 46
2609|Harrow Airfield|Escort car 1|A-04|final_check||y|y||on_time|On time|Thu 10 Dec|Inspector: finish tests|39 of 41
2615|Ridgeway Roads|Incident van 3 of 6|RR-33|approved||y|n|y|waiting|Waiting: parts|Tue 22 Dec|Stores: 2 short, Fri 11|0 of 38
2618|Saltmarsh Water Rescue|Boat tender|SWR-9|approved|y|y|y|n|waiting|Waiting: buyer's gear|Wed 6 Jan|Buyer: send radio set|0 of 22
2619|Harrow Airfield|Runway sweeper, amber only|A-11|quoted||n|||waiting|Waiting: signature|not promised|Buyer: sign quote|–
"""

_MATCH = {"y": True, "n": False, "": None}


def _rows(text: str) -> Iterator[list[str]]:
    for line in text.strip("\n").splitlines():
        yield line.split("|")


def _circuits() -> Iterator[dict[str, Any]]:
    names = (
        "mark",
        "number",
        "legend",
        "place",
        "to",
        "load",
        "peak",
        "fuse",
        "gauge",
        "colour",
        "feet",
        "drop",
    )
    for row in _rows(_CIRCUITS):
        circuit: dict[str, Any] = dict(zip(names, row, strict=True))
        yield circuit | {"fuse": float(circuit["fuse"]), "drop": float(circuit["drop"])}


def _builds() -> Iterator[dict[str, Any]]:
    for (
        number,
        buyer,
        vehicle,
        unit,
        stage,
        hold,
        at,
        parts,
        gear,
        state,
        words,
        promised,
        acts,
        steps,
    ) in _rows(_BUILDS):
        build: dict[str, Any] = {
            "number": number,
            "buyer": buyer,
            "vehicle": vehicle,
            "unit": unit,
        }
        build |= {
            "stage": stage,
            "hold": bool(hold),
            "match": (_MATCH[at], _MATCH[parts], _MATCH[gear]),
        }
        yield build | {
            "state": (state, words),
            "promised": promised,
            "acts": acts,
            "steps": steps,
        }


def _figure(key: str, label: str, value: str, unit: str = "", **more: Any) -> dict[str, Any]:
    return {
        "key": key,
        "label": label,
        "value": value,
        "unit": unit,
        "limit": None,
        **more,
    }


def _strip() -> tuple[dict[str, Any], ...]:
    return (
        _figure(
            "load",
            "Load, scene, idling",
            "113.9",
            "A",
            used=113.9,
            limit=118,
            revised=111.0,
        ),
        _figure(
            "drop",
            "Worst drop, circuit 203",
            "5.5",
            "%",
            used=5.5,
            limit=5.0,
            places=1,
            revised=4.8,
        ),
        _figure("key-off", "Key-off draw", "31", "mA", used=31, limit=35, revised=30),
        _figure(
            "watch",
            "Radio watch",
            "27.3",
            "h",
            used=27.3,
            limit=24,
            kind="at_least",
            revised=30,
        ),
        _figure(
            "payload",
            "Payload left, 5 seats",
            "680",
            "lb",
            used=9220,
            limit=9900,
            revised=9100,
        ),
        _figure("axle", "Rear axle", "4,830", "lb", used=4830, limit=6040, revised=4700),
        _figure("hours", "Hours, likely", "61.5", "h", used=61.5, limit=66, revised=58),
        _figure("draw", "Draw by clamp meter", "–", state="not_measured"),
    )


def _finding(severity: str, address: str, url: str, message: str, numbers: str, **more: str) -> dict[str, str]:
    return {
        "severity": severity,
        "subject_address": address,
        "subject_url": url,
        "message": message,
        "numbers_words": numbers,
        **more,
    }


def _findings() -> tuple[dict[str, str], ...]:
    return (
        _finding(
            *(
                "blocking",
                "3 · 203",
                "#circuit-203",
                "Scene right drops 5.5 %. This buyer allows 5.0 %.",
            ),
            "7.2 A, 14 gauge, 12 ft; the feed takes 2.1 of it. 12 gauge brings it to 4.2 %.",
            fix_url="#",
            fix_word="Use 12 gauge",
            override_url="#",
            id="drop-over-limit",
            source="buyer rule 4",
        ),
        _finding(
            *(
                "caution",
                "4 · Load",
                "#strip",
                "Idling hot, the alternator has 4.1 A to spare.",
            ),
            "113.9 of 118 A. Shedding 205 frees 11.0 A.",
            id="source-margin-low",
            source="shop rule 2",
        ),
        _finding(
            *("note", "3 · P2", "#circuits", "One spare position left in P2."),
            "This buyer asks for one; none is left for growth.",
            id="spare-positions",
            source="",
        ),
    )


PHASES = (
    {"name": "Strip", "done": 9, "total": 9},
    {"name": "Mount", "done": 8, "total": 13, "present": 8},
    {"name": "Wire", "done": 0, "total": 12},
    {"name": "Test", "done": 0, "total": 7},
    {"name": "Close", "done": 0, "total": 5},
)
STATE_NAMES = [
    "blocking",
    "caution",
    "note",
    "pass",
    "defective",
    "not_applicable",
    "not_measured",
    "to_do",
    "in_work",
    "waiting",
    "hold_point",
    "changed",
]
STAGE_NAMES = [
    "intake",
    "quoted",
    "approved",
    "in_work",
    "final_check",
    "ready",
    "delivered",
    "closed",
    "cancelled",
]
FUSE_RATINGS_A = (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 200)
WIRE_CODES = [
    "BK",
    "BN",
    "RD",
    "OG",
    "YE",
    "GN",
    "BU",
    "VT",
    "GY",
    "WH",
    "PK",
    "TQ",
    "WH/RD",
    "BU/WH",
    "VT/BK",
    "XX",
]


def sample_context() -> dict[str, Any]:
    """Return everything the look pages need."""
    return {
        "circuits": tuple(_circuits()),
        "strip": _strip(),
        "findings": _findings(),
        "builds": tuple(_builds()),
        "phases": PHASES,
        "state_names": STATE_NAMES,
        "stage_names": STAGE_NAMES,
        "fuse_ratings_a": FUSE_RATINGS_A,
        "wire_codes": WIRE_CODES,
    }
