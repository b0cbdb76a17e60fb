"""A database to measure on that is as before afterwards: everything happens in one transaction that is rolled back."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from django.test import Client

from builds.models import Person, Role

__all__ = ["rolled_back", "signed_in"]


class _Enough(Exception):
    """Ends the transaction."""


@contextmanager
def rolled_back() -> Iterator[None]:
    """Take back whatever is written inside."""
    try:
        with transaction.atomic():
            yield
            raise _Enough
    except _Enough:
        pass


def signed_in() -> tuple[Client, Person]:
    """Return a client of a manager made for the measurement."""
    person = Person.objects.create(username="bench-manager", role=Role.MANAGER, short_name="bench")
    client = Client(headers={"host": "localhost"})
    client.force_login(person, backend="config.sessions.PersonBackend")
    return client, person
