"""Names are words: markup typed into any of them is shown as it was typed, on every page, drawing and link."""

from hashlib import sha256
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, models
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from builds.models import Build, Role
from builds.services import revisions
from builds.services.stored_files import open_stored
from config.database.tables import APPEND_ONLY
from config.testing.embedded import as_owner
from tests.factories.packets import make_ready_packet
from tests.factories.two_builds import TwoBuilds
from tests.rules_over_all_models.bad_inputs.files import PHOTO
from tests.rules_over_all_models.html_fields import read_html
from tests.rules_over_all_models.routes import ROUTES, Door
from tests.rules_over_all_models.strict_html import html_faults, is_html

pytestmark = pytest.mark.django_db

MARKUP = "<b data-hostile>\"'&</b><script>x</script>"
NAMES = frozenset(
    [
        "name",
        "title",
        "legend",
        "description",
        "place",
        "method",
        "note",
        "remark",
        "caption",
        "made_for",
        "contact_name",
        "purpose",
        "hook",
        "holder",
        "spot",
        "summary",
        "words",
        "reason",
        "short_name",
        "unit_number",
        "hold_note",
        "features",
        "closed_note",
        "guide",
        "disposition",
        "kept_at",
        "sealed_with",
        "condition",
        "authorised_by",
        "reference",
        "instrument",
        "why",
        "damage",
        "loose_property",
        "warning_lamps",
        "reading_name",
        "address",
    ]
)


@pytest.fixture(scope="module")
def hostile(shop: TwoBuilds) -> TwoBuilds:
    """The shop with markup in every name, and a packet that froze it."""
    with as_owner(connection), connection.cursor() as cursor:
        cursor.execute("set constraints all immediate")
        for table in APPEND_ONLY:
            cursor.execute(f"alter table {table} disable trigger user")
        for model in (*apps.get_app_config("builds").get_models(), *apps.get_app_config("inventory").get_models()):
            write_markup(model)
    build = Build.objects.get(pk=shop.own.build.pk)
    # not after the customer's link was made, which would hold back a quote that is blocked or of nothing
    revisions.release(build=build, summary=MARKUP, by=shop.people[Role.MANAGER], at=shop.own.handover.made_at)
    make_ready_packet(build, shop.people[Role.MANAGER], content=b"%PDF-1.7 of markup")
    return shop


def write_markup(model: type[models.Model]) -> None:
    for field in model._meta.concrete_fields:
        is_text = isinstance(field, models.CharField | models.TextField) and not field.choices
        if not is_text or field.name not in NAMES:
            continue
        unique = field.unique or any(field.name in getattr(item, "fields", ()) for item in model._meta.constraints)
        for row in model._default_manager.all():
            text = f"{row.pk}{MARKUP}" if unique else MARKUP
            model._default_manager.filter(pk=row.pk).update(**{field.name: text[: field.max_length or 200]})


def page_of(shop: TwoBuilds, name: str, query: str = "") -> HttpResponse:
    route, manager = ROUTES[name], shop.people[Role.MANAGER]
    client = Client()
    if Door.LINK not in route.guards.values():
        client.force_login(manager)
    return client.get(reverse(name, kwargs=route.fill(shop, manager)) + query)


def shows_as_typed(answer: HttpResponse) -> None:
    """No element of ours came out of a name, and no code."""
    assert html_faults(answer) == []
    elements = read_html(answer.content.decode()).all()
    assert [element.tag for element in elements if "data-hostile" in element.attributes] == []


FILES = ("stored-file", "customer-packet-file")
PAGES = [
    (name, query)
    for name, route in ROUTES.items()
    if "GET" in route.guards and name not in FILES
    for query in route.queries
    if "%00" not in query
]


@pytest.mark.parametrize(("name", "query"), PAGES)
def test_a_page_shows_markup_as_it_was_typed(name: str, query: str, hostile: TwoBuilds) -> None:
    answer = page_of(hostile, name, query)

    assert answer.status_code in (200, 302)
    if is_html(answer):
        shows_as_typed(answer)


@pytest.mark.parametrize(
    "name",
    ["build-list", "build-detail", "checklist", "floor-registers", "customer-list", "people", "stores", "bay-board", "yard",
     "packet", "customer-home", "customer-quote", "vehicle-record", "build-drawings", "condition-loads", "design-table", "power-tree",
     "what-if"],
)  # fmt: skip
def test_the_markup_is_really_there(name: str, hostile: TwoBuilds) -> None:
    text = page_of(hostile, name).content.decode()

    assert "&lt;b data-hostile&gt;" in text


def test_an_error_shows_markup_as_it_was_typed(hostile: TwoBuilds) -> None:
    client = Client()
    client.force_login(hostile.people[Role.MANAGER])

    for address in ("/builds/<b data-hostile>/", "/builds/?q=<b data-hostile>", "/stores/?q=<b data-hostile>", "/yard/?q=<b data-hostile>",
                    "/customers/?q=<b data-hostile>", "/builds/open/vin/?vin=<b data-hostile>"):  # fmt: skip
        shows_as_typed(client.get(address))


def test_what_is_stored_of_a_photo_is_a_picture_alone_under_its_own_hash(shop: TwoBuilds) -> None:
    client = Client()
    client.force_login(shop.people[PHOTO.who or Role.MANAGER])
    answer = client.post(PHOTO.address(shop), dict(PHOTO.data(shop)))

    assert answer.status_code == 302
    kept = shop.own.build.photos.order_by("-pk")[0].file
    with open_stored(kept) as opened:
        content = opened.read()
    assert sha256(content).hexdigest() == kept.sha256
    assert kept.name_in_store == f"{kept.sha256[:2]}/{kept.sha256}"
    assert b"script" not in content
    assert content.startswith(b"\xff\xd8") and content.endswith(b"\xff\xd9")
    served: Any = client.get(f"/files/{kept.sha256}/")
    assert served["Content-Type"] == "image/jpeg"
    assert served["X-Content-Type-Options"] == "nosniff"
    assert served.getvalue() == content
