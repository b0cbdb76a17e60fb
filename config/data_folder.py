"""
The folder where a machine without servers of its own keeps everything: database, queue, files.

Two small files in it hold passwords. `app.json` is what the web and worker processes may know;
`owner.json` is read by the supervisor and by `migrate` only.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from config.embedded.broker import Broker
from config.embedded.folders import make_folder, make_socket_folder, socket_folder
from config.embedded.plain_errors import explain_os_error
from config.embedded.postgres import APP_ROLE, DATABASE_NAME, OWNER_ROLE, Cluster

CHECKOUT = Path(__file__).resolve().parent.parent


def data_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Return the data folder: BAYWRIGHT_DATA, or `.baywright` in the checkout."""
    named = environment.get("BAYWRIGHT_DATA", "").strip()
    return Path(named).expanduser().resolve() if named else CHECKOUT / ".baywright"


class DataFolder:
    """Where each thing lies below the data folder, and the passwords kept there."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.logs = path / "logs"
        self.media = path / "media"
        self.lock = path / "lock"

    def make(self) -> None:
        """
        Create the folders and the passwords.

        The top is passable for root's sake: the database then runs under another account.
        """
        make_folder(self.path, mode=0o711 if os.geteuid() == 0 else 0o700)
        make_folder(self.logs)
        make_folder(self.media)
        make_socket_folder(self.path)
        _make_secrets(self.path / "app.json", ("database_password", "secret_key"))
        _make_secrets(self.path / "owner.json", ("database_password",))

    def cluster(self) -> Cluster:
        """Return the database cluster of this folder."""
        return Cluster(data=self.path / "postgres", sockets=socket_folder(self.path))

    def broker(self) -> Broker:
        """Return the broker of this folder."""
        return Broker(data=self.path / "broker", sockets=socket_folder(self.path))

    def app_secrets(self) -> dict[str, str]:
        """Return the app role's password and the signing key; before the first start, passing ones."""
        if not (self.path / "app.json").exists():
            return {"database_password": "not made yet", "secret_key": secrets.token_urlsafe(48)}
        return _read_secrets(self.path / "app.json")

    def owner_secrets(self) -> dict[str, str]:
        """Return the owner role's password."""
        return _read_secrets(self.path / "owner.json")

    def app_url(self) -> str:
        """Return the database's address for the web and worker processes."""
        return self.cluster().url(role=APP_ROLE, password=self.app_secrets()["database_password"])

    def owner_url(self, database: str = DATABASE_NAME) -> str:
        """Return the database's address for its owner."""
        password = self.owner_secrets()["database_password"]
        return self.cluster().url(role=OWNER_ROLE, password=password, database=database)


def _make_secrets(path: Path, names: tuple[str, ...]) -> None:
    """Made under another name first: a run killed meanwhile leaves no half of a file."""
    if path.exists():
        return
    fresh = path.with_suffix(".new")
    try:
        fresh.unlink(missing_ok=True)
        descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as stream:
            json.dump({name: secrets.token_urlsafe(48) for name in names}, stream)
            stream.flush()
            os.fsync(stream.fileno())
        fresh.rename(path)
    except OSError as error:
        raise explain_os_error(error, path=path) from error


def _read_secrets(path: Path) -> dict[str, str]:
    try:
        values: dict[str, str] = json.loads(path.read_text())
    except OSError as error:
        raise explain_os_error(error, path=path) from error
    return values
