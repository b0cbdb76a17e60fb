"""Whose name stands in the history: set for the transaction, read by the triggers."""

from django.db import connection

from builds.models import Person

__all__ = ["act_as"]


def act_as(by: Person | None) -> None:
    """Let the history of this transaction name ``by``; call inside an atomic block."""
    with connection.cursor() as cursor:
        cursor.execute("select set_config('baywright.actor', %s, true)", [by.username if by else ""])
