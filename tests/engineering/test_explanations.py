"""The worked examples on the explanation pages come true."""

import doctest
from pathlib import Path

import pytest

PAGES = Path(__file__).parents[2] / "docs" / "explanation"


@pytest.mark.parametrize("name", ["conductors-and-protection", "network", "energy", "functions"])
def test_worked_examples_of_a_page_come_true(name: str) -> None:
    results = doctest.testfile(str(PAGES / f"{name}.md"), module_relative=False, encoding="utf-8")

    assert results.attempted > 3
    assert results.failed == 0
