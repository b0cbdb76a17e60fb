"""What is looked at before anything starts, and the sentence for each fault."""

from __future__ import annotations

import errno
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from config.embedded.folders import LONGEST_SOCKET_FOLDER, FolderLock, make_folder, make_socket_folder, socket_folder
from config.embedded.plain_errors import PlainError, explain_os_error
from config.postgresql import require_supported_version
from config.supervisor import preflight
from tests.runtime.running import CHECKOUT, clean_environment, run_manage


def test_port_in_use_is_said_with_the_option(free_port: Callable[[], int]) -> None:
    port = free_port()
    with (
        socket.create_server(("127.0.0.1", port)),
        pytest.raises(PlainError, match=f"Port {port} is in use by another program.*--port"),
    ):
        preflight.require_free_port("127.0.0.1", port, option="--port")

    preflight.require_free_port("127.0.0.1", port, option="--port")


def test_address_of_another_machine_is_refused(free_port: Callable[[], int]) -> None:
    with pytest.raises(PlainError, match=r"192\.0\.2\.7 is no address of this machine"):
        preflight.require_free_port("192.0.2.7", free_port(), option="--port")


def test_nearly_full_disk_is_said_before_the_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(preflight.shutil, "disk_usage", lambda folder: shutil._ntuple_diskusage(9, 8, 7_000_000))  # type: ignore[attr-defined]

    with pytest.raises(PlainError, match="has 7 MB left"):
        preflight.require_disk_space(tmp_path)


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.ENOSPC, "no room left on the disk that holds /data"),
        (errno.EDQUOT, "no room left on the disk that holds /data"),
        (errno.EROFS, "may not write to /data"),
        (errno.EACCES, "may not write to /data"),
        (errno.EIO, "“input/output error” for /data"),
    ],
)
def test_fault_of_the_system_becomes_a_sentence(number: int, says: str) -> None:
    assert says in str(explain_os_error(OSError(number, os.strerror(number)), path="/data"))


def test_folder_below_a_file_is_one_sentence_and_no_trace(folder: Path) -> None:
    (folder / "file").touch()
    done = run_manage("serve", BAYWRIGHT_DATA=str(folder / "file" / "data"))

    assert done.returncode == 1
    assert "“not a directory”" in done.stderr
    assert "Traceback" not in done.stderr


def test_folder_nobody_may_write_to_is_one_sentence_and_no_trace(folder: Path) -> None:
    """Root may write anywhere but to a disk that is mounted for reading."""
    mount = f"mount -t tmpfs -o ro none {folder}" if os.geteuid() == 0 else f"chmod 500 {folder}"
    within = ["unshare", "--mount"] if os.geteuid() == 0 else []
    done = subprocess.run(
        [*within, "sh", "-c", f"{mount} && exec {sys.executable} manage.py serve"],
        cwd=CHECKOUT,
        env=clean_environment(BAYWRIGHT_DATA=str(folder / "data")),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )

    assert done.returncode == 1
    assert "BAYWRIGHT_DATA to a folder that is" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.geteuid() != 0, reason="mounting a small disk takes root")
def test_full_disk_is_one_sentence_and_no_trace(folder: Path) -> None:
    start = f"mount -t tmpfs -o size=12m none {folder} && exec {sys.executable} manage.py serve"
    done = subprocess.run(
        ["unshare", "--mount", "sh", "-c", start],
        cwd=CHECKOUT,
        env=clean_environment(BAYWRIGHT_DATA=str(folder / "data")),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )

    assert done.returncode == 1
    assert "MB left" in done.stderr
    assert "Traceback" not in done.stderr


def test_disk_that_fills_while_the_database_is_made_is_said_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The server's own words go to its log; the person in front gets the sentence."""
    from config.embedded.postgres import _explain_log

    log = tmp_path / "database.log"
    log.write_text('initdb: error: could not write file "x": No space left on device\n')

    assert "no room left on the disk" in str(_explain_log(log, "The database could not be made."))


def test_short_socket_folder_is_used_where_the_path_is_too_deep(tmp_path: Path) -> None:
    deep = tmp_path / ("d" * 90)

    assert socket_folder(tmp_path / "x").parent == tmp_path / "x"
    assert len(str(socket_folder(deep))) <= LONGEST_SOCKET_FOLDER
    assert socket_folder(deep) == socket_folder(deep)
    assert socket_folder(deep) != socket_folder(tmp_path / ("e" * 90))


def test_socket_folder_that_is_a_link_is_refused(folder: Path) -> None:
    (folder / "elsewhere").mkdir()
    data = make_folder(folder / "data")
    (data / "run").symlink_to(folder / "elsewhere")

    with pytest.raises(PlainError, match="belongs to somebody else"):
        make_socket_folder(data)


def test_lock_is_free_again_when_its_holder_is_killed(tmp_path: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; from config.embedded.folders import FolderLock; "
        "lock = FolderLock(Path(sys.argv[1])); lock.acquire(); lock.describe('the first one'); "
        "print('held', flush=True); time.sleep(60)"
    )
    path = tmp_path / "lock"
    holder = subprocess.Popen([sys.executable, "-c", code, str(path)], cwd=CHECKOUT, stdout=subprocess.PIPE)
    assert holder.stdout is not None
    holder.stdout.readline()
    second = FolderLock(path)
    assert not second.acquire()
    assert second.holder() == "the first one"

    holder.kill()
    holder.communicate()

    assert second.acquire()
    second.release()


@pytest.mark.parametrize(("number", "named"), [(140012, "14.12"), (90624, "9.624")])
def test_old_postgresql_is_refused_in_one_sentence(number: int, named: str) -> None:
    with pytest.raises(PlainError, match=f"PostgreSQL {named}; Baywright needs 15 or later"):
        require_supported_version(number)


def test_postgresql_15_is_taken() -> None:
    require_supported_version(150000)
