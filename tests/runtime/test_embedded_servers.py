"""Database and broker as children: nothing outlives its parent, nothing committed is lost."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
import redis

from config.embedded.accounts import UNPRIVILEGED_UID, choose_account
from config.embedded.broker import Broker
from config.embedded.plain_errors import PlainError
from config.embedded.postgres import OWNER_ROLE, Cluster, postgres_program
from config.embedded.processes import await_group, processes_marked, processes_working_in, start_child, wait_until_gone
from tests.runtime.running import CHECKOUT, run_manage

HOLDER = """
import sys, time
from pathlib import Path
from config.embedded.broker import Broker
from config.embedded.postgres import Cluster
folder = Path(sys.argv[1])
cluster = Cluster(data=folder / "postgres", sockets=folder / "run")
broker = Broker(data=folder / "broker", sockets=folder / "run")
log = folder / "log"
if not cluster.exists():
    cluster.make(owner_password="word", log=log)
cluster.start(log=log)
broker.start(log=log)
print("up", flush=True)
time.sleep(300)
"""


@pytest.fixture
def home(folder: Path) -> Path:
    """A folder for one cluster and one broker."""
    (folder / "run").mkdir(mode=0o711)
    return folder


@contextmanager
def holder(home: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A process that has both servers as children; killed at the end if it lives."""
    process = subprocess.Popen([sys.executable, "-c", HOLDER, str(home)], cwd=CHECKOUT, stdout=subprocess.PIPE)
    assert process.stdout is not None
    try:
        assert process.stdout.readline() == b"up\n"
        yield process
    finally:
        process.kill()
        process.communicate()
        assert gone(home)


def gone(home: Path) -> bool:
    """Wait until no process works in the folders of `home`."""

    def look() -> list[int]:
        return processes_working_in(home / "postgres") + processes_working_in(home / "broker")

    return not wait_until_gone(look, patience_s=10)


def database(home: Path) -> psycopg.Connection:
    """Sign in as the owner."""
    cluster = Cluster(data=home / "postgres", sockets=home / "run")
    return psycopg.connect(cluster.url(role=OWNER_ROLE, password="word", database="postgres"), autocommit=True)


def queue(home: Path) -> redis.Redis:
    """Talk to the broker."""
    return redis.Redis(unix_socket_path=str(home / "run/broker/broker.sock"))


@pytest.mark.slow
def test_killed_parent_leaves_no_orphan_and_loses_nothing(home: Path) -> None:
    with holder(home) as parent:
        with database(home) as link:
            link.execute("create table ticks (step int)")
            link.execute("insert into ticks values (7)")
        with queue(home) as broker:
            broker.lpush("work", "render 2614")
        time.sleep(1.1)  # the broker writes its queue to disk once a second
        parent.send_signal(signal.SIGKILL)
        parent.wait()
        assert gone(home)

    with holder(home):
        with database(home) as link:
            assert link.execute("select step from ticks").fetchall() == [(7,)]
        with queue(home) as broker:
            assert broker.lrange("work", 0, -1) == [b"render 2614"]


@pytest.mark.slow
def test_database_killed_with_all_its_processes_starts_again(home: Path) -> None:
    with holder(home):
        with database(home) as link:
            link.execute("create table kept as select 1 as one")
        for pid in processes_working_in(home / "postgres"):
            os.kill(pid, signal.SIGKILL)
        for pid in processes_working_in(home / "broker"):
            os.kill(pid, signal.SIGKILL)
        assert (home / "postgres/postmaster.pid").exists()

    (home / "postgres/postmaster.pid").write_text(f"{os.getppid()}\n{home}/postgres\n")  # somebody else's number
    with holder(home), database(home) as link:
        assert link.execute("select one from kept").fetchall() == [(1,)]


@pytest.mark.slow
def test_owner_needs_its_password(home: Path) -> None:
    with holder(home):
        cluster = Cluster(data=home / "postgres", sockets=home / "run")
        with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
            psycopg.connect(cluster.url(role=OWNER_ROLE, password="guess", database="postgres"))


@pytest.mark.slow
def test_server_has_no_network_port_and_its_socket_is_nobody_elses(home: Path) -> None:
    with holder(home):
        with database(home) as link:
            assert link.execute("show listen_addresses").fetchall() == [("",)]
        assert (home / "run/postgres").stat().st_mode & 0o077 == 0
        assert (home / "run/broker").stat().st_mode & 0o077 == 0
        with queue(home) as broker:
            assert broker.config_get("port") == {"port": "0"}


def test_half_made_cluster_is_made_again(home: Path) -> None:
    cluster = Cluster(data=home / "postgres", sockets=home / "run", throwaway=True)
    (home / "postgres").mkdir()
    cluster.account.own(home / "postgres")
    (home / "postgres/PG_VERSION").write_text("half")

    cluster.make(owner_password="word", log=home / "log")

    assert cluster.exists()
    assert (home / "postgres/global/pg_control").exists()


def test_server_that_cannot_start_says_where_its_words_are(home: Path) -> None:
    cluster = Cluster(data=home / "postgres", sockets=home / "run", throwaway=True)
    cluster.make(owner_password="word", log=home / "log")
    (home / "postgres/postgresql.conf").write_text("no_such_setting = 1\n")

    with pytest.raises(PlainError, match=f"The database did not start.*{home}/log"):
        cluster.start(log=home / "log")


@pytest.mark.skipif(os.geteuid() != 0, reason="only root has to become somebody else")
def test_root_runs_the_server_as_an_account_without_rights(home: Path) -> None:
    account = choose_account(cluster=home / "postgres", must_reach=[postgres_program("postgres")])

    assert account.uid != 0
    assert account.become is not None


@pytest.mark.skipif(os.geteuid() != 0, reason="only root has to become somebody else")
def test_root_in_a_folder_nobody_may_enter_runs_the_server_in_a_user_namespace(home: Path) -> None:
    home.chmod(0o700)
    cluster = Cluster(data=home / "postgres", sockets=home / "run", throwaway=True)

    cluster.make(owner_password="word", log=home / "log")
    cluster.start(log=home / "log")
    try:
        assert cluster.process is not None
        inside = Path(f"/proc/{cluster.process.pid}/uid_map").read_text().split()
        assert inside == [str(UNPRIVILEGED_UID), "0", "1"]
        with psycopg.connect(cluster.url(role=OWNER_ROLE, password="word", database="postgres")) as link:
            assert link.execute("select 1").fetchall() == [(1,)]
    finally:
        cluster.stop()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root has to become somebody else")
def test_owner_of_an_existing_cluster_decides(home: Path) -> None:
    (home / "postgres").mkdir()
    os.chown(home / "postgres", 4711, 4712)

    account = choose_account(cluster=home / "postgres", must_reach=[])

    assert (account.uid, account.gid) == (4711, 4712)


def test_broker_that_hangs_on_from_a_killed_run_is_ended_first(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("config.embedded.broker.LEFTOVER_PATIENCE_S", 0.3)
    (home / "broker").mkdir()
    stubborn = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"], cwd=home / "broker")
    broker = Broker(data=home / "broker", sockets=home / "run")

    # Reaped in the background, as init would: a zombie has no working folder.
    broker.clear_leftovers()

    assert stubborn.wait(5) == -signal.SIGKILL


def test_child_is_found_by_its_mark() -> None:
    with Path(os.devnull).open("wb") as nowhere:
        child = start_child(["sleep", "60"], log=nowhere, environment={"PATH": "/usr/bin:/bin", "MARK": "one of ours"})
    try:
        assert processes_marked("MARK", "one of ours") == [child.pid]
        assert processes_marked("MARK", "one of") == []
    finally:
        child.kill()
        child.wait()


def test_what_a_stopped_child_leaves_behind_is_ended_with_it() -> None:
    leave = "sleep 300 & echo $!; trap 'exit 0' TERM; while :; do sleep 0.05; done"
    with tempfile.TemporaryFile() as output:
        child = start_child(["sh", "-c", leave], log=output)
        while not (told := output.seek(0) or output.read()):
            time.sleep(0.02)

        os.kill(child.pid, signal.SIGTERM)
        await_group(child, patience_s=5)

    assert child.returncode == 0
    assert not wait_until_gone(lambda: [pid for pid in [int(told)] if Path(f"/proc/{pid}/fd").exists()], patience_s=3)


def test_child_that_has_ended_already_is_only_waited_for() -> None:
    with Path(os.devnull).open("wb") as nowhere:
        ended, reaped = start_child(["true"], log=nowhere), start_child(["true"], log=nowhere)
    reaped.wait()
    time.sleep(0.2)

    for child in (ended, reaped):
        await_group(child, patience_s=5)
        assert child.returncode == 0


def test_child_that_does_not_listen_is_killed() -> None:
    with Path(os.devnull).open("wb") as nowhere:
        child = start_child(["sh", "-c", "trap '' TERM; while :; do sleep 0.05; done"], log=nowhere)
        time.sleep(0.2)

        os.kill(child.pid, signal.SIGTERM)
        await_group(child, patience_s=0.3)

    assert child.returncode == -signal.SIGKILL


@pytest.mark.slow
def test_a_command_brings_tables_up_to_date_that_an_older_program_left(folder: Path) -> None:
    stamp = folder / "data" / "tables"
    run_manage("exportbuild", "2614", BAYWRIGHT_DATA=str(folder / "data"))
    made = stamp.read_text()
    stamp.write_text("of an older program")

    said = run_manage("exportbuild", "2614", BAYWRIGHT_DATA=str(folder / "data"))

    assert stamp.read_text() == made
    assert "no build 2614" in said.stderr
