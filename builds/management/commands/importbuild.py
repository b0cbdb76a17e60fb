"""`importbuild FILE`: open a build with the design of a document."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from builds.errors import BuildError, DocumentRefused
from builds.management.assessment_report import bytes_of, reason_not_read
from builds.models import Person, Role
from builds.services.build_documents import import_build


class Command(BaseCommand):
    """Opens a build from a document; writes nothing where there is a fault, and then names each by its pointer."""

    help = "Open a build with the design of a build document."

    def add_arguments(self, parser: CommandParser) -> None:
        """FILE, the number it gets here, and whose name stands in the history."""
        parser.add_argument("file", metavar="FILE", help="a build document; - reads the standard input")
        parser.add_argument("--number", help="number of the build here; the document's own if left out")
        parser.add_argument("--by", metavar="SIGN-IN", help="who opens it; the first manager if left out")

    def handle(self, *args: Any, **options: Any) -> None:
        """Import and say what came of it."""
        try:
            text = bytes_of(options["file"])
        except OSError as error:
            raise CommandError(f"{options['file']}: {reason_not_read(error)}", returncode=2) from error
        try:
            build = import_build(text=text, by=_person(options["by"]), at=timezone.now(), number=options["number"])
        except DocumentRefused as error:
            lines = (f"{pointer or 'document'}: {words}" for pointer, words in error.fields.items())
            raise CommandError("\n".join(lines), returncode=2) from error
        except BuildError as error:
            raise CommandError(error.message) from error
        said = f"blocking {build.blocking_count}, caution {build.caution_count}, note {build.note_count}"
        self.stdout.write(f"Build {build.number}, {build.title}: opened. Findings: {said}.")


def _person(sign_in: str | None) -> Person:
    people = Person.objects.filter(is_active=True)
    if sign_in:
        found = people.filter(username=sign_in).first()
        if found is None:
            raise CommandError(f"Nobody signs in as {sign_in}.")
        return found
    manager = people.filter(role=Role.MANAGER).order_by("pk").first()
    if manager is None:
        raise CommandError("There is no manager in whose name to open it; say --by SIGN-IN.")
    return manager
