"""
The core's own time for the demo's largest build, all conditions together, and for reading its document.

The limit is that of the document as it stands, its simulated day included; without the day it is measured beside.
"""

import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from builds.engineering.assess import assess
from builds.engineering.document import read_document
from builds.management.benchmarks import Figure

__all__ = ["measure"]

ROUNDS = 30
MOST_MS = 20.0
_DOCUMENT = Path(__file__).resolve().parents[3] / "demo" / "2614-crew-cab-truck.json"


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return the median of thirty assessments and of five readings, in milliseconds of this thread."""
    text = _DOCUMENT.read_bytes()
    design = read_document(text)
    say(f"{len(design.circuits)} circuits, {len(design.conditions)} conditions")
    without = replace(design, duty_profiles=(), duty_segments=())
    assess(design)
    return [
        Figure(name="assess", value=_median_ms(lambda: assess(design), ROUNDS), unit="ms", most=MOST_MS),
        Figure(name="the same without its day", value=_median_ms(lambda: assess(without), ROUNDS), unit="ms"),
        Figure(name="read the document", value=_median_ms(lambda: read_document(text), 5), unit="ms"),
    ]


def _median_ms(run: Callable[[], object], rounds: int) -> float:
    taken = []
    for _ in range(rounds):
        started = time.thread_time()
        run()
        taken.append((time.thread_time() - started) * 1000)
    return statistics.median(taken)
