"""Make the shop and its first manager in an empty database."""

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from builds.errors import BuildError
from builds.services.people import add_first_manager
from builds.services.shop import add_bay, open_shop


class Command(BaseCommand):
    """``openshop --name … --time-zone … --manager …``; the password is asked, or read from standard input."""

    help = "Make the shop, its bays and its first manager in an empty database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--name", required=True, help="the shop's name as printed")
        parser.add_argument("--time-zone", required=True, help="like America/New_York")
        parser.add_argument("--manager", required=True, help="the manager's sign-in name")
        parser.add_argument("--bays", type=int, default=4, help="how many bays for one vehicle each")

    def handle(self, *args: Any, **options: Any) -> None:
        password = (
            getpass.getpass("Password of the manager: ") if sys.stdin.isatty() else sys.stdin.readline().rstrip("\n")
        )
        now = timezone.now()
        try:
            with transaction.atomic():
                manager = add_first_manager(
                    username=options["manager"], short_name=options["manager"], password=password, at=now
                )
                shop = open_shop(name=options["name"], time_zone=options["time_zone"], at=now)
                for number in range(1, options["bays"] + 1):
                    add_bay(name=f"Bay {number}", features="", places=1, by=manager)
        except BuildError as error:
            raise CommandError(error.message) from error
        self.stdout.write(f"{shop} is open. Sign in as {manager.username}.")
