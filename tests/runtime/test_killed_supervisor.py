"""
Thirty times the supervisor is killed outright at a random moment, while four people work: what was answered is kept.

The moments come from a seed, which is printed: BAYWRIGHT_SEED gives another, BAYWRIGHT_KILLS another number of kills.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http import HTTPStatus
from pathlib import Path
from typing import Any

import psycopg
import pytest

from config.data_folder import DataFolder
from tests.runtime.running import CHECKOUT, clean_environment, run_manage
from tests.runtime.serving import UP, left, nothing_left
from tests.runtime.shop_at_work import Browser, Hand, edit_errands, photo_errands, stock_errands, tick_errands

KILLS = int(os.environ.get("BAYWRIGHT_KILLS", "30"))
SEED = int(os.environ.get("BAYWRIGHT_SEED", "2609"))
NUMBER = "9101"
PART = "INV-900"
CIRCUIT = "101"
PASSWORD = "a long enough phrase"
PEOPLE = {"technician": "technician", "photographer": "technician", "clerk": "parts_clerk", "designer": "designer"}
START_S = 90.0


class Serving:
    """`serve` in a process of its own; ``up`` is set once it has said where it is."""

    def __init__(self, data: Path, port: int) -> None:
        self.data = data
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--port", str(port)],
            cwd=CHECKOUT,
            env=clean_environment(BAYWRIGHT_DATA=str(data), PYTHONUNBUFFERED="1"),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.up = threading.Event()
        self.said: list[str] = []
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line)
            if UP in line:
                self.up.set()
        self.process.stdout.close()

    def wait(self) -> None:
        deadline = time.monotonic() + START_S
        while not self.up.wait(0.05):
            words = "".join(self.said)
            assert self.process.poll() is None, f"ended by itself: {words}"
            assert time.monotonic() < deadline, f"did not come up: {words}"

    def end(self, number: signal.Signals) -> int:
        """Send a signal, and return the exit status once nothing of the run is left."""
        self.process.send_signal(number)
        status = self.process.wait(60)
        self.reader.join(10)
        assert nothing_left(self.data), f"left behind: {left(self.data)}"
        return status


@pytest.fixture
def data() -> Iterator[Path]:
    """An empty data folder."""
    made = Path(tempfile.mkdtemp(prefix="baywright-killed-"))
    made.chmod(0o711)
    yield made / "data"
    shutil.rmtree(made, ignore_errors=True)


@contextmanager
def serving(data: Path, port: int) -> Iterator[Serving]:
    """A run that comes up, and is told to stop at the end."""
    run = Serving(data, port)
    try:
        run.wait()
        yield run
        assert run.end(signal.SIGTERM) == 0
    finally:
        run.process.kill()
        run.process.wait()


@pytest.mark.slow
@pytest.mark.timeout(1200)
def test_what_was_answered_outlives_thirty_kills(data: Path, free_port: Callable[[], int]) -> None:
    print(f"BAYWRIGHT_SEED={SEED}")  # noqa: T201  (shown by pytest when it fails)
    dice, port = random.Random(SEED), free_port()
    with serving(data, port):
        steps = open_the_shop(data, port)
    with people_at_work(port, steps) as hands:
        up = sum(killed_at_some_moment(Serving(data, port), dice) for _ in range(KILLS))
        with serving(data, port):
            rest(hands)
            assert {name: hand.refused for name, hand in hands.items() if hand.refused} == {}
            assert up >= KILLS // 2
            look_through_the_pages(data, port, hands)
            look_into_the_tables(data, hands)
    assert left(data) == []


def killed_at_some_moment(run: Serving, dice: random.Random) -> bool:
    """Kill a run: every fourth while it starts, the others within a second of work. Return whether it was up."""
    in_start, after_s = dice.random() < 0.25, dice.uniform(0.0, 1.0)
    try:
        if in_start:
            run.up.wait(3 * after_s)
        else:
            run.wait()
            time.sleep(after_s)
        was_up = run.up.is_set()
        run.end(signal.SIGKILL)
    finally:
        run.process.kill()
    return was_up


@contextmanager
def people_at_work(port: int, steps: list[int]) -> Iterator[dict[str, Hand]]:
    """Four people, each at the same sort of thing over and over, from now on."""
    errands = {
        "technician": tick_errands(steps, random.Random(SEED + 1)),
        "photographer": photo_errands(NUMBER, steps, random.Random(SEED + 2)),
        "clerk": stock_errands(PART, random.Random(SEED + 3)),
        "designer": edit_errands(NUMBER, CIRCUIT, random.Random(SEED + 4)),
    }
    hands = {name: Hand(Browser(port, name, PASSWORD), make) for name, make in errands.items()}
    for hand in hands.values():
        hand.start()
    try:
        yield hands
    finally:
        for hand in hands.values():
            hand.gone.set()
            hand.join(40)


def rest(hands: dict[str, Hand]) -> None:
    """Let everyone finish what they are at; everybody has got something done since the last kill."""
    before = {name: len(hand.done) for name, hand in hands.items()}
    deadline = time.monotonic() + 60
    while any(len(hand.done) == before[name] for name, hand in hands.items()):
        assert time.monotonic() < deadline, {name: hand.refused[-1:] for name, hand in hands.items()}
        time.sleep(0.05)
    for hand in hands.values():
        hand.resting.set()
    for hand in hands.values():
        hand.join(60)
        assert not hand.is_alive()


# --- the shop they work in ---


def open_the_shop(data: Path, port: int) -> list[int]:
    """Open a shop, load a small build, bring it to the floor over the pages, and return its steps."""
    opened = subprocess.run(
        [sys.executable, "manage.py", "openshop", "--name", "Tern Point Vehicle Works", "--time-zone", "America/New_York",
         "--manager", "manager"],
        cwd=CHECKOUT, env=clean_environment(BAYWRIGHT_DATA=str(data)), input=PASSWORD + "\n", capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip
    assert opened.returncode == 0, opened.stderr
    document = CHECKOUT / "tests" / "cases" / "01-sound-lamp.json"
    loaded = run_manage("importbuild", str(document), BAYWRIGHT_DATA=str(data))
    assert loaded.returncode == 0, loaded.stderr
    manager = Browser(port, "manager", PASSWORD)
    manager.sign_in()
    for username, role in PEOPLE.items():
        do(manager, "/people/add/", username=username, short_name=username, role=role, password=PASSWORD)
    status, answer = manager.send_form(
        "/stores/list/", {}, file=("file", f"number,description\n{PART},Lamp\n".encode())
    )
    assert status == HTTPStatus.FOUND, answer
    for path, values in TO_THE_FLOOR:
        do(manager, f"/{path}", **values)
    with rows(data) as ask:
        return [
            pk for (pk,) in ask("select id from builds_checkliststep where place = 'vehicle' and not is_hold_point")
        ]


TO_THE_FLOOR: tuple[tuple[str, dict[str, str]], ...] = (
    (f"builds/{NUMBER}/release/", {"summary": "As ordered"}),
    (f"builds/{NUMBER}/revisions/A/authorise/", {"kind": "purchase_order", "authorised_by": "P. Lund", "reference": "PO-1"}),
    (f"builds/{NUMBER}/checklist/make/", {}),
    (f"builds/{NUMBER}/move/", {"to": "quoted"}),
    (f"builds/{NUMBER}/move/", {"to": "approved"}),
    (f"builds/{NUMBER}/move/", {"to": "in_work"}),
    (f"yard/{NUMBER}/check-in/", {"event_id": "8c1d1f0e-1111-4222-8333-444455556666", "odometer": "12", "fuel": "50",
                                   "key_count": "2", "hook": "7", "spot": "Lot row C 4"}),
)  # fmt: skip


def do(browser: Browser, path: str, **values: str) -> None:
    status, answer = browser.send_form(path, values)
    assert status == HTTPStatus.FOUND, f"{path}: {status} {answer.decode()[:3000]}"


@contextmanager
def rows(data: Path) -> Iterator[Callable[..., list[tuple[Any, ...]]]]:
    """Ask the running database, as the application."""
    with psycopg.connect(DataFolder(data).app_url(), autocommit=True) as link:
        yield lambda question, *values: link.execute(question, values).fetchall()


# --- what has to be there: everything that was answered, once, and nothing else ---


def look_through_the_pages(data: Path, port: int, hands: dict[str, Hand]) -> None:
    """Ask the pages and the API, as the manager."""
    manager = Browser(port, "manager", PASSWORD)
    manager.sign_in()
    _, answer = manager.send("GET", f"/api/builds/{NUMBER}/rows/circuit/{CIRCUIT}/")
    assert json.loads(answer)["values"]["legend"] == hands["designer"].done[-1].told["legend"]
    newest = {errand.told["step"]: errand.told["remark"] for errand in hands["technician"].done}
    for step, remark in newest.items():
        _, page = manager.send("GET", f"/builds/{NUMBER}/checklist/{step}/")
        assert remark in page.decode()
    with rows(data) as ask:
        files = dict(
            ask("select p.event_id::text, f.sha256 from builds_photo p join builds_storedfile f on f.id = p.file_id")
        )
    for errand in hands["photographer"].done:
        sha256 = files[errand.told["event_id"]]
        status, content = manager.send("GET", f"/files/{sha256}/")
        assert (status, hashlib.sha256(content).hexdigest()) == (HTTPStatus.OK, sha256)


def look_into_the_tables(data: Path, hands: dict[str, Hand]) -> None:
    done = {name: [errand.told for errand in hand.done] for name, hand in hands.items()}
    with rows(data) as ask:
        ticks = ask("select event_id::text, step_id, remark from builds_tick")
        photos = ask("select event_id::text from builds_photo")
        entries = ask("select event_id::text, on_hand_change::int from inventory_stockentry")
        ((balance,),) = ask("select on_hand::int from inventory_stockbalance")
        legends = ask(
            "select after -> 'values' ->> 'legend' from builds_editentry where family = 'circuit' order by id"
        )
        files = ask("select sha256, name_in_store, size_bytes from builds_storedfile")

    assert sorted(ticks) == sorted((told["event_id"], told["step"], told["remark"]) for told in done["technician"])
    assert sorted(photos) == sorted((told["event_id"],) for told in done["photographer"])
    assert sorted(entries) == sorted((told["event_id"], told["quantity"]) for told in done["clerk"])
    assert balance == sum(told["quantity"] for told in done["clerk"])
    assert legends == [(told["legend"],) for told in done["designer"]]
    for sha256, name, size in files:
        content = (data / "media" / name).read_bytes()
        assert (hashlib.sha256(content).hexdigest(), len(content)) == (sha256, size)
