"""
The table, the power tree and what if on a build of four hundred loads: from the request to the answer.

The table is asked for whole, then one column of every row is checked, kept as one edit, and undone.
"""

import json
import statistics
import time
from collections.abc import Callable
from typing import Any

from django.utils import timezone

from builds.management.benchmarks import Figure
from builds.management.benchmarks.large_build import document_of
from builds.management.benchmarks.rolled_back import rolled_back, signed_in
from builds.services.build_documents import import_build

__all__ = ["measure"]

LOADS = 400
ROUNDS = 5


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return the median time of five answers of each kind."""
    with rolled_back():
        client, person = signed_in()
        build = import_build(text=document_of(LOADS), by=person, at=timezone.now(), number="bench")
        numbers = list(build.circuits.values_list("number", flat=True))
        say(f"{len(numbers)} circuits, {build.loads.count()} loads")
        cells = json.dumps([[number, "insulation_c", "105"] for number in numbers])
        taken: dict[str, list[float]] = {}

        def ask(name: str, method: Callable[..., Any], address: str, data: dict[str, str] | None = None) -> None:
            started = time.perf_counter()
            answer = method(f"/builds/bench/{address}", data)
            taken.setdefault(name, []).append((time.perf_counter() - started) * 1000)
            if answer.status_code != 200:
                raise RuntimeError(f"{name} was answered {answer.status_code}.")

        for _ in range(ROUNDS):
            versions = json.dumps(dict(build.circuits.values_list("number", "row_version")))
            ask("table of all circuits", client.get, "table/circuit/")
            ask("one column of all checked", client.post, "table/circuit/cells/", {"do": "check", "cells": cells})
            ask(
                "one column of all kept as one edit", client.post, "table/circuit/cells/",
                {"do": "keep", "cells": cells, "versions": versions},
            )  # fmt: skip
            ask("that edit undone", client.post, "table/circuit/cells/", {"do": "undo"})
            ask("power tree", client.get, "tree/")
            ask("what if the alternator were larger", client.get, "what-if/?if=node:ALT+alternator+320")
    return [Figure(name=name, value=statistics.median(times), unit="ms") for name, times in taken.items()]
