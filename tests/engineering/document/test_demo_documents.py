"""The three documents that ship as the demo shop: sound texts, invented, and saying exactly what they are meant to show."""

import json
from pathlib import Path

import pytest

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.document import canonical_text, read_document
from builds.engineering.findings import Severity
from builds.engineering.vocabulary import NodeKind, UnitSystem

DEMO = Path(__file__).parents[3] / "demo"
FILES = sorted(DEMO.glob("*.json"))


def design_of(number: str) -> Design:
    [path] = DEMO.glob(f"{number}-*.json")
    return read_document(path.read_bytes())


def test_there_are_three_documents() -> None:
    assert [path.name for path in FILES] == [
        "2609-escort-car.json",
        "2612-incident-van.json",
        "2614-crew-cab-truck.json",
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_demo_document_says_that_it_is_invented(path: Path) -> None:
    about = json.loads(path.read_text(encoding="utf-8"))["about"]

    assert about.startswith("Invented demo data of an invented shop")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_demo_document_comes_back_from_its_canonical_text(path: Path) -> None:
    design = read_document(path.read_bytes())

    assert read_document(canonical_text(design)) == design


def test_the_truck_is_as_large_as_the_gates_are_measured_on() -> None:
    design = design_of("2614")
    panels = [node for node in design.nodes if node.kind in (NodeKind.PANEL, NodeKind.MODULE)]

    assert len(design.circuits) >= 120
    assert len(panels) >= 12
    assert len(design.conditions) >= 6
    assert len(design.loads) >= 120
    assert {circuit.panel for circuit in design.circuits} == {panel.key for panel in panels}


def test_the_documents_exercise_both_unit_systems_and_three_gauge_tables() -> None:
    conventions = [read_document(path.read_bytes()).conventions for path in FILES]

    assert {item.units for item in conventions} == set(UnitSystem)
    assert {item.gauge_basis.value for item in conventions} == {"awg", "metric", "sae"}


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        ("2609", []),
        ("2612", [("weight-label", "build", Severity.NOTE)]),
        (
            "2614",
            [
                ("drop-over-limit", "circuit:203", Severity.BLOCKING),
                ("source-margin-low", "condition:scene", Severity.CAUTION),
                ("source-deficit-at-idle", "condition:winch", Severity.CAUTION),
                ("weight-label", "build", Severity.NOTE),
                ("device-close-to-feed", "circuit:701", Severity.NOTE),
                ("spare-positions-few", "node:P2", Severity.NOTE),
                ("device-close-to-feed", "run:R11", Severity.NOTE),
            ],
        ),
    ],
)
def test_a_demo_document_has_the_findings_it_is_meant_to_show(
    number: str, expected: list[tuple[str, str, Severity]]
) -> None:
    findings = assess(design_of(number)).findings

    assert [(finding.id, finding.subject, finding.severity) for finding in findings] == expected


def test_the_trucks_blocking_finding_is_mended_by_its_own_repair() -> None:
    design = design_of("2614")
    [blocking] = assess(design).blocking
    assert blocking.fix is not None
    # what the alternator gives goes from its lug to the loads' on one post and passes no battery's contact: 14 gauge is enough
    assert blocking.fix.label == "Use 14 gauge"

    mended = apply_changes(design, blocking.fix.changes)

    assert assess(mended).blocking == ()
