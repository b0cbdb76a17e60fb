"""What holds for any design that a document can hold: nothing is lost, another reader takes it, it is assessed."""

import json
import math
import re
from functools import cache

from hypothesis import HealthCheck, Phase, given, settings
from jsonschema import Draft202012Validator

from builds.engineering.assess import assess
from builds.engineering.design import Design
from builds.engineering.document import canonical_text, read_document, schema_text
from tests.engineering.document.designs import designs

PUBLISHED = Draft202012Validator(json.loads(schema_text()))


@cache
def made() -> tuple[tuple[Design, str], ...]:
    """Designs that hypothesis makes, each with its canonical text: made once for all that is asked of them here."""
    found: list[tuple[Design, str]] = []

    @settings(max_examples=15, phases=(Phase.generate,), suppress_health_check=list(HealthCheck))
    @given(design=designs())
    def keep(design: Design) -> None:
        found.append((design, canonical_text(design)))

    keep()
    return tuple(found)


def test_reading_the_canonical_text_gives_the_design_back() -> None:
    assert len(made()) == 15

    for design, text in made():
        assert read_document(text) == design
        assert canonical_text(read_document(text)) == text


def test_canonical_text_satisfies_the_published_schema() -> None:
    """Another reader, with the schema alone and binary numbers, takes what we write."""
    for _, text in made():
        assert list(PUBLISHED.iter_errors(json.loads(text))) == []


def test_numbers_are_written_as_plain_decimals() -> None:
    for _, text in made():
        outside_text = re.sub(r'"(?:[^"\\]|\\.)*"', '""', text)

        for number in re.findall(r"-?[0-9][-0-9.eE+]*", outside_text):
            assert re.fullmatch(r"-?(0|[1-9][0-9]*)(\.[0-9]*[1-9])?", number), number
            assert number != "-0"


def test_any_design_is_assessed_in_figures() -> None:
    for design, _ in made():
        findings = assess(design).findings

        assert all(math.isfinite(number.value) for finding in findings for number in finding.numbers)
