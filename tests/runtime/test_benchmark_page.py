"""`bench` writes the page of all figures in one run; a name alone is only printed."""

import io
import platform
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from builds.management.benchmarks import BENCHMARKS, Figure, benchmark_named
from builds.management.benchmarks.page import Machine, Measured, benchmarks_page, this_machine
from builds.management.commands import bench

FIGURES = [
    Figure(name="400 loads", value=3.14159, unit="ms", most=4.0),
    Figure(name="peer, times as long", value=41.5, unit="", least=30.0),
    Figure(name="reading", value=12345.6, unit="ms"),
    Figure(name="too slow | by far", value=9.0, unit="ms", most=4.0),
]
MACHINE = Machine(cores=2, python="CPython 3.11.7", system="Linux on x86_64", libraries=(("numpy", "2.4"),))


def fake(name: str) -> Callable[[Callable[[str], None]], list[Figure]]:
    """A benchmark that measures nothing."""

    def measure(say: Callable[[str], None]) -> list[Figure]:
        say(f"{name} of 400 loads")
        return FIGURES[:3]

    return measure


def test_the_page_sets_each_figure_beside_its_limit() -> None:
    page = benchmarks_page(
        [Measured(name="network", said=("400 loads, 12 conditions",), figures=tuple(FIGURES))], MACHINE
    )

    assert "## network\n\n400 loads, 12 conditions.\n" in page
    assert "| 400 loads | 3.14 ms | at most 4 ms | keeps |" in page
    assert "| peer, times as long | 41.5 | at least 30 | keeps |" in page
    assert "| reading | 12,346 ms |  |  |" in page
    assert "| too slow \\| by far | 9 ms | at most 4 ms | **breaks** |" in page
    assert "Measured on 2 cores, Linux on x86_64, CPython 3.11.7, numpy 2.4." in page


def test_the_machine_is_described_and_not_named() -> None:
    words = this_machine().words

    assert "cores" in words and platform.python_version() in words
    assert not platform.node() or platform.node() not in words


def test_without_a_name_all_are_measured_and_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench, "benchmark_named", fake)
    (tmp_path / "reference").mkdir()

    call_command("bench", docs=tmp_path, stdout=io.StringIO())

    page = (tmp_path / "reference/benchmarks.md").read_text(encoding="utf-8")
    assert [line.removeprefix("## ") for line in page.splitlines() if line.startswith("## ")] == list(BENCHMARKS)


def test_a_named_one_is_printed_and_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench, "benchmark_named", fake)
    (tmp_path / "reference").mkdir()
    out = io.StringIO()

    call_command("bench", "network", docs=tmp_path, stdout=out)

    assert "keeps  400 loads: 3.14 ms, at most 4" in out.getvalue()
    assert list((tmp_path / "reference").iterdir()) == []


def test_a_figure_that_breaks_ends_with_one_and_is_written_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bench, "benchmark_named", lambda name: lambda say: FIGURES)
    (tmp_path / "reference").mkdir()

    with pytest.raises(SystemExit) as ended:
        call_command("bench", docs=tmp_path, stdout=io.StringIO())

    assert ended.value.code == 1
    assert "**breaks**" in (tmp_path / "reference/benchmarks.md").read_text(encoding="utf-8")


def test_a_name_that_is_none_lists_those_there_are() -> None:
    with pytest.raises(CommandError, match="sizing"):
        call_command("bench", "taste")


def test_every_name_has_its_function() -> None:
    assert all(callable(benchmark_named(name)) for name in BENCHMARKS)
