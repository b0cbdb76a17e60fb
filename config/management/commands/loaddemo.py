"""Load the demo shop."""

import json
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from config.demo.people import DEMO_PASSWORD, SIGN_INS
from config.demo.shop import load_demo_shop


class Command(BaseCommand):
    """``loaddemo``: put the demo shop in where it is not, and print its sign-ins as one line of JSON."""

    help = "Load the demo shop (invented) and print its sign-ins."

    def handle(self, *args: Any, **options: Any) -> None:
        load_demo_shop(at=timezone.now())
        sign_ins = [{"role": who.role.label, "username": who.username, "password": DEMO_PASSWORD} for who in SIGN_INS]
        self.stdout.write(json.dumps(sign_ins))
