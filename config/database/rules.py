"""
Put the guards of :mod:`config.database.tables` on the tables, and give the application's role its rights.

Runs after every ``migrate`` as the owner. The application signs in as another role, which owns nothing: it can neither
edit history nor switch a trigger off.
"""

import hashlib
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from config.database.tables import APPEND_ONLY, DERIVED, HISTORY

__all__ = ["apply_database_rules", "database_rights_sql", "rules_sql"]

_FUNCTIONS = Path(__file__).with_name("functions.sql")
_HOLDS = Path(__file__).with_name("holds.sql")
_MATCHES = Path(__file__).with_name("matches.sql")
_JOB_LIST = Path(__file__).with_name("job_list.sql")


def apply_database_rules(*, using: str = "default", **_: Any) -> None:
    """Apply the rules to the database unless the very same ones are on it already."""
    connection = connections[using]
    if not set(HISTORY + APPEND_ONLY + DERIVED) <= set(connection.introspection.table_names()):
        return  # migrated only in part, as a test of one migration does
    sql = rules_sql(role=settings.DATABASE_APP_ROLE)
    digest = hashlib.sha256(sql.encode()).hexdigest()
    with connection.cursor() as cursor:
        if _applied_digest(connection) != digest:
            cursor.execute(sql)
            cursor.execute(f"comment on function baywright_write_history() is 'rules {digest}'")
        cursor.execute(database_rights_sql(role=settings.DATABASE_APP_ROLE))


def rules_sql(*, role: str) -> str:
    """Return the whole of it as one script: functions, triggers, rights of ``role``."""
    parts = [_FUNCTIONS.read_text(), _HOLDS.read_text()]
    parts += [
        _trigger("history", table, "after insert or update or delete", "baywright_write_history") for table in HISTORY
    ]
    parts += [
        _trigger("append_only", table, "before update or delete", "baywright_refuse_change") for table in APPEND_ONLY
    ]
    parts += [
        _trigger("balance", "inventory_stockentry", "after insert", "baywright_move_stock"),
        _trigger("four_eyes", "builds_holdsignature", "before insert", "baywright_guard_hold_signature"),
        _trigger("four_eyes", "builds_tick", "before insert", "baywright_guard_hand_in_step"),
        _trigger("four_eyes", "builds_timeentry", "before insert or update", "baywright_guard_hand_in_step"),
        _trigger(
            "covers", "builds_checkliststep_covers", "before insert or update or delete", "baywright_guard_covers"
        ),
        _trigger("who_and_what", "builds_timeentry", "before update or delete", "baywright_guard_time_entry"),
        _trigger("step", "builds_checkliststep", "before insert or update", "baywright_guard_step"),
        _trigger("screens", "builds_build", "after insert or update of design_version", "baywright_tell_screens"),
        _MATCHES.read_text(),
        *(_statement_trigger(table, event, function) for table, event, function in _MATCH_TRIGGERS),
        "select baywright_mark_matches((select array_agg(id) from builds_build));",
        _JOB_LIST.read_text(),
        _rights(role),
    ]
    return "\n".join(parts)


def _trigger(name: str, table: str, when: str, function: str) -> str:
    return f"create or replace trigger baywright_{name} {when} on {table} for each row execute function {function}();"


# What the matches of a build follow from; one statement marks each build it touches once.
_MATCH_TRIGGERS = (
    ("builds_build", "insert", "baywright_match_new_builds"),
    *(
        (table, event, "baywright_match_rows")
        for table in ("builds_partsbillline", "builds_customergear")
        for event in ("insert", "update", "delete")
    ),
    ("builds_checkin", "insert", "baywright_match_vehicles"),
    ("inventory_stockentry", "insert", "baywright_match_jobs"),
)


def _statement_trigger(table: str, event: str, function: str) -> str:
    rows = "old" if event == "delete" else "new"
    return (
        f"create or replace trigger baywright_match_{event} after {event} on {table} "
        f"referencing {rows} table as changed for each statement execute function {function}();"
    )


def _rights(role: str) -> str:
    """Rights of the application: read all, write all but history and balances, never change what is append-only."""
    closed = ", ".join(DERIVED)
    fixed = ", ".join(APPEND_ONLY)
    # No word of this comes from outside: tables are listed beside it, the role is a setting.
    return f"""
do $$ begin
    if not exists (select from pg_roles where rolname = '{role}') then
        create role {role} nologin;
    end if;
end $$;
grant usage on schema public to {role};
revoke create on schema public from public, {role};
grant select, insert, update, delete on all tables in schema public to {role};
grant usage, select on all sequences in schema public to {role};
revoke insert, update, delete, truncate, trigger, references on {closed} from {role};
revoke update, delete, truncate on {fixed} from {role};
-- A trigger needs no right of whoever sets it off. Whoever may execute its function could hang it on a table of their own.
do $$ declare name regprocedure; begin
    for name in select p.oid::regprocedure from pg_proc p
        where p.pronamespace = 'public'::regnamespace and starts_with(p.proname, 'baywright_') and p.prosecdef
    loop
        execute format('revoke execute on function %s from public, {role}', name);
    end loop;
end $$;
"""  # noqa: S608 - names of our own tables and role, nothing typed by anyone


def database_rights_sql(*, role: str) -> str:
    """
    Return what takes from the application the right to make tables of its own.

    It belongs to the database, which neither a copy nor a restored dump brings along. Where another role owns the database
    it has no effect; the functions then look at the table themselves.
    """
    return f"""
do $$ begin
    execute format('revoke temporary on database %I from public, {role}', current_database());
exception when insufficient_privilege then null;
end $$;
"""


def _applied_digest(connection: BaseDatabaseWrapper) -> str:
    with connection.cursor() as cursor:
        cursor.execute(
            "select obj_description(p.oid) from pg_proc p join pg_namespace n on n.oid = p.pronamespace"
            " where p.proname = 'baywright_write_history' and n.nspname = 'public'"
        )
        row = cursor.fetchone()
    return str(row[0]).removeprefix("rules ") if row and row[0] else ""
