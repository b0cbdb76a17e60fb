"""
Pytest plugin: a real PostgreSQL and a real broker for the run, thrown away at its end.

It is loaded with `-p`, before pytest-django reads the settings; from a conftest it would be too
late, and the tests would silently run on whatever database the settings name. The controller starts
both servers once; the workers of pytest-xdist inherit the addresses through the environment. Where
DATABASE_URL or BROKER_URL are set already, those servers are used.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from config.embedded.broker import Broker
from config.embedded.folders import FolderLock
from config.embedded.plain_errors import PlainError
from config.embedded.postgres import APP_ROLE, OWNER_ROLE, Cluster
from config.testing.tables import TEMPLATE_DATABASE, copy_cluster

OWNER_ROLE_PASSWORD = "owner"  # noqa: S105  (of a database that lives for one run)
TEMPLATE_VARIABLE = "BAYWRIGHT_TEST_TEMPLATE"
FOLDER_PREFIX = "baywright-test-"
WITHOUT_SERVERS = frozenset({"--help", "-h", "--version", "-V", "--markers", "--fixtures"})
OF_THE_CORE = ("tests/engineering", "tests/peers", "tests/cases")  # what has no database and no broker
NOWHERE = {"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none", "BROKER_URL": "redis://127.0.0.1:1/0"}

_running: list[ThrowawayServers] = []


class ThrowawayServers:
    """The two servers of one test run and the folder they live in."""

    def __init__(self) -> None:
        remove_abandoned_folders()
        self.folder = Path(tempfile.mkdtemp(prefix=FOLDER_PREFIX))
        self.folder.chmod(0o711)
        self.lock = FolderLock(self.folder / "lock")
        self.lock.acquire()
        self.sockets = self.folder / "run"
        self.sockets.mkdir(mode=0o711)
        self.cluster: Cluster | None = None
        self.broker: Broker | None = None

    def start(self) -> None:
        """Start what the environment does not name, and put the addresses into it."""
        os.environ.setdefault("MEDIA_ROOT", str(self.folder / "media"))
        if os.environ.get("DATABASE_URL"):
            prepare_server(os.environ["DATABASE_URL"])
        else:
            self._start_cluster()
        if not os.environ.get("BROKER_URL"):
            self.broker = Broker(data=self.folder / "broker", sockets=self.sockets, keep=False)
            self.broker.start(log=self.folder / "broker.log")
            os.environ["BROKER_URL"] = self.broker.url

    def _start_cluster(self) -> None:
        cluster = Cluster(data=self.folder / "postgres", sockets=self.sockets, throwaway=True)
        log = self.folder / "postgres.log"
        self.cluster = cluster
        if copy_cluster(cluster.data, prepare=prepare_cluster, address=owner_url):
            os.environ[TEMPLATE_VARIABLE] = TEMPLATE_DATABASE
            cluster.start(log=log)
        else:
            shutil.rmtree(cluster.data, ignore_errors=True)
            cluster.make(owner_password=OWNER_ROLE_PASSWORD, log=log)
            cluster.start(log=log)
            prepare_cluster(cluster)
        os.environ["DATABASE_URL"] = owner_url(cluster, "baywright")

    def stop(self) -> None:
        """Stop both and remove every file."""
        if self.broker:
            self.broker.stop()
        if self.cluster:
            self.cluster.stop()
        self.lock.release()
        shutil.rmtree(self.folder, ignore_errors=True)


def prepare_cluster(cluster: Cluster) -> None:
    """Give a new cluster the application's role, and every database made in it the extensions."""
    from config.postgresql import ensure_database

    prepare_server(owner_url(cluster, "template1"))
    ensure_database(owner_url(cluster, "postgres"), name=TEMPLATE_DATABASE)


def owner_url(cluster: Cluster, database: str) -> str:
    """Return the owner's address of a database in the throw-away cluster."""
    return cluster.url(role=OWNER_ROLE, password=OWNER_ROLE_PASSWORD, database=database)


def remove_abandoned_folders() -> None:
    """Remove the folders of test runs that were killed: nobody holds their lock any more."""
    for folder in Path(tempfile.gettempdir()).glob(FOLDER_PREFIX + "*"):
        try:
            if not (folder / "lock").exists() or folder.stat().st_uid != os.geteuid():
                continue
            lock = FolderLock(folder / "lock")
            if lock.acquire():
                lock.release()
                shutil.rmtree(folder, ignore_errors=True)
        except (OSError, PlainError):
            continue


def prepare_server(address: str) -> None:
    """
    Make the application's role with a password the tests know.

    On a server that was there before the run, a role that exists keeps its password: name it in
    BAYWRIGHT_TEST_APP_PASSWORD.
    """
    import psycopg

    from config.postgresql import ensure_role_and_extensions

    with psycopg.connect(address, autocommit=True) as connection:
        known = connection.execute("select 1 from pg_roles where rolname = %s", [APP_ROLE])
        password = None if known.fetchone() else app_role_password()
        ensure_role_and_extensions(connection, role=APP_ROLE, password=password)


def app_role_password() -> str:
    """Return the password of the application's role in the test run's database."""
    return os.environ.get("BAYWRIGHT_TEST_APP_PASSWORD", "app")


def app_role_connection_settings(settings_dict: dict[str, object]) -> dict[str, object]:
    """Return a copy of Django's connection settings that signs in as the application's role."""
    return {**settings_dict, "USER": APP_ROLE, "PASSWORD": app_role_password()}


def _prepare_environment() -> None:
    os.environ.setdefault("SECRET_KEY", "the-test-run-signs-with-this-key-and-nobody-else-does")
    os.environ.setdefault("ALLOWED_HOSTS", "*")
    os.environ.setdefault("SERVE_STATIC", "no")


def is_of_the_core(args: list[str]) -> bool:
    """Tell whether everything that is asked for needs no server; where nothing is named, everything is."""
    root = Path(__file__).parents[2]
    named = [path for word in args if (path := Path(word.partition("::")[0]).resolve()).exists()]
    return bool(named) and all(any(path.is_relative_to(root / core) for core in OF_THE_CORE) for path in named)


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config, args: list[str]) -> Generator[None, None, None]:
    """Start the servers before any other plugin looks at the settings."""
    in_controller = "PYTEST_XDIST_WORKER" not in os.environ
    if in_controller and is_of_the_core(args):
        _prepare_environment()
        for name, address in NOWHERE.items():
            os.environ.setdefault(name, address)
    elif in_controller and not WITHOUT_SERVERS.intersection(args):
        _prepare_environment()
        _running.append(ThrowawayServers())
        try:
            _running[0].start()
        except PlainError as error:
            raise pytest.UsageError(str(error)) from error
    yield


@pytest.hookimpl(trylast=True)
def pytest_unconfigure() -> None:
    """Stop the servers, in the controller only: its workers are done by now."""
    while _running:
        _running.pop().stop()


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(fixturedef: pytest.FixtureDef[Any]) -> Generator[None, Any, Any]:
    """Hand the tests their database as the application sees it, once its owner has made it."""
    if fixturedef.argname == "django_db_setup" and TEMPLATE_VARIABLE in os.environ:
        from django.db import connections

        connections["default"].settings_dict["TEST"]["TEMPLATE"] = os.environ[TEMPLATE_VARIABLE]
    result = yield
    if fixturedef.argname == "django_db_setup":
        work_as_the_application()
    return result


def work_as_the_application() -> None:
    """
    Give every connection the rights of the application's role.

    The pages and the worker have no others: a service that needs more would pass as the owner and fail
    in the shop. Emptying all tables after a test that commits is the owner's work.
    """
    from django.db import connections
    from django.db.backends.postgresql.operations import DatabaseOperations
    from django.db.backends.signals import connection_created

    connections.close_all()
    connection_created.connect(_take_the_applications_role, dispatch_uid="tests-as-the-application")
    flush = DatabaseOperations.execute_sql_flush

    def flush_as_owner(operations: DatabaseOperations, statements: list[str]) -> None:
        with as_owner(operations.connection):
            flush(operations, statements)

    DatabaseOperations.execute_sql_flush = flush_as_owner  # type: ignore[method-assign,assignment]


@pytest.fixture(autouse=True)
def _rights_of_the_owner(request: pytest.FixtureRequest) -> Iterator[None]:
    """For a test marked `owner`: a guard that stops even the owner is tried as the owner."""
    if request.node.get_closest_marker("owner") is None:
        yield
        return
    request.getfixturevalue("transactional_db" if _commits(request) else "db")
    from django.db import connection

    with as_owner(connection):
        yield


def _commits(request: pytest.FixtureRequest) -> bool:
    marker = request.node.get_closest_marker("django_db")
    return marker is not None and bool(marker.kwargs.get("transaction"))


@contextmanager
def as_owner(connection: Any) -> Iterator[None]:
    """Have the owner's rights on `connection` for a while."""
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE")
    try:
        yield
    finally:
        _take_the_applications_role(connection=connection)


def _take_the_applications_role(*, connection: Any, **_: Any) -> None:
    if connection.alias == "default":  # not the one that makes and drops the test database itself
        with connection.cursor() as cursor:
            cursor.execute(f"SET ROLE {APP_ROLE}")
