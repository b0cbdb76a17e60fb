"""
Who asks: sessions in the database and the person behind one, each read by one plain query.

Every page reads both first, so they are asked for without building a query anew each time.

Django answers 400 ("deleted before the request completed") whenever a session cannot be written, even when it is the
database that went away. The person behind the page did nothing wrong and should be told to try again.
"""

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.sessions.backends import db
from django.contrib.sessions.backends.base import UpdateError
from django.db import InterfaceError, OperationalError, connection
from django.utils import timezone

from builds.models import Person

__all__ = ["PersonBackend", "SessionStore"]

_READ = "select session_data from django_session where session_key = %s and expire_date > %s"
_PERSON = "select * from builds_person where id = %s"


class PersonBackend(ModelBackend):
    """Django's own check of a name and a password; the person of a session comes from a plain query."""

    def get_user(self, user_id: int) -> Person | None:
        """Return the person of a session, or None where they are gone or may not sign in any more."""
        for person in Person.objects.raw(_PERSON, [user_id]):
            return person if self.user_can_authenticate(person) else None
        return None


class SessionStore(db.SessionStore):
    """Django's own store of sessions in the database."""

    def load(self) -> dict[str, Any]:
        """Return what the session holds; nothing, and no session any more, where it is gone or past its age."""
        with connection.cursor() as cursor:
            cursor.execute(_READ, [self.session_key, timezone.now()])
            found = cursor.fetchone()
        if found is None:
            self._session_key = None
            return {}
        kept: dict[str, Any] = self.decode(found[0])
        return kept

    def save(self, must_create: bool = False) -> None:
        """
        Keep the session.

        Raises
        ------
        UpdateError
            If the session is gone: signed out elsewhere, or past its age.
        OperationalError, InterfaceError
            If the database does not answer.
        """
        try:
            super().save(must_create)
        except UpdateError as error:
            if isinstance(error.__context__, OperationalError | InterfaceError):
                raise error.__context__ from None
            raise
