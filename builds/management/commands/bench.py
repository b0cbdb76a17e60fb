"""`bench [NAME …]`: speed figures beside their peers, measured in one run."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.management.benchmarks import BENCHMARKS, benchmark_named


class Command(BaseCommand):
    """Measures and prints; ends with 1 where a figure does not keep its limit."""

    help = "Measure speed beside peers in the same run."

    def add_arguments(self, parser: CommandParser) -> None:
        """Names of benchmarks; none means all."""
        parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(BENCHMARKS))

    def handle(self, *args: Any, **options: Any) -> None:
        """Measure each named benchmark."""
        unknown = [name for name in options["names"] if name not in BENCHMARKS]
        if unknown:
            raise CommandError(f"There is no benchmark {unknown[0]}. There are: {', '.join(BENCHMARKS)}.")
        kept = True
        for name in options["names"] or BENCHMARKS:
            self.stdout.write(f"{name}:")
            for figure in benchmark_named(name)(lambda words: self.stdout.write(f"  … {words}")):
                kept = kept and figure.keeps
                self.stdout.write(f"  {'keeps' if figure.keeps else 'BREAKS'}  {figure.words}")
        if not kept:
            sys.exit(1)
