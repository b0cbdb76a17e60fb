"""The page of all benchmarks of one run: each figure beside its limit and its peers, and what machine measured it."""

import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version

from builds.management.benchmarks import Figure

__all__ = ["Machine", "Measured", "benchmarks_page", "this_machine"]

_HEAD = """# Benchmarks

Written by `python3 manage.py bench`, which measures everything in one run; never typed in by hand.
Ratios to a peer in the same run last longer than milliseconds: a slower machine slows both.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """What measured: enough to judge a figure by, nothing that names the machine."""

    cores: int
    python: str
    system: str
    libraries: tuple[tuple[str, str], ...]

    @property
    def words(self) -> str:
        """One sentence."""
        libraries = ", ".join(f"{name} {number}" for name, number in self.libraries)
        return f"Measured on {self.cores} cores, {self.system}, {self.python}, {libraries}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One benchmark: what it said of its subject while it ran, and its figures."""

    name: str
    said: tuple[str, ...]
    figures: tuple[Figure, ...]


def this_machine() -> Machine:
    """Return the machine this process runs on."""
    return Machine(
        cores=len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1,
        python=f"{platform.python_implementation()} {platform.python_version()}",
        system=f"{platform.system()} on {platform.machine()}",
        libraries=tuple((name, version(name)) for name in ("numpy", "scipy", "Django")),
    )


def benchmarks_page(measured: Sequence[Measured], machine: Machine) -> str:
    """
    Return the page.

    Parameters
    ----------
    measured : sequence of Measured
        Benchmarks in the order they ran.
    machine : Machine
        What measured them.

    Returns
    -------
    str
        Markdown with one table a benchmark; a figure that breaks its limit says so.
    """
    lines = [_HEAD, machine.words, ""]
    for benchmark in measured:
        lines += [f"## {benchmark.name}", ""]
        lines += [f"{_sentence(said)}" for said in benchmark.said]
        lines += [""] if benchmark.said else []
        lines += ["| what | measured | limit | |", "|---|---:|---|---|"]
        lines += [
            f"| {_cell(figure.name)} | {_number(figure.value)} {figure.unit}".rstrip()
            + f" | {_limit(figure)} | {_standing(figure)} |"
            for figure in benchmark.figures
        ]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _sentence(said: str) -> str:
    words = said.strip()
    return f"{words[:1].upper()}{words[1:]}{'' if words.endswith('.') else '.'}"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _number(value: float) -> str:
    """Three significant digits, thousands apart."""
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.3g}"


def _limit(figure: Figure) -> str:
    if figure.most is not None:
        return f"at most {_number(figure.most)} {figure.unit}".rstrip()
    if figure.least is not None:
        return f"at least {_number(figure.least)} {figure.unit}".rstrip()
    return ""


def _standing(figure: Figure) -> str:
    if figure.most is None and figure.least is None:
        return ""
    return "keeps" if figure.keeps else "**breaks**"
