"""
Speed measured beside a peer in the same run: ratios last longer than seconds.

A benchmark is a function that returns its figures; ``BENCHMARKS`` names them. Each measures in processes of its own where
memory or the collector would carry over from one to the next.
"""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

__all__ = ["BENCHMARKS", "Figure", "benchmark_named"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One measured figure; ``most`` is the limit it is held to, where it has one, and ``least`` likewise."""

    name: str
    value: float
    unit: str
    most: float | None = None
    least: float | None = None

    @property
    def keeps(self) -> bool:
        """Whether the figure keeps its limits."""
        return (self.most is None or self.value <= self.most) and (self.least is None or self.value >= self.least)

    @property
    def words(self) -> str:
        """The figure with its limit, as a line."""
        limit = (
            f", at most {self.most:g}"
            if self.most is not None
            else f", at least {self.least:g}"
            if self.least is not None
            else ""
        )
        return f"{self.name}: {self.value:.3g} {self.unit}".rstrip() + limit


Benchmark = Callable[[Callable[[str], None]], list[Figure]]

# Name on the command line, and where its function `measure` stands.
BENCHMARKS: dict[str, str] = {
    "assess": "builds.management.benchmarks.assessment",
    "edit": "builds.management.benchmarks.edit",
    "energy": "builds.management.benchmarks.energy",
    "functions": "builds.management.benchmarks.functions",
    "job-list": "builds.management.benchmarks.job_list",
    "network": "builds.management.benchmarks.network",
    "packet": "builds.management.benchmarks.packet",
    "sizing": "builds.management.benchmarks.sizing",
    "table": "builds.management.benchmarks.table",
}


def benchmark_named(name: str) -> Benchmark:
    """Return a benchmark's function. Raises KeyError."""
    measure: Benchmark = import_module(BENCHMARKS[name]).measure
    return measure
