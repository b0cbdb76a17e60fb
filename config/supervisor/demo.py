"""The demo shop: its data, its sign-ins, and the walk of one build from order to packet."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterable
from typing import Any

from config.data_folder import CHECKOUT
from config.embedded.plain_errors import PlainError
from config.embedded.processes import start_child
from config.supervisor.servers import last_words, wait_for
from config.supervisor.watch import Shop, say


def load_demo_shop(shop: Shop) -> str:
    """Load the demo shop, which does nothing where it is loaded already, and return the sign-ins."""
    say("Loading the demo shop …")
    log = shop.servers.log("loaddemo")
    with log.open("wb") as stream:
        child = start_child(
            [sys.executable, "manage.py", "loaddemo"],
            log=stream,
            environment=shop.environment(),
            folder=CHECKOUT,
        )
    if wait_for(child) != 0:
        raise PlainError(f"The demo shop could not be loaded. {last_words(log)}")
    return sign_in_table(read_sign_ins(log.read_text(errors="replace").splitlines()))


def read_sign_ins(lines: Iterable[str]) -> list[dict[str, Any]]:
    """Return the sign-ins, which `loaddemo` prints as one line of JSON."""
    for line in reversed(list(lines)):
        if line.startswith(("[", "{")):
            try:
                value = json.loads(line)
            except ValueError:
                continue
            found = value["sign_ins"] if isinstance(value, dict) else value
            return list(found)
    raise PlainError("The demo shop named no sign-ins.")


def sign_in_table(sign_ins: list[dict[str, Any]]) -> str:
    """Return one line per role: role, name, password."""
    rows = [(str(row["role"]), str(row["username"]), str(row["password"])) for row in sign_ins]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    lines = ["  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)) for row in rows]
    return "Sign in as (role, name, password):\n  " + "\n  ".join(line.rstrip() for line in lines)


def walk_one_build(shop: Shop) -> None:
    """Take one build from order to packet through services and worker, its progress on this terminal."""
    child = start_child(
        [sys.executable, "manage.py", "demowalk"],
        log=sys.stdout.fileno(),
        environment=shop.environment(),
        folder=CHECKOUT,
    )
    status = _wait_while_watching(child, shop)
    if status != 0:
        raise PlainError(f"The walk of the demo build stopped half-way. The logs are in {shop.folder.logs}.")


def _wait_while_watching(child: subprocess.Popen[bytes], shop: Shop) -> int:
    """A worker or broker that falls meanwhile is started again, as at any other time."""
    try:
        while True:
            try:
                return child.wait(0.3)
            except subprocess.TimeoutExpired:
                shop.look_once()
    except BaseException:
        child.kill()
        child.wait()
        raise
