"""What a PostgreSQL server needs before the tables: a version, a database, a role, extensions."""

from __future__ import annotations

from typing import Any, LiteralString

import psycopg
from psycopg import sql

from config.embedded.plain_errors import PlainError

LEAST_VERSION = 15
EXTENSIONS = (
    "btree_gist",  # one constraint compares a bay for equality and a time for overlap
    "pg_trgm",  # finds a part by a piece of its number
)


def require_supported_version(version_number: int) -> None:
    """
    Raise PlainError when the server is older than Baywright can use.

    `version_number` is PostgreSQL's own figure: 150004 is 15.4.
    """
    major, minor = divmod(version_number, 10000)
    if major < LEAST_VERSION:
        raise PlainError(
            f"The database is PostgreSQL {major}.{minor}; Baywright needs {LEAST_VERSION} or later. "
            "Point DATABASE_URL at a newer server."
        )


def ensure_database(server_url: str, *, name: str) -> None:
    """Create the database `name`, signed in by `server_url` to another one; nothing if it exists."""
    with psycopg.connect(server_url, autocommit=True) as connection:
        known = connection.execute("select 1 from pg_database where datname = %s", [name])
        if not known.fetchone():
            connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))


def ensure_role_and_extensions(connection: psycopg.Connection[Any], *, role: str, password: str | None) -> None:
    """
    Create the application's role or give it this password, and create the extensions.

    On a served database its administrator may have made both already; then the owner needs no right
    to make them. Without a password the role is made, but cannot sign in.
    """
    require_supported_version(connection.info.server_version)
    _ensure_role(connection, role=role, password=password)
    for extension in EXTENSIONS:
        statement = sql.SQL("CREATE EXTENSION IF NOT EXISTS {}")
        connection.execute(statement.format(sql.Identifier(extension)))


def _ensure_role(connection: psycopg.Connection[Any], *, role: str, password: str | None) -> None:
    known = connection.execute("select 1 from pg_roles where rolname = %s", [role]).fetchone()
    if known and (password is None or not _may_create_roles(connection)):
        return
    verb: LiteralString = "ALTER ROLE {} " if known else "CREATE ROLE {} "
    rights = sql.SQL(verb + "NOSUPERUSER NOCREATEDB NOCREATEROLE ").format(sql.Identifier(role))
    if password is None:
        connection.execute(rights + sql.SQL("NOLOGIN"))
    else:
        connection.execute(rights + sql.SQL("LOGIN PASSWORD {}").format(sql.Literal(password)))


def _may_create_roles(connection: psycopg.Connection[Any]) -> bool:
    row = connection.execute("select rolsuper or rolcreaterole from pg_roles where rolname = current_user").fetchone()
    return bool(row and row[0])
