"""
Rendering queued packets, each exactly once however often and by however many workers it is tried.

A worker claims a row with an attempt number and a lease; every word of progress extends the lease, and the last update
asks for the same attempt. A worker that was killed leaves a lease that runs out; one that comes back late finds another
attempt's number on the row and gives up.
"""

import time
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from pathlib import Path

import structlog
from django.conf import settings
from django.contrib.staticfiles import finders
from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.db.models.expressions import Combinable
from django.db.models.functions import Now
from django.utils import timezone

from builds.documents.fingerprint import renderer_fingerprint
from builds.documents.packet import FrozenPacket, render_packet_pdf
from builds.documents.packet_input import read_packet_input
from builds.documents.progress import PageProgress, RenderCancelled, RenderFault
from builds.models import PacketIssue, StoredFile
from builds.services.actors import act_as
from builds.services.frozen_documents import text_of
from builds.services.revisions import design_of_revision
from builds.services.stored_files import open_stored, store_bytes

__all__ = ["MOST_ATTEMPTS", "frozen_packet", "render_packet", "stale_packets"]

log = structlog.get_logger(__name__)

MOST_ATTEMPTS = 5
_TELL_EVERY_S = 0.5
_QUEUED_LONG_S = 5
_State = PacketIssue.State


def render_packet(*, pk: int) -> str:
    """
    Render a packet if it is anybody's turn to, and return what became of the call.

    Returns
    -------
    str
        "ready", "failed" or "cancelled"; "not ours" where another worker has it or it is done, and where this attempt
        lost it while it rendered.
    """
    attempt = _claim(pk)
    if attempt is None:
        return "not ours"
    packet = PacketIssue.objects.select_related("as_built", "revision__document").get(pk=pk)
    teller = _Teller(pk, attempt)
    try:
        content = _rendered(packet, teller)
    except RenderCancelled:
        return _close(pk, attempt, _State.CANCELLED, "")
    except Exception as error:
        log.exception("packet failed", packet=pk, attempt=attempt)
        return _close(pk, attempt, _State.FAILED, _failure_words(error))
    except BaseException as error:
        if not _is_refused_address(error):
            raise
        return _close(pk, attempt, _State.FAILED, str(error))
    return _finish(pk, attempt, content)


def stale_packets() -> list[int]:
    """Return the packets that a worker should be nudged for: queued a while, or rendering with a lease run out."""
    waiting = Q(state=_State.QUEUED, issued_at__lt=Now() - timedelta(seconds=_QUEUED_LONG_S))
    abandoned = Q(state=_State.RENDERING, lease_until__lt=Now())
    return list(PacketIssue.objects.filter(waiting | abandoned).order_by("pk").values_list("pk", flat=True))


def frozen_packet(packet: PacketIssue) -> FrozenPacket:
    """Return all that a packet is made from."""
    return FrozenPacket(
        input=read_packet_input(text_of(packet.as_built)),
        input_sha256=packet.as_built_id,
        design=design_of_revision(packet.revision),
        design_text=text_of(packet.revision.document),
    )


def find_static(name: str) -> Path | None:
    """Return the path of a static file of the project."""
    found = finders.find(name)
    return Path(found) if isinstance(found, str) else None


def _rendered(packet: PacketIssue, tell: Callable[[PageProgress], None]) -> bytes:
    frozen = frozen_packet(packet)
    hashes = list(dict.fromkeys(photo.sha256 for photo in frozen.input.photos))
    files = StoredFile.objects.in_bulk(hashes, field_name="sha256")
    return render_packet_pdf(
        frozen,
        find_static=find_static,
        read_media={sha256: partial(_read_photo, files.get(sha256)) for sha256 in hashes},
        tell=tell,
    )


def _read_photo(file: StoredFile | None) -> bytes:
    if file is None:
        raise FileNotFoundError("no such file")
    with open_stored(file) as opened:
        return opened.read()


def _claim(pk: int) -> int | None:
    """Take the row for one attempt, or return None where it is not free; give it up for good after too many attempts."""
    free = Q(state=_State.QUEUED) | Q(state=_State.RENDERING, lease_until__lt=Now())
    with transaction.atomic():
        act_as(None)
        claimed = PacketIssue.objects.filter(free, pk=pk, cancel_wanted=False, attempt__lt=MOST_ATTEMPTS).update(
            state=_State.RENDERING, attempt=F("attempt") + 1, lease_until=_lease(), progress_words="Being prepared",
            progress_page=0, progress_pages=None,
        )  # fmt: skip
        if claimed:
            return PacketIssue.objects.values_list("attempt", flat=True).get(pk=pk)
        now = timezone.now()
        PacketIssue.objects.filter(free, pk=pk, cancel_wanted=True).update(state=_State.CANCELLED, finished_at=now)
        PacketIssue.objects.filter(free, pk=pk, attempt__gte=MOST_ATTEMPTS).update(
            state=_State.FAILED, finished_at=now,
            failure=f"The worker ended {MOST_ATTEMPTS} times while it rendered this packet. Nothing else is lost.",
        )  # fmt: skip
    return None


def _lease() -> Combinable:
    return Now() + timedelta(seconds=settings.PACKET_LEASE_SECONDS)


class _Teller:
    """Writes progress to the row at most twice a second; each time it learns whether the row is still its own."""

    def __init__(self, pk: int, attempt: int) -> None:
        self.pk = pk
        self.attempt = attempt
        self.told_at = 0.0

    def __call__(self, progress: PageProgress) -> None:
        now = time.monotonic()
        if now - self.told_at < _TELL_EVERY_S:
            return
        self.told_at = now
        ours = _ours(self.pk, self.attempt).filter(cancel_wanted=False)
        kept = ours.update(
            progress_words=progress.words,
            progress_page=progress.page,
            progress_pages=progress.pages,
            lease_until=_lease(),
        )
        if not kept:
            raise RenderCancelled("Cancelled, or taken over by another attempt.")


def _ours(pk: int, attempt: int) -> QuerySet[PacketIssue]:
    return PacketIssue.objects.filter(pk=pk, attempt=attempt, state=_State.RENDERING)


def _finish(pk: int, attempt: int, content: bytes) -> str:
    """Store the file and put it on the row, together, if the row is still this attempt's."""
    now = timezone.now()
    file = store_bytes(content=content, content_type="application/pdf", at=now)
    with transaction.atomic():
        act_as(None)
        done = _ours(pk, attempt).filter(cancel_wanted=False).update(
            state=_State.READY, file=file, finished_at=now, fingerprint=renderer_fingerprint(), failure="", lease_until=None,
            progress_words="",
        )  # fmt: skip
    return "ready" if done else _close(pk, attempt, _State.CANCELLED, "")


def _close(pk: int, attempt: int, state: PacketIssue.State, failure: str) -> str:
    with transaction.atomic():
        act_as(None)
        closed = _ours(pk, attempt).update(
            state=state, failure=failure[:300], finished_at=timezone.now(), lease_until=None, progress_words=""
        )
    return str(state) if closed else "not ours"


def _failure_words(error: Exception) -> str:
    if type(error).__name__ == "SoftTimeLimitExceeded":
        return "It took longer than the time a packet may take. Nothing else is lost."
    what = f"{error}" if isinstance(error, RenderFault) else type(error).__name__
    return f"The renderer stopped: {what}. Nothing else is lost; the log has the details."


def _is_refused_address(error: BaseException) -> bool:
    """Whether the fetcher ended the render; its class is known only where the renderer could be imported."""
    from builds.documents.fetcher import RefusedAddress  # noqa: PLC0415  needs the renderer's system libraries

    return isinstance(error, RefusedAddress)
