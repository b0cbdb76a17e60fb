"""
Background work: each task takes a key and calls one service, and may run twice.

Rows are the truth. ``nudge`` tells a worker to look at one, after the commit that wrote it; where the broker does not
answer, the edit is still saved and ``sweep`` sends the nudge later.
"""

from collections.abc import Callable
from functools import partial

import structlog
from celery import shared_task
from django.conf import settings
from django.db import transaction
from kombu import Connection
from kombu.exceptions import OperationalError

from builds.services.packet_rendering import render_packet as render_packet_service
from builds.services.packet_rendering import stale_packets

__all__ = ["nudge", "render_packet", "sweep"]

log = structlog.get_logger(__name__)

_ANSWER_S = 0.5


@shared_task(name="builds.tasks.render_packet", ignore_result=True)
def render_packet(pk: int) -> str:
    """Render the packet with this key, if it is still to be rendered."""
    return render_packet_service(pk=pk)


@shared_task(name="builds.tasks.sweep", ignore_result=True)
def sweep() -> int:
    """Nudge again for every row whose nudge may have been lost or whose worker is gone; safe to run at any time."""
    waiting = stale_packets()
    for pk in waiting:
        _send("packet", pk)
    return len(waiting)


_TASKS: dict[str, Callable[..., object]] = {"packet": render_packet.apply_async}


def nudge(kind: str, pk: int) -> None:
    """
    Tell a worker, after the present transaction commits, to look at a row.

    Parameters
    ----------
    kind : str
        What sort of row: "packet".
    pk : int
        Its key.

    Notes
    -----
    A broker that does not answer within half a second is a line in the log, never an error: the row is saved.
    """
    transaction.on_commit(partial(_send, kind, pk), robust=True)


def _send(kind: str, pk: int) -> None:
    try:
        with _connection() as connection:
            _TASKS[kind](args=(pk,), connection=connection, retry=False)
    except (OperationalError, OSError) as error:
        log.warning("broker does not answer", kind=kind, pk=pk, error=type(error).__name__)


def _connection() -> Connection:
    """A connection of its own that tries once: the pool's would wait for the broker to come back."""
    return Connection(
        settings.CELERY_BROKER_URL,
        connect_timeout=_ANSWER_S,
        transport_options={"socket_connect_timeout": _ANSWER_S, "socket_timeout": 2 * _ANSWER_S, "max_retries": 0},
    )
