"""Every table has a guard of its kind, and the guards hold against the owner and the application's role alike."""

import pytest
from django.apps import apps
from django.db import connection

from builds.models import Bay, HistoryEntry
from config.database.tables import APPEND_ONLY, DERIVED, FRAMEWORK, HISTORY

pytestmark = pytest.mark.django_db


def all_tables() -> set[str]:
    """Return the tables of every model and of every many-to-many between them."""
    return {model._meta.db_table for model in apps.get_models(include_auto_created=True) if model._meta.managed}


def test_every_table_is_in_exactly_one_list_of_guards() -> None:
    listed = HISTORY + APPEND_ONLY + DERIVED

    assert len(listed) == len(set(listed))
    assert {table for table in all_tables() if not table.startswith(FRAMEWORK)} == set(listed)


@pytest.mark.parametrize("table", HISTORY)
def test_history_trigger_is_on_the_table(table: str) -> None:
    assert "baywright_history" in triggers_of(table)


@pytest.mark.parametrize("table", APPEND_ONLY)
def test_append_only_trigger_is_on_the_table(table: str) -> None:
    assert "baywright_append_only" in triggers_of(table)


def triggers_of(table: str) -> set[str]:
    with connection.cursor() as cursor:
        cursor.execute(
            "select tgname from pg_trigger where tgrelid = %s::regclass and tgenabled = 'O' and not tgisinternal",
            [table],
        )
        return {row[0] for row in cursor.fetchall()}


def test_bulk_writes_are_in_history_too() -> None:
    Bay.objects.bulk_create([Bay(name=f"Bay {number}", line=number) for number in range(1, 4)])
    Bay.objects.update(features="hoist")

    entries = HistoryEntry.objects.filter(table_name="builds_bay")

    assert [entry.operation for entry in entries] == ["insert"] * 3 + ["update"] * 3
    assert entries[3].before is not None and entries[3].before["features"] == ""
    assert entries[3].after is not None and entries[3].after["features"] == "hoist"
