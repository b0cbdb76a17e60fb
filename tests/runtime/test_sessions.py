"""A database that goes away while a session is kept is told apart from a session that is gone."""

from collections.abc import Iterator
from contextlib import closing

import pytest
from django.contrib.sessions.backends.base import UpdateError
from django.db import InterfaceError, OperationalError, connection

from config.sessions import SessionStore

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def session() -> Iterator[SessionStore]:
    """A session that is kept."""
    made = SessionStore()
    made.create()
    yield made
    connection.close()  # a broken one is not for the next test


def test_a_lost_database_is_no_lost_session(session: SessionStore) -> None:
    with closing(connection.copy()) as other, other.cursor() as cursor:
        cursor.execute("set role none")  # only the owner may end a connection
        cursor.execute("select pg_terminate_backend(%s, 5000)", [connection.connection.info.backend_pid])

    with pytest.raises((OperationalError, InterfaceError)):
        session.save()


def test_a_session_that_is_gone_is_said_to_be(session: SessionStore) -> None:
    SessionStore(session.session_key).delete()

    with pytest.raises(UpdateError):
        session.save()


def test_a_session_past_its_age_holds_nothing(session: SessionStore) -> None:
    session["room"] = "stores"
    session.set_expiry(-1)
    session.save()

    again = SessionStore(session.session_key)

    assert again.get("room") is None
    assert again.session_key is None
