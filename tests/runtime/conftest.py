"""Folders and ports for processes of their own."""

from __future__ import annotations

import shutil
import socket
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest


@pytest.fixture
def folder() -> Iterator[Path]:
    """A short, empty folder that other accounts may enter; pytest's own may not be entered."""
    made = Path(tempfile.mkdtemp(prefix="baywright-runtime-"))
    made.chmod(0o711)
    yield made
    shutil.rmtree(made, ignore_errors=True)


@pytest.fixture
def free_port() -> Callable[[], int]:
    """Return a function that finds a port which is free together with the next one."""

    def find() -> int:
        while True:
            with socket.socket() as first, socket.socket() as second:
                first.bind(("127.0.0.1", 0))
                port: int = first.getsockname()[1]
                try:
                    second.bind(("127.0.0.1", port + 1))
                except (OSError, OverflowError):
                    continue
                return port

    return find
