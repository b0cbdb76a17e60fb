"""Clock entries as a person reads them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from builds.models import Person, TimeEntry

__all__ = ["PersonOnClock", "entries_since", "find_entry", "hours_of", "people_since"]


def entries_since(person: Person, since: datetime) -> Iterable[TimeEntry]:
    """Return the entries of a person that began at ``since`` or later, or are still open; the newest first."""
    entries = TimeEntry.objects.filter(person=person).select_related("build", "step", "corrected_by")
    return entries.filter(started_at__gte=since).union(entries.filter(ended_at__isnull=True)).order_by("-started_at")


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonOnClock:
    """Someone with entries, and the one that is open now, if any."""

    person: Person
    running: TimeEntry | None


def people_since(since: datetime) -> tuple[PersonOnClock, ...]:
    """Return everyone with an entry since then, those on the clock first; two questions."""
    open_entries = TimeEntry.objects.filter(ended_at__isnull=True).select_related("build", "step", "person")
    running = {entry.person_id: entry for entry in open_entries}
    lately = TimeEntry.objects.filter(started_at__gte=since).order_by().values("person")
    people = Person.objects.filter(Q(pk__in=running) | Q(pk__in=lately)).order_by("short_name", "username")
    found = [PersonOnClock(person=person, running=running.get(person.pk)) for person in people]
    return tuple(sorted(found, key=lambda item: item.running is None))


def find_entry(pk: int) -> TimeEntry | None:
    """Return one entry, or nothing."""
    return TimeEntry.objects.select_related("build", "step", "person", "corrected_by").filter(pk=pk).first()


def hours_of(entry: TimeEntry, now: datetime) -> float:
    """Return how long an entry lasted, an open one until ``now``."""
    return max((entry.ended_at or now) - entry.started_at, timedelta()) / timedelta(hours=1)
