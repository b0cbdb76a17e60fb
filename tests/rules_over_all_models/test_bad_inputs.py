"""Everything bad that may arrive gets clear words where it was typed, and nothing of it is kept."""

import json
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.test.client import encode_multipart

from tests.factories.two_builds import TwoBuilds
from tests.rules_over_all_models.bad_inputs.desk import AT_DESK
from tests.rules_over_all_models.bad_inputs.files import AS_FILES
from tests.rules_over_all_models.bad_inputs.floor import ON_FLOOR
from tests.rules_over_all_models.bad_inputs.outside import FROM_OUTSIDE
from tests.rules_over_all_models.bad_inputs.table import HEAD, PAGE, Bad, Good
from tests.rules_over_all_models.html_fields import read_html, words_at_field, words_at_head
from tests.rules_over_all_models.rows import row_counts
from tests.rules_over_all_models.strict_html import html_faults, is_html

pytestmark = pytest.mark.django_db

TABLE = [*AT_DESK, *ON_FLOOR, *AS_FILES, *FROM_OUTSIDE]
GOOD = list({id(line.good): line.good for line in TABLE if line.good.taken}.values())


def send(good: Good, body: dict[str, Any] | bytes, shop: TwoBuilds) -> HttpResponse:
    """Send a body as a browser, or a program, does; an error of the program is an answer 500, as on the site."""
    client = Client(raise_request_exception=False)
    if good.who is not None:
        client.force_login(shop.people[good.who])
    if good.json:
        content = body if isinstance(body, bytes) else json.dumps(body).encode()
        content_type = "application/json"
    elif isinstance(body, bytes):
        content, content_type = body, "multipart/form-data; boundary=x"
    else:
        content, content_type = encode_multipart("x", body), "multipart/form-data; boundary=x"
    content_type = good.content_type or content_type
    return client.generic(good.method.upper(), good.address(shop), content, content_type, headers=dict(good.headers))


def said(answer: HttpResponse, at: str, *, is_json: bool) -> str:
    """Return the words of an answer that stand at a field."""
    if is_json:
        body = answer.json()
        return str(body["message"] if at == HEAD else body["fields"].get(at, ""))
    page = read_html(answer.content.decode())
    if at == PAGE:
        return page.words
    return words_at_head(page) if at == HEAD else words_at_field(page, at)


def test_the_table_is_long_enough_and_names_each_thing_once() -> None:
    names = [str(line) for line in TABLE]

    assert len(names) == len(set(names))
    assert len(TABLE) >= 60


@pytest.mark.parametrize("good", GOOD, ids=lambda good: good.what)
def test_the_good_input_is_taken(good: Good, shop: TwoBuilds) -> None:
    if good.setup:
        good.setup(shop)

    answer = send(good, dict(good.data(shop)), shop)

    assert answer.status_code == good.taken, answer.content.decode()[:2000]


@pytest.mark.parametrize("bad", TABLE, ids=str)
def test_a_bad_input_is_told_where_it_was_typed_and_nothing_is_kept(bad: Bad, shop: TwoBuilds) -> None:
    if bad.good.setup:
        bad.good.setup(shop)
    body = bad.body(shop)
    before = row_counts()

    answer = send(bad.good, body, shop)

    words = said(answer, bad.at, is_json=bad.good.json) if answer.status_code < 500 else ""
    assert (answer.status_code, bad.words in words) == (bad.status, True), f"said {words!r}"
    assert row_counts() == before
    if is_html(answer):
        assert html_faults(answer) == []
