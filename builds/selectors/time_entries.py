"""Clock entries as a person reads them."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from builds.models import Person, TimeEntry

__all__ = ["entries_since", "find_entry", "hours_of"]


def entries_since(person: Person, since: datetime) -> Iterable[TimeEntry]:
    """Return the entries of a person that began at ``since`` or later, or are still open; the newest first."""
    entries = TimeEntry.objects.filter(person=person).select_related("build", "step", "corrected_by")
    return entries.filter(started_at__gte=since).union(entries.filter(ended_at__isnull=True)).order_by("-started_at")


def find_entry(pk: int) -> TimeEntry | None:
    """Return one entry, or nothing."""
    return TimeEntry.objects.select_related("build", "step", "person", "corrected_by").filter(pk=pk).first()


def hours_of(entry: TimeEntry, now: datetime) -> float:
    """Return how long an entry lasted, an open one until ``now``."""
    return max((entry.ended_at or now) - entry.started_at, timedelta()) / timedelta(hours=1)
