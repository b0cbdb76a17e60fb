"""
An edit of a circuit on the demo's largest build: from the request to the answer with the changed row and the live strip.

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
from builds.management.benchmarks.rolled_back import rolled_back, signed_in
from builds.services.build_documents import import_build

__all__ = ["measure"]

ROUNDS = 15
MOST_MS = 100.0
_DOCUMENT = Path(__file__).resolve().parents[3] / "demo" / "2614-crew-cab-truck.json"
_HTMX = {"HX-Request": "true"}


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return the median time of fifteen edits, each of another circuit."""
    with rolled_back():
        client, person = signed_in()
        build = import_build(text=_DOCUMENT.read_bytes(), by=person, at=timezone.now(), number="bench")
        numbers = list(build.circuits.values_list("number", flat=True)[:ROUNDS])
        say(f"{build.circuits.count()} circuits")
        taken = []
        for number in numbers:
            page = client.get("/builds/bench/", {"edit": f"circuit:{number}"}, headers=_HTMX).content.decode()
            sent = {
                name: html.unescape(value)
                for name, value in re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page)
            }
            sent |= {name.removeprefix("was-"): value for name, value in sent.items() if name.startswith("was-")}
            sent["length_m"] = str(float(sent["length_m"]) + 1)
            started = time.perf_counter()
            answer = client.post(f"/builds/bench/rows/circuit/{number}/", sent, headers=_HTMX)
            taken.append((time.perf_counter() - started) * 1000)
            if answer.status_code != 200:
                raise RuntimeError(f"The edit of circuit {number} was answered {answer.status_code}.")
    return [Figure(name="edit of a circuit, answered", value=statistics.median(taken[1:]), unit="ms", most=MOST_MS)]
