"""Stored files, by their hash: served to whoever may see what they belong to, and to nobody else."""

from django.http import FileResponse, HttpRequest, HttpResponseNotModified
from django.http.response import HttpResponseBase
from django.views.decorators.http import require_safe

from builds.errors import NotHere
from builds.permissions import Action, check_may
from builds.selectors.stored_files import find_file
from builds.services.stored_files import open_stored

__all__ = ["stored_file"]

# What a browser may show by itself; anything else is saved, never run.
_SHOWN = frozenset({"image/jpeg", "application/pdf"})
_YEAR_S = 365 * 24 * 3600


@require_safe
def stored_file(request: HttpRequest, sha256: str) -> HttpResponseBase:
    """Serve one file."""
    check_may(request.user, Action.SEE_BUILDS)
    found = find_file(sha256)
    if found is None:
        raise NotHere("There is no such file.")
    check_may(request.user, Action.SEE_PACKET if found.is_packet else Action.SEE_BUILDS)
    tag = f'"{found.file.sha256}"'
    if request.headers.get("If-None-Match") == tag:
        return _guarded(HttpResponseNotModified(), tag)
    try:
        content = open_stored(found.file)
    except FileNotFoundError as error:
        raise NotHere("The store has lost this file. Tell whoever keeps the backups.") from error
    as_attachment = found.file.content_type not in _SHOWN
    response = FileResponse(
        content, content_type=found.file.content_type, filename=found.name, as_attachment=as_attachment
    )
    return _guarded(response, tag)


def _guarded(response: HttpResponseBase, tag: str) -> HttpResponseBase:
    """Let only this person's browser keep it, and let no browser guess what it is."""
    response["ETag"] = tag
    response["Cache-Control"] = f"private, max-age={_YEAR_S}, immutable"
    response["X-Content-Type-Options"] = "nosniff"
    return response
