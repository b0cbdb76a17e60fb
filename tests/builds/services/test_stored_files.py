"""Files by their content."""

import hashlib
import os
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.db import transaction

from builds.models import StoredFile
from builds.services import stored_files
from builds.services.stored_files import open_stored, store_bytes
from tests.factories.builds import AT

pytestmark = pytest.mark.django_db


def test_content_is_kept_under_its_hash() -> None:
    file = store_bytes(b"packet one", "application/pdf", AT)

    sha256 = hashlib.sha256(b"packet one").hexdigest()
    assert (file.sha256, file.name_in_store, file.size_bytes) == (sha256, f"{sha256[:2]}/{sha256}", 10)
    with open_stored(file) as content:
        assert content.read() == b"packet one"


def test_same_content_is_kept_once() -> None:
    first = store_bytes(b"the same", "image/jpeg", AT)
    second = store_bytes(b"the same", "image/jpeg", AT)

    assert first.pk == second.pk
    assert StoredFile.objects.count() == 1


def test_nothing_to_store_is_an_error() -> None:
    with pytest.raises(ValueError, match="nothing to store"):
        store_bytes(b"", "image/jpeg", AT)


def test_half_written_file_of_an_earlier_crash_is_replaced() -> None:
    sha256 = hashlib.sha256(b"whole content").hexdigest()
    left = Path(default_storage.path(f"{sha256[:2]}/{sha256}"))
    left.parent.mkdir(parents=True, exist_ok=True)
    left.write_bytes(b"whole")

    file = store_bytes(b"whole content", "image/jpeg", AT)

    with open_stored(file) as content:
        assert content.read() == b"whole content"


def test_file_and_folder_are_durable_before_the_row_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    real_sync, real_create = os.fsync, StoredFile.objects.get_or_create

    def sync(handle: int) -> None:
        done.append("folder" if Path(f"/proc/self/fd/{handle}").is_dir() else "file")
        real_sync(handle)

    def create(**values: object) -> tuple[StoredFile, bool]:
        done.append("row")
        return real_create(**values)

    monkeypatch.setattr(stored_files.os, "fsync", sync)
    monkeypatch.setattr(StoredFile.objects, "get_or_create", create)

    store_bytes(b"durable", "image/jpeg", AT)

    assert done[0] == "file" and done[-1] == "row"
    assert "folder" in done[1:-1]


def test_failed_write_leaves_neither_file_nor_row(monkeypatch: pytest.MonkeyPatch) -> None:
    def full_disk(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(stored_files.Path, "replace", full_disk)
    sha256 = hashlib.sha256(b"too much").hexdigest()

    with pytest.raises(OSError, match="No space left"), transaction.atomic():
        store_bytes(b"too much", "image/jpeg", AT)

    folder = Path(default_storage.path(sha256[:2]))
    assert not StoredFile.objects.filter(sha256=sha256).exists()
    assert not (folder / sha256).exists()
    assert not list(folder.glob(".coming-*"))
