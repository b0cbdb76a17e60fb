"""`migrate`, signed in as the owner of the tables where the environment names one."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.core.management.commands import migrate
from django.db import DatabaseError, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from config.embedded.plain_errors import PlainError
from config.env import read_postgresql_address
from config.postgresql import ensure_role_and_extensions


class Command(migrate.Command):
    """
    Prepares the server, then migrates.

    The pages and the worker sign in as a role that may neither alter tables nor rewrite history, so
    migrating needs another one: DATABASE_OWNER_URL, which only this command reads.
    """

    def handle(self, *args: Any, **options: Any) -> None:
        """Sign in as the owner, see that role and extensions exist, and migrate."""
        connection = connections[options["database"]]
        app_password = become_owner(connection)
        try:
            connection.ensure_connection()
            ensure_role_and_extensions(connection.connection, role=settings.DATABASE_APP_ROLE, password=app_password)
        except PlainError as error:
            raise CommandError(str(error)) from error
        except DatabaseError as error:
            raise CommandError(f"The database cannot be prepared: {error}") from error
        super().handle(*args, **options)


def become_owner(connection: BaseDatabaseWrapper) -> str | None:
    """
    Point `connection` at the owner where one is named.

    Returns the application role's password, which the application's own address holds, or None where
    that address signs in as somebody else.
    """
    before = connection.settings_dict
    app_password = before["PASSWORD"] if before["USER"] == settings.DATABASE_APP_ROLE else None
    if settings.DATABASE_OWNER_URL:
        connection.close()
        before.update(read_postgresql_address(settings.DATABASE_OWNER_URL))
    return app_password
