"""A running `serve`, and what is left of it afterwards."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.embedded.processes import processes_marked, processes_working_in, wait_until_gone
from config.supervisor.servers import RUN_MARK
from tests.runtime.running import CHECKOUT, clean_environment

UP = "Baywright is at"


@contextlib.contextmanager
def serving(data: Path, port: int, *more: str) -> Iterator[subprocess.Popen[str]]:
    """A running `serve`, killed at the end if it still runs."""
    process = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port), *more],
        cwd=CHECKOUT,
        env=clean_environment(BAYWRIGHT_DATA=str(data), PYTHONUNBUFFERED="1"),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert process.stdout is not None
    lines = []
    try:
        for line in process.stdout:
            lines.append(line)
            if UP in line:
                break
        else:
            pytest.fail("did not come up: " + "".join(lines))
        yield process
    finally:
        process.kill()
        process.communicate()
        assert nothing_left(data)


def left(data: Path) -> list[int]:
    """Return what runs on this data folder."""
    return processes_marked(RUN_MARK, str(data)) + processes_working_in(data / "postgres")


def nothing_left(data: Path, patience_s: float = 12) -> bool:
    """Wait until nothing runs on this data folder."""
    return not wait_until_gone(lambda: left(data), patience_s=patience_s)
