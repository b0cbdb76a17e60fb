"""
Whole documents against what a good electrician expects of them: the findings, nothing more, and figures worked by hand.

``NAME.json`` is a build document, ``NAME.expected.json`` says what is expected and, in its ``why``, the arithmetic from the
printed tables (AWG areas, 33 CFR 183.425 Table 5, reference nets) that gives each figure. See README.md beside this file.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from builds.engineering.assess import assess
from builds.engineering.catalogue import CATALOGUE
from builds.engineering.document import read_document
from builds.management.assessment_report import assessment_values

HERE = Path(__file__).parent
NAMES = sorted(path.name.removesuffix(".expected.json") for path in HERE.glob("*.expected.json"))
_ADDRESSES = ("key", "number", "segment")


def expected_of(name: str) -> dict[str, Any]:
    expected: dict[str, Any] = json.loads((HERE / f"{name}.expected.json").read_text(encoding="utf-8"))
    return expected


def figure(values: Any, way: str) -> float:
    """Follow "circuits/101/drop_v" through the printed assessment: fields by name, list entries by key, number or first item."""
    for step in way.split("/"):
        values = _entry(values, step) if isinstance(values, list) else values[step]
    assert isinstance(values, int | float), f"{way} is {values!r}"
    return values


def _entry(entries: list[Any], address: str) -> Any:
    for entry in entries:
        if isinstance(entry, list) and entry[0] == address:
            return entry[1]
        if isinstance(entry, dict) and address in (entry.get(name) for name in _ADDRESSES):
            return entry
    raise AssertionError(f"nothing is called {address}")


def test_every_document_has_its_expectation_and_the_other_way_round() -> None:
    documents = {path.stem for path in HERE.glob("*.json") if not path.name.endswith(".expected.json")}

    assert documents == set(NAMES)
    assert len(documents) >= 12


@pytest.mark.parametrize("name", NAMES)
def test_findings_are_those_listed_and_nothing_more(name: str) -> None:
    findings = assess(read_document((HERE / f"{name}.json").read_bytes())).findings

    said = sorted((finding.id, finding.subject, finding.severity.value) for finding in findings)
    listed = sorted((item["id"], item["subject"], item["severity"]) for item in expected_of(name)["findings"])
    assert said == listed


@pytest.mark.parametrize("name", NAMES)
def test_figures_are_those_worked_by_hand(name: str) -> None:
    values = assessment_values(assess(read_document((HERE / f"{name}.json").read_bytes())))

    wrong = []
    for item in expected_of(name)["figures"]:
        found = figure(values, item["of"])
        if abs(found - item["value"]) > item["within"]:
            wrong.append(f"{item['of']} is {found}, by hand {item['value']} within {item['within']}")
    assert wrong == []


def test_the_expected_findings_are_of_the_catalogue() -> None:
    """An id misspelt on both sides would never be missed."""
    listed = {(item["id"], item["severity"]) for name in NAMES for item in expected_of(name)["findings"]}

    assert {(id_, CATALOGUE[id_].severity.value) for id_, _ in listed} == listed
