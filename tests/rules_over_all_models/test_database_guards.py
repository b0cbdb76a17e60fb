"""Every table has a guard of its kind, and the guards hold against the owner and the application's role alike."""

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction

from builds.models import Bay, HistoryEntry
from config.database.rules import database_rights_sql
from config.database.tables import APPEND_ONLY, DERIVED, FRAMEWORK, HISTORY
from inventory.models import StockBalance
from tests.factories.inventory import make_part

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


# --- what the application's own role could try ------------------------------------------------------


def in_own_table(columns: str, function: str, insert: str) -> None:
    """Hang a guard's function on a table of one's own and let it run, as the application signs in."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"create temp table builds_build ({columns})")
        cursor.execute(
            f"create trigger own after insert on pg_temp.builds_build for each row execute function public.{function}()"
        )
        cursor.execute(f"insert into pg_temp.builds_build values ({insert})")


def test_history_cannot_be_written_through_a_table_of_ones_own() -> None:
    before = HistoryEntry.objects.count()

    with pytest.raises(DatabaseError):
        in_own_table("id int, stage text", "baywright_write_history", "1, 'forged'")

    assert HistoryEntry.objects.count() == before


def test_stock_cannot_be_moved_through_a_table_of_ones_own() -> None:
    part = make_part()

    with pytest.raises(DatabaseError):
        in_own_table(
            "part_id bigint, on_hand_change numeric, reserved_change numeric",
            "baywright_move_stock",
            f"{part.pk}, 9, 0",
        )

    assert not StockBalance.objects.filter(part=part, on_hand__gt=0).exists()


OWN_TABLE = {
    "history": ("id int", "baywright_write_history", "1"),
    "stock": ("part_id bigint, on_hand_change numeric, reserved_change numeric", "baywright_move_stock", "1, 9, 0"),
}


@pytest.mark.parametrize("case", OWN_TABLE.values(), ids=OWN_TABLE)
def test_function_of_a_guard_refuses_another_table_whoever_hangs_it_there(case: tuple[str, str, str]) -> None:
    with connection.cursor() as cursor:
        cursor.execute("set local role none")

    with pytest.raises(DatabaseError, match="alone"):
        in_own_table(*case)


def test_application_may_execute_no_function_that_runs_as_the_owner() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "select p.proname from pg_proc p where p.pronamespace = 'public'::regnamespace and p.prosecdef"
            " and has_function_privilege('baywright_app', p.oid, 'execute')"
        )
        assert cursor.fetchall() == []


def test_application_may_make_no_table_once_the_rules_are_on() -> None:
    with connection.cursor() as cursor:
        cursor.execute("set local role none")
        cursor.execute(database_rights_sql(role="baywright_app"))
        cursor.execute(
            "select has_database_privilege('baywright_app', current_database(), 'temporary'),"
            " has_schema_privilege('baywright_app', 'public', 'create')"
        )
        assert cursor.fetchone() == (False, False)


def test_every_function_that_runs_as_the_owner_has_its_search_path_set() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "select p.proname from pg_proc p where p.pronamespace = 'public'::regnamespace and p.prosecdef"
            " and not coalesce(p.proconfig @> array['search_path=public, pg_temp'], false)"
        )
        assert cursor.fetchall() == []
