"""Pages that exist only for the look's browser test: the look pages, and a row to edit with a figure that follows."""

from django.http import HttpRequest, HttpResponse, JsonResponse, StreamingHttpResponse
from django.shortcuts import render
from django.template import engines
from django.urls import path

from config.styleguide import sample_context

PAGES = ("styleguide", "styleguide_floor", "styleguide_customer", "styleguide_board", "404")


class Visitor:
    """Stands in for a signed-in person: the look is the same for everyone."""

    is_authenticated = True

    def __str__(self) -> str:
        return "M. Vale"

    def get_role_display(self) -> str:
        return "designer"


TRY_PAGE = """{% extends "base.html" %}{% load figures %}
{% block strip %}<div class="strip" id="strip">STRIP</div>{% endblock %}
{% block content %}
<p class="live" data-design-version="1" data-events-url="{{ events }}" data-version-url="/version/"><span data-live-words></span></p>
<section class="sheet"><table class="table"><tbody id="rows">ROW</tbody></table></section>
<div id="others" hx-get="/others/" hx-trigger="design-changed from:body">as it was</div>
<button class="button" type="button" id="fails" hx-post="/fails/" hx-target="#others">Fail</button>
<button class="button" type="button" id="refused" hx-post="/refused/" hx-target="#others">Refuse</button>
{% endblock %}"""
ROW = """<tr id="row"><td><button class="cell-edit" type="button" data-cell="201-load" hx-get="/row/edit/" hx-target="#row" hx-swap="outerHTML">3.8</button></td></tr>"""
EDIT = """<tr id="row" class="editing" data-edit><td><input class="control" name="load" aria-label="Load, A" data-field-for="201-load" value="3.8">
<button class="button" type="button" data-keep hx-post="/row/keep/" hx-include="#row" hx-target="#row" hx-swap="outerHTML">Keep</button>
<button class="button" type="button" data-put-back hx-get="/row/" hx-target="#row" hx-swap="outerHTML">Put back</button></td></tr>"""
FIGURE = """<div class="strip-figure" data-figure="load"><span class="label">Load</span><span class="strip-value" data-changed>%s A</span></div>"""


def look_page(request: HttpRequest, name: str) -> HttpResponse:
    request.user = Visitor()  # type: ignore[assignment]
    return render(request, f"{name}.html", sample_context())


def try_page(request: HttpRequest) -> HttpResponse:
    request.user = Visitor()  # type: ignore[assignment]
    text = TRY_PAGE.replace("STRIP", FIGURE % "3.8").replace("ROW", ROW)
    return HttpResponse(engines["django"].from_string(text).render({"events": request.GET.get("events", "")}, request))


def keep(request: HttpRequest) -> HttpResponse:
    load = request.POST["load"]
    strip = f'<div class="strip" id="strip" hx-swap-oob="true">{FIGURE % load}</div>'
    return HttpResponse(ROW.replace("3.8", load) + strip)


def events(request: HttpRequest) -> StreamingHttpResponse:
    news = b'event: design\ndata: {"build": "2614", "design_version": 2}\n\n'
    return StreamingHttpResponse(iter([b"retry: 60000\n\n", news]), content_type="text/event-stream")


urlpatterns = [
    *(path(f"{name}/", look_page, {"name": name}) for name in PAGES),
    path("try/", try_page),
    path("row/", lambda request: HttpResponse(ROW)),
    path("row/edit/", lambda request: HttpResponse(EDIT)),
    path("row/keep/", keep),
    path("others/", lambda request: HttpResponse("as someone else left it")),
    path("version/", lambda request: JsonResponse({"design_version": int(request.COOKIES.get("version", 1))})),
    path("events/", events),
    path("fails/", lambda request: HttpResponse("traceback", status=500)),
    path("refused/", lambda request: HttpResponse("Type a figure.", status=422)),
    path("builds/", lambda request: HttpResponse(""), name="build-list"),
    path("bays/", lambda request: HttpResponse(""), name="bay-board"),
    path("yard/", lambda request: HttpResponse(""), name="yard"),
    path("stores/", lambda request: HttpResponse(""), name="stores"),
    path("customers/", lambda request: HttpResponse(""), name="customer-list"),
    path("sign-in/", lambda request: HttpResponse(""), name="sign-in"),
    path("sign-out/", lambda request: HttpResponse(""), name="sign-out"),
]
