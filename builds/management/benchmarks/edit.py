"""
An edit of a circuit: from the request to the answer with the changed row and the live strip.

Measured on the demo's largest build and on one of four hundred loads.

The whole stack of middlewares is passed, inside one process, so what is measured is the server's time alone.
"""

import html
import re
import statistics
import time
from collections.abc import Callable
from pathlib import Path

from django.utils import timezone

from builds.management.benchmarks import Figure
from builds.management.benchmarks.large_build import document_of
from builds.management.benchmarks.rolled_back import rolled_back, signed_in
from builds.services.build_documents import import_build

__all__ = ["measure"]

ROUNDS = 15
MOST_MS = 100.0
LOADS = 400
_DOCUMENT = Path(__file__).resolve().parents[3] / "demo" / "2614-crew-cab-truck.json"
_MARK = re.compile(r'id="([^"]+)"[^>]*? data-seen="([^"]+)"')
_HTMX = {"HX-Request": "true"}


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return the median time of fifteen edits, each of another circuit, on either build."""
    return [
        Figure(name=f"edit of a circuit, answered, {name}", value=_median_ms(text, say), unit="ms", most=MOST_MS)
        for name, text in (("demo", _DOCUMENT.read_bytes()), (f"{LOADS} loads", document_of(LOADS)))
    ]


def _median_ms(text: bytes, say: Callable[[str], None]) -> float:
    with rolled_back():
        client, person = signed_in()
        build = import_build(text=text, by=person, at=timezone.now(), number="bench")
        numbers = list(build.circuits.values_list("number", flat=True)[:ROUNDS])
        say(f"{build.circuits.count()} circuits, {build.loads.count()} loads")
        seen = dict(_MARK.findall(client.get("/builds/bench/").content.decode()))
        taken = []
        for number in numbers:
            page = client.get("/builds/bench/", {"edit": f"circuit:{number}"}, headers=_HTMX).content.decode()
            sent = {
                name: html.unescape(value)
                for name, value in re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page)
            }
            sent |= {name.removeprefix("was-"): value for name, value in sent.items() if name.startswith("was-")}
            sent["seen"] = " ".join(f"{piece}:{mark}" for piece, mark in seen.items())
            sent["length_m"] = str(float(sent["length_m"]) + 1)
            started = time.perf_counter()
            answer = client.post(f"/builds/bench/rows/circuit/{number}/", sent, headers=_HTMX)
            taken.append((time.perf_counter() - started) * 1000)
            seen |= dict(_MARK.findall(answer.content.decode()))
            if answer.status_code != 200:
                raise RuntimeError(f"The edit of circuit {number} was answered {answer.status_code}.")
    return statistics.median(taken[1:])
