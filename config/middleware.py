"""Middleware of the project itself."""

from __future__ import annotations

import time
from collections.abc import Callable

import structlog
from django.conf import settings
from django.http import HttpRequest, HttpResponse

log = structlog.get_logger(__name__)
READS = ("GET", "HEAD", "OPTIONS")


def events_origin(request: HttpRequest) -> str:
    """Return the origin of the event process as this browser reaches it, or an empty text."""
    if settings.EVENTS_ORIGIN:
        return str(settings.EVENTS_ORIGIN)
    if not settings.EVENTS_PORT:
        return ""
    host = request.get_host()
    name = host.rsplit(":", 1)[0] if not host.endswith("]") else host
    return f"{request.scheme}://{name}:{settings.EVENTS_PORT}"


class EventStreamMiddleware:
    """Lets pages listen to the event process, which has a port of its own, and to nothing else."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        origin = events_origin(request)
        request.events_origin = origin  # type: ignore[attr-defined]
        response = self.get_response(request)
        if origin:
            response._csp_update = {"connect-src": [origin]}  # type: ignore[attr-defined]
        return response


class ChangeLogMiddleware:
    """Logs one line for everything that was sent to be kept: who, to which page, about which build, and the answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method in READS:
            return self.get_response(request)
        began = time.perf_counter()
        response = self.get_response(request)
        found = request.resolver_match
        log.info(
            "sent",
            person=str(getattr(request, "_cached_user", None) or "") or None,  # of no use to ask who nobody asked for
            page=found.view_name if found else None,
            build=found.kwargs.get("number") if found else None,
            status=response.status_code,
            ms=round((time.perf_counter() - began) * 1000),
        )
        return response
