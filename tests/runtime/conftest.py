"""Folders and ports for processes of their own."""

from __future__ import annotations

import random
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
    """
    Return a function that finds a port which is free together with the next one.

    It lies below those that a system hands out for connections of its own: while a shop is down, one of them could take
    its port, or a client that tries again and again could end up connected to itself.
    """

    def find() -> int:
        while True:
            port = random.randrange(12_000, 32_000, 2)
            with socket.socket() as first, socket.socket() as second:
                try:
                    first.bind(("127.0.0.1", port))
                    second.bind(("127.0.0.1", port + 1))
                except OSError:
                    continue
                return port

    return find
