"""
A cluster with the tables made, kept between test runs so that not every one has to migrate anew.

It lies in the temporary folder under a digest of everything the tables come from: migrations, the
database's own rules, the pinned packages. Another digest makes another one. Each run works on a copy
and creates its databases from the one in it; Django migrates those too, and finds nothing to do.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from config.data_folder import CHECKOUT
from config.embedded.postgres import Cluster

TEMPLATE_DATABASE = "baywright_tables"
PREFIX = "baywright-tables"
KEPT_DAYS = 2
SOURCES = (
    "builds/migrations/*.py",
    "inventory/migrations/*.py",
    "config/database/*",
    "config/postgresql.py",
    "requirements.txt",
)


def copy_cluster(target: Path, *, prepare: Callable[[Cluster], None], address: Callable[[Cluster, str], str]) -> bool:
    """
    Put a copy of the cluster with tables at `target` and return whether that worked.

    `prepare` gets a cluster that has just started for the first time, `address` gives a database's
    address in it. Where the tables cannot be made, the caller goes without: the run then shows why.
    """
    with _locked():
        kept = _kept_folder()
        if not kept.exists() and not _make(kept, prepare=prepare, address=address):
            return False
        _remove_old(but=kept)
        os.utime(kept)
        # Owners and modes stay: the database refuses a folder that others may read.
        copied = subprocess.run(["cp", "-a", str(kept / "postgres"), str(target)], check=False, capture_output=True)
    return copied.returncode == 0


def _make(kept: Path, *, prepare: Callable[[Cluster], None], address: Callable[[Cluster, str], str]) -> bool:
    fresh = kept.with_suffix(".new")
    shutil.rmtree(fresh, ignore_errors=True)
    (fresh / "run").mkdir(parents=True)
    for folder in (fresh, fresh / "run"):
        folder.chmod(0o711)
    cluster = Cluster(data=fresh / "postgres", sockets=fresh / "run", throwaway=True)
    log = fresh / "postgres.log"
    cluster.make(owner_password="owner", log=log)  # noqa: S106  (of a database that only tests see)
    cluster.start(log=log)
    try:
        prepare(cluster)
        made = _migrate(address(cluster, TEMPLATE_DATABASE), log=fresh / "migrate.log")
    finally:
        cluster.stop()
    if made:
        fresh.rename(kept)
    return made


def _migrate(url: str, *, log: Path) -> bool:
    environment = {**os.environ, "DATABASE_URL": url, "BROKER_URL": "memory://"}
    with log.open("wb") as stream:
        done = subprocess.run(
            [sys.executable, "manage.py", "migrate"],
            cwd=CHECKOUT,
            env=environment,
            stdout=stream,
            stderr=subprocess.STDOUT,
            check=False,
        )
    return done.returncode == 0


def _kept_folder() -> Path:
    digest = hashlib.sha256(str(CHECKOUT).encode())
    for pattern in SOURCES:
        for path in sorted(CHECKOUT.glob(pattern)):
            if path.is_file():
                digest.update(path.read_bytes())
    return Path(tempfile.gettempdir()) / f"{PREFIX}-{os.geteuid()}-{digest.hexdigest()[:16]}"


def _remove_old(*, but: Path) -> None:
    for folder in but.parent.glob(f"{PREFIX}-{os.geteuid()}-*"):
        if folder != but and time.time() - folder.stat().st_mtime > KEPT_DAYS * 86400:
            shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _locked() -> Iterator[None]:
    """One run makes it, the others wait. The file belongs to this account, in a folder where anyone may write."""
    path = Path(tempfile.gettempdir()) / f"{PREFIX}-{os.geteuid()}.lock"
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o600)
    with os.fdopen(descriptor, "w") as stream:
        fcntl.flock(stream, fcntl.LOCK_EX)
        yield
