"""The canonical text of a design: nothing is lost, equal designs give equal bytes, figures are plain decimals."""

import json
import re
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from jsonschema import Draft202012Validator

from builds.engineering.design import Design
from builds.engineering.document import canonical_text, content_sha256, read_document, schema_text
from builds.engineering.errors import OutOfRange
from tests.engineering.document.designs import designs
from tests.engineering.document.samples import small_design

PUBLISHED = Draft202012Validator(json.loads(schema_text()))


@cache
def made() -> tuple[tuple[Design, str], ...]:
    """Designs that hypothesis makes, each with its canonical text: made once for all that is asked of them here."""
    found: list[tuple[Design, str]] = []

    @settings(max_examples=10, phases=(Phase.generate,), suppress_health_check=list(HealthCheck))
    @given(design=designs())
    def keep(design: Design) -> None:
        found.append((design, canonical_text(design)))

    keep()
    return tuple(found)


def test_reading_the_canonical_text_gives_the_design_back() -> None:
    assert len(made()) == 10

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


def test_names_are_sorted_and_nothing_is_spaced() -> None:
    text = canonical_text(small_design())

    assert text == json.dumps(json.loads(text), sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def test_fields_without_a_value_are_left_out() -> None:
    values = json.loads(canonical_text(small_design()))

    assert "model_year" not in values["build"]["vehicle"]
    assert values["build"]["vehicle"]["unit_number"] == ""


def test_a_figure_finer_than_its_scale_is_refused_not_rounded() -> None:
    design = small_design()
    finer = replace(design, circuits=(replace(design.circuits[0], length_m=4.12345),))

    with pytest.raises(OutOfRange, match="at most 3 decimals"):
        canonical_text(finer)


def test_a_negative_zero_is_written_as_zero() -> None:
    design = small_design()
    zone = replace(design.platform.zones[0], y_mm=-0.0)

    text = canonical_text(replace(design, platform=replace(design.platform, zones=(zone, *design.platform.zones[1:]))))

    assert '"y_mm":0' in text
    assert '"y_mm":-0' not in text


def test_content_hash_is_the_published_sha256() -> None:
    """FIPS 180-4 test vector for "abc"."""
    assert content_sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
