"""Proposals of conductor and device for every circuit and feed, beside one assessment of the same build."""

import statistics
import time
from collections.abc import Callable
from pathlib import Path

from builds.engineering.assess import assess
from builds.engineering.document import read_document
from builds.engineering.explaining import workings_of
from builds.engineering.proposing import propose
from builds.management.benchmarks import Figure
from builds.management.benchmarks.large_build import document_of

__all__ = ["measure"]

ROUNDS = 15
LOADS = 400
MOST_MS = 150.0
_DOCUMENT = Path(__file__).resolve().parents[3] / "demo" / "2614-crew-cab-truck.json"


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return the median of fifteen proposals, of as many assessments and of one pass over all workings, in milliseconds."""
    design = read_document(document_of(LOADS))
    demo = read_document(_DOCUMENT.read_bytes())
    proposals = propose(design)
    say(f"{len(design.circuits)} circuits, {len(design.loads)} loads, {len(proposals)} proposals")
    return [
        Figure(name=f"all sizes of {LOADS} loads", value=_median_ms(lambda: propose(design)), unit="ms", most=MOST_MS),
        Figure(name="one assessment of the same build", value=_median_ms(lambda: assess(design)), unit="ms"),
        Figure(name="all sizes of the demo's largest build", value=_median_ms(lambda: propose(demo)), unit="ms"),
        Figure(
            name="every working of the demo's largest build",
            value=_median_ms(lambda: list(workings_of(demo, proposals=False)), rounds=3),
            unit="ms",
        ),
    ]


def _median_ms(run: Callable[[], object], rounds: int = ROUNDS) -> float:
    taken = []
    for _ in range(rounds):
        started = time.thread_time()
        run()
        taken.append((time.thread_time() - started) * 1000)
    return statistics.median(taken)
