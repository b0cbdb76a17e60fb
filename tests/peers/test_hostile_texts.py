"""Texts made to keep the reader busy: hundreds of thousands of entries, names or faults."""

import json
import time
from typing import Any

import pytest

from tests.engineering.document.test_reader import document_with, faults_of


@pytest.mark.parametrize(
    ("pointer", "value", "said"),
    [
        pytest.param(
            "/build/loads", [{}] * 300_000, "/build/loads: has 300000 entries; at most 2000 are read", id="list"
        ),
        pytest.param(
            "/build/vehicle",
            {f"x{name}": 1 for name in range(200_000)},
            "document: more than 1800 more faults are not listed",
            id="fields",
        ),
        pytest.param(
            "/build/conditions/0/uses",
            [{"load": "L9"}] * 150_000,
            "/build/conditions/0/uses: has 150000 entries; at most 2000 are read",
            id="uses",
        ),
    ],
)
def test_a_hostile_text_is_answered_nearly_as_soon_as_it_is_parsed(pointer: str, value: Any, said: str) -> None:
    """Each took minutes, thousands of times as long as the JSON alone, while every entry was looked into; now 5 to 25 times."""
    text = json.dumps(document_with(pointer, value), separators=(",", ":"))
    started = time.process_time()
    json.loads(text)
    parsed = time.process_time()

    told = faults_of(text)

    assert said in told
    assert time.process_time() - parsed < 200 * (parsed - started)


def test_a_huge_list_of_odd_names_is_answered_quickly() -> None:
    """Doubled names are counted once, not searched once per name."""
    text = "{" + ",".join(['"a":1'] * 500_000) + "}"

    assert faults_of(text) == ['/format: must be "baywright-build"; this text is something else']
