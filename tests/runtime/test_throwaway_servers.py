"""The servers that the test run starts for itself."""

import os

import pytest
from celery import Celery
from django.db import connection, connections

from config.env import read_postgresql_address
from config.testing.embedded import app_role_connection_settings, is_of_the_core


@pytest.mark.django_db
def test_tests_run_on_the_database_that_the_run_was_given() -> None:
    """A plugin that comes too late leaves the settings pointing somewhere else, and nothing says so."""
    given = read_postgresql_address(os.environ["DATABASE_URL"])
    with connection.cursor() as cursor:
        cursor.execute("select current_database(), session_user, inet_server_addr() is null")
        database, role, by_socket = cursor.fetchone()

    assert database.startswith(f"test_{given['NAME']}")
    assert role == given["USER"]
    assert by_socket == given["HOST"].startswith("/")


@pytest.mark.django_db
def test_tests_have_the_applications_rights_and_no_more() -> None:
    with connection.cursor() as cursor:
        cursor.execute("select current_user, has_table_privilege('builds_historyentry', 'insert')")
        assert cursor.fetchone() == ("baywright_app", False)


@pytest.mark.owner
@pytest.mark.django_db
def test_marked_test_has_the_owners_rights() -> None:
    with connection.cursor() as cursor:
        cursor.execute("select current_user = session_user")
        assert cursor.fetchone() == (True,)


@pytest.mark.django_db(transaction=True)
def test_app_role_can_sign_in_and_is_no_superuser() -> None:
    fresh = connections.create_connection("default")
    fresh.settings_dict = app_role_connection_settings(connection.settings_dict)

    with fresh.cursor() as cursor:
        cursor.execute("select current_user, rolsuper from pg_roles where rolname = current_user")
        assert cursor.fetchone() == ("baywright_app", False)

    fresh.close()


def test_broker_takes_a_message(settings: object) -> None:
    app = Celery(broker=settings.CELERY_BROKER_URL)  # type: ignore[attr-defined]

    with app.connection() as link, link.SimpleQueue("test-queue") as queue:
        queue.put({"figure": 7})
        assert queue.get(timeout=5).payload == {"figure": 7}


@pytest.mark.parametrize(
    ("args", "without"),
    [
        (["tests/engineering"], True),
        (["-n", "2", "-q", "tests/engineering/test_vin.py::test_x", "tests/cases"], True),
        (["tests/engineering", "tests/builds"], False),
        (["tests"], False),
        (["-q"], False),
    ],
)
def test_servers_are_left_out_where_only_the_core_is_asked_for(args: list[str], *, without: bool) -> None:
    assert is_of_the_core(args) is without
