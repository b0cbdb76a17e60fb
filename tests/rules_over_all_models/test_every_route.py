"""Every route, every role and nobody, own things and others': who may gets in, who may not is refused, nothing breaks."""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from builds.models import Person, Role
from builds.permissions import may
from tests.factories.two_builds import TwoBuilds
from tests.rules_over_all_models.routes import ROUTES, Door, Guard, Route, names_of_resolver
from tests.rules_over_all_models.rows import row_counts
from tests.rules_over_all_models.strict_html import header_faults, html_faults, is_html

pytestmark = pytest.mark.django_db

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
each_route = pytest.mark.parametrize("name", ROUTES)


class Walker:
    """Asks for pages as someone, or as nobody; nothing of what an answer did is kept."""

    def __init__(self, shop: TwoBuilds) -> None:
        self.sessions: dict[Role | None, str] = {}
        for role, person in shop.people.items():
            client = Client()
            client.force_login(person)
            self.sessions[role] = client.cookies[settings.SESSION_COOKIE_NAME].value
        self.counts = row_counts()

    def client(self, role: Role | None, *, checks_csrf: bool = False) -> Client:
        """A browser of this person; an error of the program is an answer 500, as on the site."""
        client = Client(enforce_csrf_checks=checks_csrf, raise_request_exception=False)
        if role in self.sessions:
            client.cookies[settings.SESSION_COOKIE_NAME] = self.sessions[role]
        return client

    def ask(
        self, role: Role | None, method: str, address: str, route: Route, *, body: Mapping[str, str] | None = None,
        checks_csrf: bool = False, **headers: str,
    ) -> HttpResponse:  # fmt: skip
        """Return the answer, read to its end; one that refuses or only shows has written no row."""
        more: dict[str, Any] = {"data": body or {}}
        if route.json is not None or method in ("PUT", "PATCH", "DELETE"):
            more = {"data": json.dumps(route.json or {}), "content_type": "application/json"}
        if method == "GET":
            more = {}
        if method == "DELETE":
            address += "?row_version=1"
        where = f"{method} {address} as {role or 'nobody'}"
        with taken_back():
            client = self.client(role, checks_csrf=checks_csrf)
            response = getattr(client, method.lower())(address, headers=headers, **more)
            read_through(response)
            if method == "GET" or response.status_code >= 400:
                assert (where, row_counts()) == (where, self.counts)
        assert response.status_code < 500, f"{where} broke: {response.status_code}"
        check_form(response, route, where)
        return response


@pytest.fixture(scope="module")
def walker(shop: TwoBuilds) -> Walker:
    return Walker(shop)


@contextmanager
def taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def read_through(response: HttpResponse) -> None:
    """Read an answer that streams to its end, which closes its file."""
    if response.streaming:
        response.getvalue()


def check_form(response: HttpResponse, route: Route, where: str) -> None:
    """What every answer must be like, whoever asked: no inline code, the headers a browser needs."""
    by_link = Door.LINK in route.guards.values()
    if is_html(response):
        assert (where, html_faults(response)) == (where, [])
    if is_html(response) or (by_link and response.status_code != 405):
        assert (where, header_faults(response, by_link=by_link)) == (where, [])


def lets_in(guard: Guard, person: Person, *, own: bool) -> bool:
    return True if isinstance(guard, Door) else may(person, guard, own=own)


def test_every_route_is_in_the_table() -> None:
    assert sorted(names_of_resolver()) == sorted(ROUTES)


@each_route
def test_those_who_may_get_in_and_nobody_else(name: str, shop: TwoBuilds, walker: Walker) -> None:
    route = ROUTES[name]
    for role, person in shop.people.items():
        for fill in filter(None, (route.fill, route.not_own)):
            own = route.not_own is not None and fill is route.fill
            address = reverse(name, kwargs=fill(shop, person))
            for method, guard, body in visits(route):
                query = route.queries[0] if method == "GET" else ""
                answer = walker.ask(role, method, address + query, route, body=body)
                judge(answer, lets_in(guard, person, own=own), f"{method} {address} {body or ''} as {role}")


def visits(route: Route) -> Iterator[tuple[str, Guard, Mapping[str, str] | None]]:
    for method, guard in route.guards.items():
        yield method, guard, None
    for case in route.cases:
        yield case.method, case.guard, case.body


def judge(answer: HttpResponse, allowed: bool, where: str) -> None:
    if not allowed:
        assert answer.status_code == 403, f"{where} should be refused, answered {answer.status_code}"
    elif where.startswith("GET"):
        assert answer.status_code < 400, f"{where} should be answered, is {answer.status_code}"
    else:
        assert answer.status_code != 403, f"{where} should not be refused"


@each_route
def test_someone_signed_out_is_asked_to_sign_in(name: str, shop: TwoBuilds, walker: Walker) -> None:
    route = ROUTES[name]
    address = reverse(name, kwargs=route.fill(shop, shop.people[Role.MANAGER]))
    for method, guard in route.guards.items():
        for headers in ({}, {"HX-Request": "true"}):
            answer = walker.ask(None, method, address, route, **headers)
            if isinstance(guard, Door):
                assert answer.status_code < 400 or method != "GET", f"{method} {address}: {answer.status_code}"
            elif answer.status_code != 401:
                assert answer.status_code == 302, f"{method} {address} for nobody: {answer.status_code}"
                assert answer["Location"].startswith("/sign-in/?next=")


@each_route
def test_a_thing_of_another_build_is_not_here(name: str, shop: TwoBuilds, walker: Walker) -> None:
    route = ROUTES[name]
    for fill in route.foreign:
        address = reverse(name, kwargs=fill(shop, shop.people[Role.MANAGER]))
        for method in route.guards:
            answer = walker.ask(Role.MANAGER, method, address, route)
            assert answer.status_code == 404, f"{method} {address} answered {answer.status_code}"


@each_route
def test_methods_a_route_does_not_have_are_refused(name: str, shop: TwoBuilds, walker: Walker) -> None:
    route = ROUTES[name]
    address = reverse(name, kwargs=route.fill(shop, shop.people[Role.MANAGER]))
    for method in METHODS:
        if method not in route.guards:
            answer = walker.ask(Role.MANAGER, method, address, route)
            assert answer.status_code == 405, f"{method} {address} answered {answer.status_code}"


@each_route
def test_changes_without_a_csrf_token_are_refused(name: str, shop: TwoBuilds, walker: Walker) -> None:
    route = ROUTES[name]
    address = reverse(name, kwargs=route.fill(shop, shop.people[Role.MANAGER]))
    for method, guard in route.guards.items():
        # Who holds a link's token has all the right there is, and no cookie adds any: nothing to forge for another site.
        if method == "GET" or guard is Door.LINK:
            continue
        for headers in ({}, {"X-CSRFToken": "a" * 64}, {"HX-Request": "true"}):
            answer = walker.ask(Role.MANAGER, method, address, route, checks_csrf=True, **headers)
            assert answer.status_code == 403, f"{method} {address} without a token answered {answer.status_code}"


@each_route
def test_an_empty_form_is_not_taken_in_silence(name: str, shop: TwoBuilds, walker: Walker) -> None:
    route = ROUTES[name]
    if "POST" not in route.guards or route.json is not None or route.empty_is_fine:
        return
    address = reverse(name, kwargs=route.fill(shop, shop.people[Role.MANAGER]))

    answer = walker.ask(Role.MANAGER, "POST", address, route)

    assert answer.status_code != 200, f"{address} showed its page again without a word"


@each_route
def test_no_query_breaks_a_page(name: str, shop: TwoBuilds, walker: Walker) -> None:
    route = ROUTES[name]
    address = reverse(name, kwargs=route.fill(shop, shop.people[Role.MANAGER]))
    for query in route.queries:
        for headers in ({}, {"HX-Request": "true"}):
            if "GET" in route.guards:
                answer = walker.ask(Role.MANAGER, "GET", address + query, route, **headers)
                allowed = (200, 302, 404) if "%00" in query else (200, 302)
                assert answer.status_code in allowed, f"{address}{query}: {answer.status_code}"


@pytest.mark.parametrize("role", [None, Role.MANAGER])
@pytest.mark.parametrize(
    "address", ["/nowhere/", "/builds/%00/", "/builds/" + "9" * 300 + "/", "/people/99999999999999999999/active/"]
)
def test_a_page_that_is_not_there_keeps_the_headers_too(address: str, role: Role | None, walker: Walker) -> None:
    answer = walker.ask(role, "GET", address, ROUTES["build-list"])

    assert answer.status_code in (302, 404, 405)
