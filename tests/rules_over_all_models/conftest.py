"""One shop for a whole module of walks, made once; every test finds it as it was made."""

from collections.abc import Iterator

import pytest
from django.db import transaction
from pytest_django.plugin import DjangoDbBlocker

from tests.factories.two_builds import TwoBuilds, make_two_builds


@pytest.fixture(scope="module")
def shop(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[TwoBuilds]:
    """The shop, in a transaction around those of the module's tests, which carry the mark ``django_db``."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield make_two_builds()
        transaction.set_rollback(True)
