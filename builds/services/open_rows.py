"""
Who has which row open: told to the screens that look at the build now, and kept nowhere.

A screen says so again every half minute while the row is open, so that one that came later hears of it too, and forgets what
was not said again.
"""

import json

from django.db import connection

from builds.models import Build, Person
from builds.permissions import Action, check_may
from builds.selectors.event_stream import CHANNEL
from builds.services.row_writes import family_named, row_named

__all__ = ["tell_open_row"]


def tell_open_row(*, build: Build, family: str, key: str, is_open: bool, by: Person) -> None:
    """Tell the other screens of a build that a row is open, or no longer. Raises NotHere where there is no such row."""
    check_may(by, Action.EDIT_DESIGN)
    row_named(build, family_named(family), key)
    news = {"build": build.number, "row": f"{family}:{key}", "by": by.short_name or by.username, "open": is_open}
    with connection.cursor() as cursor:
        cursor.execute("select pg_notify(%s, %s)", [CHANNEL, json.dumps(news)])
