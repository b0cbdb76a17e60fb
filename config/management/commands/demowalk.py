"""Take one build of the demo shop from the order to the rendered packet."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from builds.errors import BuildError
from config.demo.people import demo_people
from config.demo.walk import Walk, WalkStopped


class Command(BaseCommand):
    """``demowalk``: walk one build through the services and the worker, telling each stop."""

    help = "Take one build of the demo shop from order to rendered packet."

    def handle(self, *args: Any, **options: Any) -> None:
        walk = Walk(people=demo_people(timezone.now()), say=self._say)
        try:
            path = walk.run()
        except (BuildError, WalkStopped) as error:
            raise CommandError(str(error)) from error
        self._say(f"The packet lies at {path}")

    def _say(self, words: str) -> None:
        self.stdout.write(f"  {words}")
        self.stdout.flush()
