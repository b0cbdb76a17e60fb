"""
The supervisor killed outright at random moments while people work: what was answered is kept.

Three people send ticks, photos and design edits all the time. Every request that was answered with success has to be
there at the end, every photo's file with the hash the database knows. BAYWRIGHT_KILLS says how often (2 where it is not
set), BAYWRIGHT_SEED which moments; the seed is printed.
"""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import io
import json
import os
import random
import shutil
import signal
import tempfile
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from http import HTTPStatus
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import urlencode

import psycopg
import pytest
from PIL import Image

from config.data_folder import DataFolder
from tests.runtime.running import run_manage
from tests.runtime.serving import nothing_left, serving

KILLS = int(os.environ.get("BAYWRIGHT_KILLS", "2"))
SEED = int(os.environ.get("BAYWRIGHT_SEED", str(random.randrange(10**6))))
DEMO_PASSWORD = "tern-point-demo"
IN_WORK = "2612"
AT_INTAKE = "2619"
ANSWER_PATIENCE_S = 60
STEPS = """
    select s.id from builds_checkliststep s join builds_build b on b.id = s.build_id
    where b.number = %s and s.place = 'bench' and not s.is_hold_point order by s.line limit 6
"""
CIRCUIT = "select c.number from builds_circuit c join builds_build b on b.id = c.build_id where b.number = %s limit 1"


class ShopIsDown(OSError):
    """The pages answered that something broke."""


class Browser:
    """One person's browser: its cookies, and a connection that may break at any moment."""

    def __init__(self, port: int, username: str) -> None:
        self.port, self.username = port, username
        self.cookies: dict[str, str] = {}

    def send(self, method: str, path: str, body: bytes = b"", kind: str = "") -> tuple[int, bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        headers["X-CSRFToken"] = self.cookies.get("csrftoken", "")
        if kind:
            headers["Content-Type"] = kind
        try:
            connection.request(method, path, body=body, headers=headers)
            response = connection.getresponse()
            answer = response.read()
            for header in response.headers.get_all("Set-Cookie") or ():
                self.cookies.update({name: morsel.value for name, morsel in SimpleCookie(header).items()})
        finally:
            connection.close()
        if response.status >= HTTPStatus.INTERNAL_SERVER_ERROR:  # the database goes a moment before the pages do
            raise ShopIsDown(f"{method} {path}: {response.status}")
        return response.status, answer

    def send_json(self, method: str, path: str, body: dict[str, object]) -> tuple[int, bytes]:
        return self.send(method, path, json.dumps(body).encode(), "application/json")

    def sign_in(self) -> None:
        """Sign in; a session outlives a kill, so once is enough."""
        self.send("GET", "/sign-in/")
        form = urlencode({"username": self.username, "password": DEMO_PASSWORD}).encode()
        status, _ = self.send("POST", "/sign-in/", form, "application/x-www-form-urlencoded")
        assert status == 302, f"{self.username} was not let in: {status}"


class Worker(threading.Thread):
    """A person who does one thing over and over and remembers what was answered with success."""

    def __init__(self, browser: Browser, act: Callable[[Browser], object]) -> None:
        super().__init__(daemon=True)
        self.browser, self.act = browser, act
        self.kept: list[object] = []
        self.refusals: list[str] = []
        self.stopping = threading.Event()

    def run(self) -> None:
        while not self.stopping.is_set():
            try:
                if "sessionid" not in self.browser.cookies:
                    self.browser.sign_in()
                self.kept.append(self.act(self.browser))
            except (OSError, http.client.HTTPException):
                time.sleep(0.2)  # the shop is down; the person tries again
            except AssertionError as error:
                self.refusals.append(str(error))
                time.sleep(0.2)


def tick_a_step(steps: list[int], dice: random.Random) -> Callable[[Browser], object]:
    def act(browser: Browser) -> object:
        event_id = str(uuid.uuid4())
        body = {
            "event_id": event_id,
            "result": "defective",
            "remark": f"tried {event_id}",
            "at": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
        }
        status, answer = browser.send_json("POST", f"/api/steps/{dice.choice(steps)}/ticks/", body)
        assert status == 201, f"tick {status}: {answer[:300]!r}"
        return event_id

    return act


def send_a_photo(steps: list[int], dice: random.Random) -> Callable[[Browser], object]:
    def act(browser: Browser) -> object:
        event_id, boundary = str(uuid.uuid4()), uuid.uuid4().hex
        picture = io.BytesIO()
        Image.frombytes("RGB", (64, 48), dice.randbytes(64 * 48 * 3)).save(picture, "PNG")
        body = (
            f'--{boundary}\r\nContent-Disposition: form-data; name="event_id"\r\n\r\n{event_id}\r\n'
            f'--{boundary}\r\nContent-Disposition: form-data; name="photo"; filename="a.png"\r\n'
            "Content-Type: image/png\r\n\r\n"
        ).encode() + picture.getvalue() + f"\r\n--{boundary}--\r\n".encode()  # fmt: skip
        path = f"/builds/{IN_WORK}/checklist/{dice.choice(steps)}/photo/"
        status, answer = browser.send("POST", path, body, f"multipart/form-data; boundary={boundary}")
        assert status == 302, f"photo {status}: {answer[:300]!r}"
        return event_id

    return act


def rename_a_circuit(key: str) -> Callable[[Browser], object]:
    def act(browser: Browser) -> object:
        path = f"/api/builds/{AT_INTAKE}/rows/circuit/{key}/"
        status, answer = browser.send("GET", path)
        assert status == 200, f"row {status}: {answer[:300]!r}"
        legend = f"L{uuid.uuid4().hex[:10].upper()}"
        body = {"row_version": json.loads(answer)["row_version"], "values": {"legend": legend}}
        status, answer = browser.send_json("PATCH", path, body)
        assert status == 200, f"edit {status}: {answer[:300]!r}"
        return legend

    return act


@pytest.fixture
def data() -> Iterator[Path]:
    """A data folder with the demo shop in it."""
    made = Path(tempfile.mkdtemp(prefix="baywright-kills-"))
    made.chmod(0o711)
    loaded = run_manage("loaddemo", BAYWRIGHT_DATA=str(made / "data"))
    assert loaded.returncode == 0, loaded.stderr
    yield made / "data"
    shutil.rmtree(made, ignore_errors=True)


@contextlib.contextmanager
def rows(data: Path) -> Iterator[Callable[..., list[tuple[object, ...]]]]:
    """Ask the database, as the application."""
    with psycopg.connect(DataFolder(data).app_url(), autocommit=True) as link:
        yield lambda question, *values: link.execute(question, values).fetchall()


@pytest.mark.slow
@pytest.mark.timeout(300 + 60 * KILLS)
def test_everything_that_was_answered_is_kept(data: Path, free_port: Callable[[], int]) -> None:
    print(f"BAYWRIGHT_SEED={SEED}")  # noqa: T201  (shown by pytest when it fails)
    dice, port = random.Random(SEED), free_port()
    with serving(data, port), rows(data) as ask:
        steps = [pk for (pk,) in ask(STEPS, IN_WORK)]
        ((circuit,),) = ask(CIRCUIT, AT_INTAKE)
    people = {
        "ticks": Worker(Browser(port, "technician"), tick_a_step(steps, random.Random(SEED + 1))),
        "photos": Worker(Browser(port, "technician-2"), send_a_photo(steps, random.Random(SEED + 2))),
        "edits": Worker(Browser(port, "designer"), rename_a_circuit(str(circuit))),
    }
    for person in people.values():
        person.start()
    for _ in range(KILLS):
        with serving(data, port) as process:
            wait_for_answers(people, dice.randint(1, 12))
            time.sleep(dice.uniform(0.0, 0.3))
            process.send_signal(signal.SIGKILL)
            process.wait()
            assert nothing_left(data)
    with serving(data, port):
        wait_for_answers(people, 3)
        for person in people.values():
            person.stopping.set()
            person.join(40)
        assert {name: person.refusals for name, person in people.items() if person.refusals} == {}
        assert all(person.kept for person in people.values())
        look_at_what_was_kept(data, people)


def wait_for_answers(people: dict[str, Worker], more: int) -> None:
    """Return when `more` answers came since now: the moment of a kill depends on work, not on the clock."""

    def answers() -> int:
        return sum(len(person.kept) for person in people.values())

    wanted, deadline = answers() + more, time.monotonic() + ANSWER_PATIENCE_S
    while answers() < wanted:
        refusals = [person.refusals for person in people.values() if person.refusals]
        assert time.monotonic() < deadline, f"nothing is answered any more: {refusals}"
        time.sleep(0.02)


def look_at_what_was_kept(data: Path, people: dict[str, Worker]) -> None:
    with rows(data) as ask:
        ticks = {str(event_id) for (event_id,) in ask("select event_id from builds_tick")}
        assert set(people["ticks"].kept) <= ticks
        photos = dict(
            ask(
                "select p.event_id::text, f.sha256 || ' ' || f.name_in_store"
                " from builds_photo p join builds_storedfile f on f.id = p.file_id"
            )
        )
        assert set(people["photos"].kept) <= set(photos)
        edited = {
            str(entry) for (entry,) in ask("select after->>'legend' from builds_historyentry where after ? 'legend'")
        }
        assert set(people["edits"].kept) <= edited
    for found in photos.values():
        sha256, name = str(found).split(" ")
        assert hashlib.sha256((data / "media" / name).read_bytes()).hexdigest() == sha256
