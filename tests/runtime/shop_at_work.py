"""
People who work over real HTTP while the shop may fall at any moment, and what they were answered.

Somebody who gets no answer sends the same thing again, as a phone does: whatever carries an id has to arrive once.
"""

from __future__ import annotations

import http.client
import io
import json
import random
import threading
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http import HTTPStatus
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import quote

from PIL import Image

__all__ = ["Browser", "Errand", "Hand", "edit_errands", "photo_errands", "stock_errands", "tick_errands"]

PAUSE_S = 0.03  # between two errands of one person
RETRY_S = 0.15


class ShopIsDownError(OSError):
    """Something answered that the shop cannot work now: the database falls a moment before the pages do."""


class Browser:
    """One person's browser: its cookies, and a connection for each request that may break half-way."""

    def __init__(self, port: int, username: str, password: str) -> None:
        self.port, self.username, self.password = port, username, password
        self.cookies: dict[str, str] = {}

    def send(self, method: str, path: str, body: bytes = b"", kind: str = "", **headers: str) -> tuple[int, bytes]:
        """Return status and content of an answer; raise OSError or HTTPException where there was none."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        headers |= {
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "X-CSRFToken": self.cookies.get("csrftoken", ""),
            **({"Content-Type": kind} if kind else {}),
        }
        try:
            connection.request(method, path, body=body, headers=headers)
            response = connection.getresponse()
            answer = response.read()
            for header in response.headers.get_all("Set-Cookie") or ():
                self.cookies.update({name: morsel.value for name, morsel in SimpleCookie(header).items()})
        finally:
            connection.close()
        if response.status >= HTTPStatus.INTERNAL_SERVER_ERROR:
            raise ShopIsDownError(f"{method} {path}: {response.status}")
        return response.status, answer

    def send_form(
        self, path: str, values: dict[str, str], *, file: tuple[str, bytes] | None = None
    ) -> tuple[int, bytes]:
        """Send a form, with a file if there is one."""
        boundary = uuid.uuid4().hex
        parts = [
            f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
            for name, value in values.items()
        ]
        if file:
            head = f'--{boundary}\r\nContent-Disposition: form-data; name="{file[0]}"; filename="sent"\r\n'
            parts.append(head.encode() + b"Content-Type: application/octet-stream\r\n\r\n" + file[1] + b"\r\n")
        body = b"".join(parts) + f"--{boundary}--\r\n".encode()
        return self.send("POST", path, body, f"multipart/form-data; boundary={boundary}")

    def send_json(self, method: str, path: str, body: dict[str, Any]) -> tuple[int, bytes]:
        """Send a body to the API."""
        return self.send(method, path, json.dumps(body).encode(), "application/json")

    def sign_in(self) -> None:
        """Sign in; a session outlives a kill, so once is enough."""
        self.send("GET", "/sign-in/")
        status, _ = self.send_form("/sign-in/", {"username": self.username, "password": self.password})
        assert status == HTTPStatus.FOUND, f"{self.username} was not let in: {status}"


@dataclass(slots=True, kw_only=True)
class Errand:
    """One thing to be done; ``send`` may be called again until it is answered. ``told`` is what has to be found later."""

    send: Callable[[Browser], tuple[int, bytes]]
    good: int
    told: dict[str, Any] = field(default_factory=dict)
    tries: int = 0


class Hand(threading.Thread):
    """
    Somebody who does one errand after the other and writes down which were answered with success.

    ``resting`` lets them finish what they are at; ``gone`` does not.
    """

    def __init__(self, browser: Browser, errands: Callable[[Browser], Errand]) -> None:
        super().__init__(daemon=True)
        self.browser, self.errands = browser, errands
        self.done: list[Errand] = []
        self.refused: list[str] = []
        self.resting = threading.Event()
        self.gone = threading.Event()

    def run(self) -> None:
        errand: Errand | None = None
        while (errand is not None or not self.resting.is_set()) and not self.gone.is_set():
            try:
                if "sessionid" not in self.browser.cookies:
                    self.browser.sign_in()
                errand = errand or self.errands(self.browser)
                errand.tries += 1
                status, answer = errand.send(self.browser)
            except (OSError, http.client.HTTPException):
                time.sleep(RETRY_S)
                continue
            except AssertionError as error:
                self.refused.append(str(error))
                return
            if status == errand.good:
                self.done.append(errand)
            else:
                self.refused.append(f"{self.browser.username} try {errand.tries}: {status} {answer[:300]!r}")
            errand = None
            time.sleep(PAUSE_S)


def tick_errands(steps: list[int], dice: random.Random) -> Callable[[Browser], Errand]:
    """Ticks of random steps, as a device sends them."""

    def make(browser: Browser) -> Errand:
        event_id, step = str(uuid.UUID(int=dice.getrandbits(128), version=4)), dice.choice(steps)
        body = {
            "event_id": event_id,
            "result": "defective",
            "remark": f"seen {event_id}",
            "at": datetime.now(UTC).isoformat(),
        }
        return Errand(
            send=lambda browser: browser.send_json("POST", f"/api/steps/{step}/ticks/", body), good=HTTPStatus.CREATED,
            told={"event_id": event_id, "step": step, "remark": body["remark"]},
        )  # fmt: skip

    return make


def photo_errands(number: str, steps: list[int], dice: random.Random) -> Callable[[Browser], Errand]:
    """Photos of random steps, each of other pixels."""

    def make(browser: Browser) -> Errand:
        event_id, step = str(uuid.UUID(int=dice.getrandbits(128), version=4)), dice.choice(steps)
        picture = io.BytesIO()
        Image.frombytes("RGB", (96, 64), dice.randbytes(96 * 64 * 3)).save(picture, "PNG")
        path, values = f"/builds/{number}/checklist/{step}/photo/", {"event_id": event_id, "caption": event_id}
        return Errand(
            send=lambda browser: browser.send_form(path, values, file=("photo", picture.getvalue())),
            good=HTTPStatus.FOUND, told={"event_id": event_id},
        )  # fmt: skip

    return make


def stock_errands(part: str, dice: random.Random) -> Callable[[Browser], Errand]:
    """Deliveries of a part."""

    def make(browser: Browser) -> Errand:
        event_id, quantity = str(uuid.UUID(int=dice.getrandbits(128), version=4)), str(dice.randint(1, 9))
        values = {"event_id": event_id, "quantity": quantity, "reference": event_id}
        return Errand(
            send=lambda browser: browser.send_form(f"/stores/parts/{quote(part)}/receive/", values),
            good=HTTPStatus.FOUND, told={"event_id": event_id, "quantity": int(quantity)},
        )  # fmt: skip

    return make


def edit_errands(number: str, circuit: str, dice: random.Random) -> Callable[[Browser], Errand]:
    """
    New legends of a circuit.

    An edit carries no id: whoever got no answer looks at the row first, and is done if it says what they wrote.
    """
    path = f"/api/builds/{number}/rows/circuit/{circuit}/"

    def make(browser: Browser) -> Errand:
        legend = f"L{dice.getrandbits(40):010X}"

        def send(browser: Browser) -> tuple[int, bytes]:
            status, answer = browser.send("GET", path)
            if status != HTTPStatus.OK:
                return status, answer
            row = json.loads(answer)
            if row["values"]["legend"] == legend:
                return HTTPStatus.OK, answer
            return browser.send_json("PATCH", path, {"row_version": row["row_version"], "values": {"legend": legend}})

        return Errand(send=send, good=HTTPStatus.OK, told={"legend": legend})

    return make
