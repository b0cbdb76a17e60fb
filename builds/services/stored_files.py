"""
Files by their content: written once under the SHA-256 of their bytes, never changed, served only through a view.

The bytes are on the disk (or with the object store) before the row that names them can be committed: a row never points
at something that a power cut took away. A transaction that is rolled back leaves bytes that no row names, which harms
nobody and is found again when the same content comes back.
"""

import hashlib
import os
import tempfile
from datetime import datetime
from pathlib import Path
from typing import IO

from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, Storage, default_storage
from django.db import transaction

from builds.models import StoredFile

__all__ = ["name_in_store", "open_stored", "store_bytes"]


def store_bytes(content: bytes, content_type: str, at: datetime) -> StoredFile:
    """
    Keep ``content`` and return its row; the same bytes are kept once, whoever brings them.

    Parameters
    ----------
    content : bytes
        What is kept; at least one byte.
    content_type : str
        The media type it is served as ("image/jpeg", "application/pdf"); the first to bring the bytes decides.
    at : datetime
        When it came, in UTC.
    """
    if not content:
        raise ValueError("There is nothing to store.")
    sha256 = hashlib.sha256(content).hexdigest()
    known = StoredFile.objects.filter(sha256=sha256).first()
    if known is not None:
        return known
    name = _write(default_storage, name_in_store(sha256), content)
    with transaction.atomic():
        row, _ = StoredFile.objects.get_or_create(
            sha256=sha256,
            defaults={"name_in_store": name, "content_type": content_type, "size_bytes": len(content), "stored_at": at},
        )
    return row


def name_in_store(sha256: str) -> str:
    """Return where a content lies: 256 folders keep each of them small."""
    return f"{sha256[:2]}/{sha256}"


def open_stored(file: StoredFile) -> IO[bytes]:
    """Open a stored content for reading. Raises FileNotFoundError if the store has lost it."""
    return default_storage.open(file.name_in_store, "rb")


def _write(storage: Storage, name: str, content: bytes) -> str:
    # default_storage is a lazy proxy: isinstance sees through it, and a folder can be made durable by ourselves.
    if isinstance(storage, FileSystemStorage):
        _write_durably(Path(storage.path(name)), content, storage.file_permissions_mode)
        return name
    if storage.exists(name):
        return name
    return storage.save(name, ContentFile(content))


def _write_durably(path: Path, content: bytes, mode: int | None) -> None:
    """Write beside the place and move into it: whoever looks sees all of the content or none."""
    made = _make_folders(path.parent)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".coming-")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o640 if mode is None else mode)
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    for folder in {path.parent, *made}:
        _sync_folder(folder)


def _make_folders(folder: Path) -> list[Path]:
    """Make missing folders; return the ones whose listing changed."""
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return [place.parent for place in missing]


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
