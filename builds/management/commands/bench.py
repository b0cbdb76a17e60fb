"""`bench [NAME …]`: speed figures beside their peers, measured in one run; all of them are also written to a page."""

import gc
import logging
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.management.benchmarks import BENCHMARKS, benchmark_named
from builds.management.benchmarks.page import Measured, benchmarks_page, this_machine
from builds.management.generated_pages import DOCS

PAGE = Path("reference/benchmarks.md")


class Command(BaseCommand):
    """Measures and prints; without a name also writes the page. Ends with 1 where a figure does not keep its limit."""

    help = "Measure speed beside peers in the same run; without a name write docs/reference/benchmarks.md."

    def add_arguments(self, parser: CommandParser) -> None:
        """Names of benchmarks; none means all."""
        parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(BENCHMARKS))
        parser.add_argument("--docs", type=Path, default=DOCS, help="folder of the docs that the page is written into")

    def handle(self, *args: Any, **options: Any) -> None:
        """Measure each named benchmark."""
        logging.getLogger("config.middleware").setLevel(logging.WARNING)  # a line for each edit would drown the figures
        unknown = [name for name in options["names"] if name not in BENCHMARKS]
        if unknown:
            raise CommandError(f"There is no benchmark {unknown[0]}. There are: {', '.join(BENCHMARKS)}.")
        measured = [self._measure(name) for name in options["names"] or BENCHMARKS]
        if not options["names"]:
            page = options["docs"] / PAGE
            page.write_text(benchmarks_page(measured, this_machine()), encoding="utf-8")
            self.stdout.write(f"{PAGE} written")
        if not all(figure.keeps for benchmark in measured for figure in benchmark.figures):
            sys.exit(1)

    def _measure(self, name: str) -> Measured:
        said: list[str] = []

        def say(words: str) -> None:
            said.append(words)
            self.stdout.write(f"  … {words}")

        self.stdout.write(f"{name}:")
        gc.collect()
        gc.freeze()  # as a process that serves pages does with what it has loaded
        figures = benchmark_named(name)(say)
        for figure in figures:
            self.stdout.write(f"  {'keeps' if figure.keeps else 'BREAKS'}  {figure.words}")
        return Measured(name=name, said=tuple(said), figures=tuple(figures))
