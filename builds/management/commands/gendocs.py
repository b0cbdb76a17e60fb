"""`gendocs`: write the pages under docs that are made from the code, or say which are out of date."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.management.generated_pages import outdated_pages, write_pages


class Command(BaseCommand):
    """Writes the generated pages; with ``--check`` it changes nothing and fails where one is out of date."""

    help = "Write the generated pages under docs."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """``--check`` only looks."""
        parser.add_argument("--check", action="store_true", help="change nothing; fail where a page is out of date")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write, or look."""
        if not options["check"]:
            for name in write_pages():
                self.stdout.write(f"docs/{name} written")
            return
        outdated = sorted(outdated_pages())
        if outdated:
            raise CommandError("Out of date: " + ", ".join(f"docs/{name}" for name in outdated))
