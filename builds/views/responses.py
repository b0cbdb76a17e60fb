"""
Errors of services and permissions as answers: the one place where a BuildError becomes a page or a fragment.

A view lets such an error pass, unless it shows a form whose fields can carry the words. What a person then reads is the
error's own sentence: on a page of its own, or, where htmx asked, at the place for messages of the page they are on.
"""

import sys
from collections.abc import Callable

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import NON_FIELD_ERRORS, DisallowedHost
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.safestring import SafeString, mark_safe
from django.views.defaults import server_error

from builds.errors import BadInput, BuildError, NotAllowed, NotHere, StaleRow
from builds.services.refusals import no_room, unkeepable_text

__all__ = [
    "BuildErrorMiddleware",
    "add_errors",
    "answer_error",
    "answer_fault",
    "answer_parts",
    "answer_unreadable",
    "render_parts",
]

_SIGNED_OUT = "You are signed out. Sign in again in another window; what you typed is still here."
_TITLES = {
    403: "You may not do this",
    404: "This is not here",
    409: "This is not possible now",
    507: "There is no room left",
    422: "This could not be taken",
}


class BuildErrorMiddleware:
    """Answers every BuildError that a view lets pass."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the answer for a BuildError, nothing for any other error."""
        error = exception if isinstance(exception, BuildError) else unkeepable_text(exception) or no_room(exception)
        if isinstance(error, BadInput) and error is not exception and request.method in ("GET", "HEAD"):
            error = NotHere("There is no such thing.")  # no address and no search with such a text leads anywhere
        return None if error is None else answer_error(request, error)


def answer_fault(request: HttpRequest) -> HttpResponse:
    """Answer what nobody foresaw; a full disk met outside a view, where the session is kept, has its own words."""
    fault = sys.exception()
    error = no_room(fault) if fault is not None else None
    if error is None:
        return server_error(request)
    return render(request, "507.html", {"message": error.message}, status=error.status)


def answer_unreadable(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer what cannot be read, or came under a name that this shop does not go by."""
    name = request.META.get("HTTP_HOST", "") if isinstance(exception, DisallowedHost) else ""
    return HttpResponse(render_to_string("400.html", {"unknown_name": name}), status=400)


def answer_error(request: HttpRequest, error: BuildError) -> HttpResponse:
    """Return the page, or for htmx the fragment, that says why nothing was done."""
    asks_fragment = bool(getattr(request, "htmx", False))
    if isinstance(error, NotAllowed) and not request.user.is_authenticated:
        return _ask_to_sign_in(request, asks_fragment=asks_fragment)
    context = {
        "title": _TITLES.get(error.status, _TITLES[422]),
        "message": error.message,
        "fields": {} if error.message in error.fields.values() else error.fields,
        "back": _page_before(request),
        "was_sent": request.method not in ("GET", "HEAD"),
    }
    if not asks_fragment:
        return render(request, "builds/refused.html", context, status=error.status)
    response = render(request, "builds/refused.html#message", context, status=error.status)
    response["HX-Retarget"] = "#messages"
    response["HX-Reswap"] = "innerHTML"
    patch_vary_headers(response, ["HX-Request"])
    return response


def _ask_to_sign_in(request: HttpRequest, *, asks_fragment: bool) -> HttpResponse:
    if asks_fragment:
        return HttpResponse(_SIGNED_OUT, status=401, content_type="text/plain; charset=utf-8")
    wanted = request.get_full_path() if request.method == "GET" else "/"
    return redirect_to_login(wanted, reverse("sign-in"))


def _page_before(request: HttpRequest) -> str:
    """Return the address to go back to: the page a form was sent from, else the builds."""
    before = request.headers.get("Referer", "")
    start = f"{request.scheme}://{request.get_host()}/"
    return "/" + before.removeprefix(start).lstrip("/\\") if before.startswith(start) else "/"


def add_errors(form: BaseForm, error: BuildError) -> None:
    """Put the words of ``error`` at the fields of ``form``; words for a field it does not have go to its head."""
    fields = _conflict_words(error) if isinstance(error, StaleRow) else error.fields
    at_head = [] if error.fields and fields is error.fields else [error.message]
    for field, words in fields.items():
        name = field.replace(".", "__")
        if name in form.fields:
            form.add_error(name, words)
        else:
            at_head.append(words if len(fields) == 1 else f"{field.replace('_', ' ')}: {words}")
    for words in at_head:
        form.add_error(NON_FIELD_ERRORS, words)


def _conflict_words(error: StaleRow) -> dict[str, str]:
    """What the others wrote, field by field: the form still shows what this person typed."""
    return {item.field: f"It is {item.theirs or 'empty'} now. Keep again to set yours." for item in error.conflicts}


def render_parts(request: HttpRequest, template: str, names: list[str], context: dict[str, object]) -> SafeString:
    """Return several fragments of a page's own file, one after the other."""
    parts = (render_to_string(f"{template}#{name}", context, request) for name in names)
    return mark_safe("".join(parts))  # noqa: S308  each part is a rendered template


def answer_parts(
    request: HttpRequest, template: str, names: list[str], context: dict[str, object], *, status: int = 200
) -> HttpResponse:
    """Answer htmx with several fragments in one: the first for the target, the others swapped by their ids."""
    response = HttpResponse(render_parts(request, template, names, context), status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response
