"""Faults of the machine as people meet them: a full disk, and a name that the shop does not go by."""

import errno
import json
from typing import Any
from uuid import uuid4

import psycopg
import pytest
from django.db import OperationalError
from django.test import Client

from builds.models import Person, Role
from tests.factories.builds import PASSWORD, make_build, make_person, make_shop

pytestmark = pytest.mark.django_db


def no_space() -> OSError:
    return OSError(errno.ENOSPC, "No space left on device")


def database_full() -> OperationalError:
    fault = OperationalError("could not extend file")
    fault.__cause__ = psycopg.errors.DiskFull("could not extend file")
    return fault


@pytest.fixture
def manager(client: Client) -> Person:
    make_shop()
    person = make_person(Role.MANAGER)
    client.force_login(person)
    return person


@pytest.mark.parametrize("fault", [no_space, database_full])
def test_full_disk_says_so_and_what_to_do(
    client: Client, manager: Person, monkeypatch: pytest.MonkeyPatch, fault: Any
) -> None:
    def full(*_: object, **__: object) -> None:
        raise fault()

    monkeypatch.setattr("builds.views.yard.hand_keys", full)

    answer = client.post(
        f"/yard/{make_build(manager).number}/keys/", {"event_id": str(uuid4()), "count": "1", "hook": "7", "back": "/"}
    )

    assert answer.status_code == 507
    assert "The disk of the shop&#x27;s computer is full" in answer.content.decode()


def test_full_disk_met_while_the_session_is_kept_says_so_too(
    client: Client, manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise no_space()

    monkeypatch.setattr("config.sessions.SessionStore.save", full)
    client.raise_request_exception = False

    answer = client.post("/sign-in/", {"username": manager.username, "password": PASSWORD})

    assert answer.status_code == 507
    assert "There is no room left" in answer.content.decode()


def test_a_name_the_shop_does_not_go_by_is_named(client: Client, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["shop.example"]

    answer = client.get("/sign-in/", headers={"host": "shop-pc.local:8000"})

    assert answer.status_code == 400
    said = answer.content.decode()
    assert "does not go by the name <b>shop-pc.local:8000</b>" in said and "ALLOWED_HOSTS" in said


def test_what_was_sent_leaves_a_line_in_the_log(
    client: Client, manager: Person, capsys: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    build = make_build(manager)

    client.post(f"/yard/{build.number}/keys/", {"event_id": str(uuid4()), "count": "1", "hook": "7", "back": "/"})
    client.get("/")

    lines = [record.msg for record in caplog.records if record.name == "config.middleware"]
    assert len(lines) == 1
    said = lines[0] if isinstance(lines[0], dict) else json.loads(str(lines[0]))
    assert (said["person"], said["build"], said["page"]) == (str(manager), build.number, "keys-hand")
