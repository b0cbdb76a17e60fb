"""`serve`, started and ended in every way a terminal or a machine can end it."""

from __future__ import annotations

import contextlib
import http.client
import os
import shutil
import signal
import socket
import ssl
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from config.data_folder import DataFolder
from config.embedded.plain_errors import PlainError
from config.embedded.processes import processes_marked, processes_working_in
from config.supervisor.children import Address
from config.supervisor.command_line import address_of, parse
from config.supervisor.demo import read_sign_ins, sign_in_table
from config.supervisor.servers import RUN_MARK
from config.supervisor.watch import Shop
from tests.runtime.running import run_manage
from tests.runtime.serving import left, nothing_left, serving


@pytest.fixture(scope="module")
def data() -> Iterator[Path]:
    """One data folder for the module: its tables are made once."""
    import tempfile

    made = Path(tempfile.mkdtemp(prefix="baywright-runtime-"))
    made.chmod(0o711)
    yield made / "data"
    shutil.rmtree(made, ignore_errors=True)


def answer(port: int, path: str = "health/") -> bytes:
    """Ask the pages."""
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/{path}", timeout=10) as response:
        body: bytes = response.read()
    return body


def certificate_and_key(folder: Path) -> tuple[Path, Path]:
    """Make a certificate for this machine, and its key."""
    certificate, key = folder / "cert.pem", folder / "key.pem"
    make = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    subprocess.run([*make, "-keyout", str(key), "-out", str(certificate)], check=True, capture_output=True)
    return certificate, key


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_killed_supervisor_leaves_nothing_behind_and_starts_again(data: Path, free_port: Callable[[], int]) -> None:
    port = free_port()
    with serving(data, port) as process:
        assert answer(port) == b"up"
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert nothing_left(data, patience_s=6)
        with pytest.raises((urllib.error.URLError, ConnectionError)):
            answer(port)

    began = time.monotonic()
    with serving(data, port):
        assert answer(port) == b"up"
        assert time.monotonic() - began < 60


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_second_run_on_the_same_folder_is_refused(data: Path, free_port: Callable[[], int]) -> None:
    port = free_port()
    with serving(data, port):
        second = run_manage("serve", "--port", str(free_port()), BAYWRIGHT_DATA=str(data))
        assert second.returncode == 1
        assert f"Baywright already runs on {data}" in second.stderr
        assert f"http://127.0.0.1:{port}/" in second.stderr
        assert "Traceback" not in second.stderr
        assert answer(port) == b"up"


@pytest.mark.slow
@pytest.mark.timeout(240)
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_asked_to_stop_it_stops_everything_and_exits_0(
    data: Path, free_port: Callable[[], int], number: signal.Signals
) -> None:
    with serving(data, free_port()) as process:
        process.send_signal(number)
        assert process.wait(40) == 0
        assert left(data) == []


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_port_in_use_is_one_sentence_and_starts_nothing(data: Path, free_port: Callable[[], int]) -> None:
    port = free_port()
    with socket.create_server(("127.0.0.1", port + 1)):
        done = run_manage("serve", "--port", str(port), BAYWRIGHT_DATA=str(data))

    assert done.returncode == 1
    assert f"Port {port + 1} is in use by another program" in done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    assert left(data) == []


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_process_that_falls_is_started_again(data: Path, free_port: Callable[[], int]) -> None:
    port = free_port()
    with serving(data, port):
        for pid in processes_working_in(data / "postgres") + processes_working_in(data / "broker"):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        deadline = time.monotonic() + 60
        while True:
            try:
                assert answer(port) == b"up"
                break
            except (OSError, http.client.HTTPException):
                assert time.monotonic() < deadline, "the pages did not come back"
                time.sleep(0.3)
        assert processes_working_in(data / "broker")


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_command_beside_a_running_shop_uses_its_database_as_the_application(
    data: Path, free_port: Callable[[], int]
) -> None:
    ask = "from django.db import connection as c; k = c.cursor(); k.execute('select current_user'); print(k.fetchone()[0])"
    with serving(data, free_port()):
        beside = run_manage("shell", "--no-imports", "-c", ask, BAYWRIGHT_DATA=str(data))
        assert beside.stdout.strip() == "baywright_app", beside.stderr

    alone = run_manage("shell", "--no-imports", "-c", ask, BAYWRIGHT_DATA=str(data))
    assert alone.stdout.strip() == "baywright_app", alone.stderr
    assert left(data) == []


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_pages_and_worker_never_hold_the_owners_password(data: Path, free_port: Callable[[], int]) -> None:
    import json

    with serving(data, free_port()):
        password = json.loads((data / "owner.json").read_text())["database_password"]
        for pid in processes_marked(RUN_MARK, str(data)):
            assert password.encode() not in Path(f"/proc/{pid}/environ").read_bytes()
        assert (data / "owner.json").stat().st_mode & 0o077 == 0


@pytest.mark.slow
@pytest.mark.timeout(240)
@pytest.mark.skipif(shutil.which("openssl") is None, reason="a certificate is made with openssl")
def test_certificate_serves_pages_and_live_screens_by_https(
    data: Path, tmp_path: Path, free_port: Callable[[], int]
) -> None:
    certificate, key = certificate_and_key(tmp_path)
    port = free_port()
    trusting = ssl.create_default_context(cafile=str(certificate))
    trusting.check_hostname = False

    with serving(data, port, "--tls", str(certificate), str(key)):
        for address in (f"https://127.0.0.1:{port}/health/", f"https://127.0.0.1:{port + 1}/health"):
            with urllib.request.urlopen(address, timeout=10, context=trusting) as response:
                assert response.status == 200
        with urllib.request.urlopen(f"https://127.0.0.1:{port}/sign-in/", timeout=10, context=trusting) as response:
            assert "Secure" in response.headers["Set-Cookie"]


def test_address_for_other_machines_names_this_one() -> None:
    hosts = Address(host="0.0.0.0", port=8000).environment()["ALLOWED_HOSTS"].split(",")

    assert {"localhost", "127.0.0.1", socket.gethostname()} <= set(hosts)


def test_certificate_that_cannot_be_read_is_one_sentence() -> None:
    done = run_manage("serve", "--tls", "/nonexistent/cert.pem", "/nonexistent/key.pem")

    assert done.returncode == 1
    assert "The certificate /nonexistent/cert.pem cannot be read" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(shutil.which("openssl") is None, reason="a certificate is made with openssl")
@pytest.mark.parametrize("swapped", [True, False], ids=["swapped", "no certificate"])
def test_certificate_and_key_that_do_not_belong_together_are_one_sentence(tmp_path: Path, *, swapped: bool) -> None:
    certificate, key = certificate_and_key(tmp_path)
    if not swapped:
        certificate.write_text("no certificate")
    pair = [key, certificate] if swapped else [certificate, key]

    with pytest.raises(PlainError, match="are not a certificate and its key"):
        address_of(parse("serve", ["--tls", *map(str, pair)]))


def test_full_disk_is_said_once_and_so_is_room_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    left_mb = iter([900, 150, 120, 300, 400])
    monkeypatch.setattr("config.supervisor.watch.free_mb", lambda folder: next(left_mb))
    shop = Shop(DataFolder(tmp_path), {}, Address(host="127.0.0.1", port=8000))

    for _ in range(5):
        shop._look_at_disk()

    said = capsys.readouterr().out.splitlines()
    assert [line.partition(str(tmp_path))[2].split(". ")[0] for line in said] == [
        " has 150 MB left",
        " has room again (300 MB).",
    ]


@pytest.mark.parametrize("word", ["0", "65535", "eight"])
def test_port_that_is_none_is_refused(word: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        parse("demo", ["--port", word])

    assert f"{word} is no port" in capsys.readouterr().err


def test_sign_ins_are_read_from_the_last_line_of_json() -> None:
    lines = ["Loading …", '[{"role": "manager", "username": "ines", "password": "words"}]', ""]

    assert sign_in_table(read_sign_ins(lines)).endswith("\n  manager  ines  words")


def test_demo_shop_without_sign_ins_is_a_fault() -> None:
    with pytest.raises(PlainError, match="named no sign-ins"):
        read_sign_ins(["nothing here"])
