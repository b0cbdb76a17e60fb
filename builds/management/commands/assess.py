"""`assess FILE`: what the core says of a build document, without a database."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from builds.management.assessment_report import assess_file


class Command(BaseCommand):
    """
    Prints the assessment of a build document as JSON.

    Ends with 0 without a blocking finding, 1 with one, 2 for a text that is not a build document; its faults go to the
    standard error, one a line.
    """

    help = "Assess a build document and print the assessment as JSON; needs no database."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """FILE, or - for the standard input."""
        parser.add_argument("file", metavar="FILE", help="a build document; - reads the standard input")

    def handle(self, *args: Any, **options: Any) -> None:
        """Assess and end with the status."""
        sys.exit(assess_file(options["file"]))
