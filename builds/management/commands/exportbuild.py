"""`exportbuild NUMBER`: the canonical document of a build's working design."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.engineering.document import canonical_text
from builds.models import Build
from builds.selectors.engineering_inputs import design_of


class Command(BaseCommand):
    """Prints the working design of a build as its canonical document."""

    help = "Print the canonical document of a build's working design."

    def add_arguments(self, parser: CommandParser) -> None:
        """NUMBER of the build."""
        parser.add_argument("number", metavar="NUMBER", help="number of the build")

    def handle(self, *args: Any, **options: Any) -> None:
        """Read the rows and print the text."""
        build = Build.objects.filter(number=options["number"]).first()
        if build is None:
            raise CommandError(f"There is no build {options['number']}.")
        self.stdout.write(canonical_text(design_of(build)))
