"""What is looked at before anything starts, so that the reason comes in words."""

from __future__ import annotations

import errno
import shutil
import socket
import ssl
import time
from pathlib import Path

from config.embedded.plain_errors import PlainError, explain_os_error

LEAST_FREE_MB = 200


def require_free_port(host: str, port: int, *, option: str, patience_s: float = 0.0) -> None:
    """
    Raise PlainError when nothing can listen on `host` and `port`.

    `patience_s` covers a process of a killed run that is just letting go of it.
    """
    deadline = time.monotonic() + patience_s
    while True:
        try:
            _listen_once(host, port)
        except OSError as error:
            if error.errno == errno.EADDRINUSE and time.monotonic() < deadline:
                time.sleep(0.1)
                continue
            raise _explain_port(error, host, port, option) from error
        return


def _listen_once(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind((host, port))
        probe.listen(1)


def _explain_port(error: OSError, host: str, port: int, option: str) -> PlainError:
    if error.errno == errno.EADDRINUSE:
        return PlainError(
            f"Port {port} is in use by another program. Stop that program, or choose another port with {option}."
        )
    if error.errno in (errno.EACCES, errno.EPERM):
        return PlainError(f"This account may not listen on port {port}. Choose one above 1023 with {option}.")
    return PlainError(f"{host} is no address of this machine. Name one that is with --host, or leave it out.")


def require_disk_space(folder: Path) -> None:
    """Raise PlainError when the disk below `folder` is about to run full."""
    try:
        free_mb = shutil.disk_usage(folder).free // 1_000_000
    except OSError as error:
        raise explain_os_error(error, path=folder) from error
    if free_mb < LEAST_FREE_MB:
        raise PlainError(
            f"The disk that holds {folder} has {free_mb} MB left, and Baywright starts with at least "
            f"{LEAST_FREE_MB}. Free some space, or set BAYWRIGHT_DATA to a folder on another disk."
        )


def free_mb(folder: Path) -> int | None:
    """Return the megabytes left on the disk below `folder`, None where it cannot be asked."""
    try:
        return shutil.disk_usage(folder).free // 1_000_000
    except OSError:
        return None


def require_certificate(certificate: Path, key: Path) -> None:
    """Raise PlainError when a certificate and its key cannot be read, are no such things, or do not belong together."""
    require_readable(certificate, what="certificate")
    require_readable(key, what="key")
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password="")
    except (ssl.SSLError, ValueError) as error:
        raise PlainError(
            f"{certificate} and {key} are not a certificate and its key. Give the certificate first, then its own key "
            "without a password, both as PEM files: --tls cert.pem key.pem."
        ) from error


def require_readable(path: Path, *, what: str) -> None:
    """Raise PlainError when the file `path` cannot be read."""
    try:
        path.open("rb").close()
    except OSError as error:
        reason = (error.strerror or "no reason").lower()
        raise PlainError(f"The {what} {path} cannot be read: {reason}. Name another.") from error
