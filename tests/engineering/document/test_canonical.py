"""The canonical text of a design: nothing is lost, equal designs give equal bytes, figures are plain decimals."""

import json
from dataclasses import replace

import pytest

from builds.engineering.document import canonical_text, content_sha256
from builds.engineering.errors import OutOfRange
from tests.engineering.document.samples import small_design


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
