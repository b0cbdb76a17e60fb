"""The job list: who may see it, what stands on it, in which order, and how few questions it asks."""

from datetime import timedelta
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.models import Build, CustomerGear, Role, Stage
from builds.selectors.bay_builds import board_builds
from builds.selectors.shop_time import shop_zone
from builds.services import acceptances, customer_links
from builds.services.acceptances import Signature
from builds.services.bays import book
from tests.factories.builds import make_build, make_customer, make_person, make_platform, make_shop
from tests.factories.floor import make_bay
from tests.factories.packets import make_packet_build, make_ready_packet

pytestmark = pytest.mark.django_db


@pytest.fixture
def writer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.SERVICE_WRITER, short_name="A. Dace")
    client.force_login(person)
    return person


def numbers_on(client: Client, query: str = "") -> list[str]:
    response = client.get(f"/builds/{query}")
    assert response.status_code == 200
    return [row.number for row in response.context["page"].rows]


def set_build(build: Build, **columns: Any) -> Build:
    Build.objects.filter(pk=build.pk).update(**columns)
    return build


def test_someone_not_signed_in_is_asked_to_sign_in_and_brought_back(client: Client) -> None:
    response = client.get("/builds/?q=2614")

    assert response.status_code == 302
    assert response["Location"] == "/sign-in/?next=/builds/%3Fq%3D2614"


def test_list_is_worst_first(client: Client, writer: Any) -> None:
    today = timezone.localdate()
    fine = set_build(make_build(writer), promised_on=today + timedelta(days=30))
    sooner = set_build(make_build(writer), promised_on=today + timedelta(days=20))
    held = set_build(
        make_build(writer), promised_on=today + timedelta(days=40), hold_reason="parts", hold_who_acts="Stores"
    )
    blocked = set_build(make_build(writer), promised_on=today + timedelta(days=50), blocking_count=1)
    late = set_build(make_build(writer), promised_on=today - timedelta(days=3))
    delivered = set_build(make_build(writer), promised_on=today - timedelta(days=90), stage=Stage.DELIVERED)
    closed = set_build(make_build(writer), stage=Stage.CLOSED)

    assert numbers_on(client) == [item.number for item in (late, blocked, held, sooner, fine, delivered)]
    assert closed.number in numbers_on(client, "?stage=all")


@pytest.mark.parametrize("state", ["late", "on_hold", "at_risk"])
def test_state_filter_shows_rows_of_that_state_only(client: Client, writer: Any, state: str) -> None:
    today = timezone.localdate()
    wanted = {
        "late": set_build(make_build(writer), promised_on=today - timedelta(days=3)),
        "on_hold": set_build(
            make_build(writer), promised_on=today + timedelta(days=90), hold_reason="parts", hold_who_acts="Stores"
        ),
        "at_risk": set_build(make_build(writer), promised_on=today + timedelta(days=2)),
    }
    set_build(make_build(writer), promised_on=today + timedelta(days=90))

    assert numbers_on(client, f"?state={state}") == [wanted[state].number]


def test_a_plan_that_ends_after_the_promise_is_told_in_the_list_and_on_the_sheet(client: Client, writer: Any) -> None:
    today = timezone.localdate()
    build = set_build(make_build(writer), promised_on=today + timedelta(days=30), stage=Stage.IN_WORK)
    kept = set_build(make_build(writer), promised_on=today + timedelta(days=60), stage=Stage.IN_WORK)
    start = timezone.now() + timedelta(days=32)  # a day apart in any zone, at any hour
    for item in (build, kept):
        book(
            build=item, place=make_bay(), start=start, end=start + timedelta(hours=4), by=make_person(Role.MANAGER),
            at=timezone.now(),
        )  # fmt: skip

    listed = client.get("/builds/").content.decode()
    found = client.get(f"/builds/?q={build.number}").content.decode()
    sheet = client.get(f"/builds/{build.number}/").content.decode()

    words = f"At risk: plan ends {(start + timedelta(hours=4)).astimezone(shop_zone()):%a}"
    assert (listed.count(words), found.count(words)) == (1, 1)
    assert words in sheet
    assert numbers_on(client, "?state=at_risk") == [build.number]


@pytest.mark.parametrize("words", ["number", "saltmarsh", "TENDER", "SWR-7", "GDM9AXKP", "swr 4471", "boat salt"])
def test_search_finds_by_number_customer_unit_vin_title_and_order(client: Client, writer: Any, words: str) -> None:
    customer = make_customer(name="Saltmarsh Water Rescue")
    platform = make_platform()
    build = make_build(writer, customer=customer, platform=platform, title="Boat tender", purchase_order="SWR 4471")
    build.vehicle.vin, build.vehicle.unit_number = "1M8GDM9AXKP042788", "SWR-7"
    build.vehicle.save()
    make_build(writer, title="Incident van", customer=make_customer(name="Harrow Airfield"))

    assert numbers_on(client, f"?q={build.number if words == 'number' else words}") == [build.number]


@pytest.mark.parametrize("around", ["#{}", "{}-", "{},", "{}\u2011"])
def test_search_finds_a_number_as_people_write_it(client: Client, writer: Any, around: str) -> None:
    build, _ = make_build(writer), make_build(writer)

    assert numbers_on(client, "?" + urlencode({"q": around.format(build.number)})) == [build.number]


def test_mine_and_customer_narrow_the_list(client: Client, writer: Any) -> None:
    own = make_build(writer)
    other = make_build()

    assert numbers_on(client, "?mine=on") == [own.number]
    assert numbers_on(client, f"?customer={other.customer_id}") == [other.number]


@pytest.mark.parametrize(
    "query",
    ["?page=abc", "?page=-1", "?stage=nowhere", "?state=x", "?customer=x", "?page=99999999999999999999", "?q=%00"],
)
def test_a_filter_that_makes_no_sense_asks_for_nothing(client: Client, writer: Any, query: str) -> None:
    make_build(writer)

    assert len(numbers_on(client, query)) == 1


def test_htmx_gets_the_table_alone(client: Client, writer: Any) -> None:
    make_build(writer)

    response = client.get("/builds/", headers={"HX-Request": "true"})

    assert response.content.decode().startswith('<div id="build-table">')
    assert "HX-Request" in response["Vary"]


def test_signed_packet_is_told_by_list_search_sheet_and_board_until_another_is_issued(client: Client) -> None:
    writer = make_person(Role.MANAGER)
    client.force_login(writer)
    build = set_build(make_packet_build(writer), stage=Stage.READY)
    build.refresh_from_db()
    packet = make_ready_packet(build, writer)
    link = customer_links.make_handover_link(build=build, made_for="P. Lund", by=writer, at=timezone.now()).link
    pages = ("/builds/", f"/builds/?q={build.number}", f"/builds/{build.number}/")
    board = board_builds({build.pk: build}, now=timezone.now(), zone=ZoneInfo("UTC"))
    assert board[build.pk].standing.who_acts == "Buyer: sign for the packet"
    assert all("Buyer: sign for the packet" in client.get(page).content.decode() for page in pages)

    assert packet.file is not None
    signature = Signature(
        sha256=packet.file.sha256, typed_name="P. Lund", consents=True, capacity="", address="192.0.2.7"
    )
    acceptances.sign_packet(link=link, packet=packet, signature=signature, at=timezone.now())

    board = board_builds({build.pk: build}, now=timezone.now(), zone=ZoneInfo("UTC"))
    assert board[build.pk].standing.who_acts == "Desk: hand it over"
    assert all("Desk: hand it over" in client.get(page).content.decode() for page in pages)
    make_ready_packet(build, writer)
    assert all("Buyer: sign for the packet" in client.get(page).content.decode() for page in pages)


def test_row_says_state_and_who_acts_next(client: Client, writer: Any) -> None:
    build = set_build(make_build(writer), promised_on=timezone.localdate() + timedelta(days=90), stage=Stage.APPROVED)
    CustomerGear.objects.create(build=build, description="Radio set", by=writer, at=timezone.now())

    text = client.get("/builds/").content.decode()

    assert "Waiting: vehicle" in text
    assert "Buyer: bring the vehicle" in text
    assert 'Gear<span class="unseen"> missing' in text


def test_question_count_is_the_same_for_one_row_and_for_a_full_page(client: Client, writer: Any) -> None:
    platform, customer = make_platform(), make_customer()
    make_build(writer, platform=platform, customer=customer)
    one = count_questions(client)
    for _ in range(19):
        make_build(writer, platform=platform, customer=customer)
    twenty = count_questions(client)
    make_build(writer, platform=platform, customer=customer)

    assert one == twenty == count_questions(client) == 3  # session, person, page


def count_questions(client: Client) -> int:
    client.get("/builds/")
    with CaptureQueriesContext(
        connection,
    ) as questions:
        assert client.get("/builds/").status_code == 200
    return len([q for q in questions if q["sql"].strip().lower().startswith(("select", "with"))])


def test_pages_lead_on_and_back(client: Client, writer: Any) -> None:
    platform, customer = make_platform(), make_customer()
    for _ in range(23):
        make_build(writer, platform=platform, customer=customer)

    first, second = numbers_on(client), numbers_on(client, "?page=2")

    assert len(first) == 20 and len(second) == 3 and not set(first) & set(second)
    assert numbers_on(client, "?page=7") == first


def test_plain_list_and_sorted_search_agree_on_the_order(client: Client, writer: Any) -> None:
    """The plain list is read off its indexes, a search is sorted: the same builds have to come in the same order."""
    platform, customer = make_platform(), make_customer()
    today = timezone.localdate()
    for number in range(60):
        set_build(
            make_build(writer, platform=platform, customer=customer),
            stage=Stage.values[number % len(Stage.values)],
            promised_on=None if number % 7 == 0 else today + timedelta(days=number * 11 % 50 - 20),
            blocking_count=number % 5 // 4,
            hold_reason="parts" if number % 11 == 0 else "",
            hold_who_acts="Stores" if number % 11 == 0 else "",
        )

    plain = [number for page in (1, 2, 3) for number in numbers_on(client, f"?page={page}")]
    found = [number for page in (1, 2, 3) for number in numbers_on(client, f"?customer={customer.pk}&page={page}")]

    assert len(plain) >= 44
    assert plain == found


def test_words_of_people_are_escaped(client: Client, writer: Any) -> None:
    set_build(make_build(writer), title="<b>bold</b> & sound", hold_reason="other", hold_who_acts="<i>Stores</i>")

    text = client.get("/builds/").content.decode()

    assert "&lt;b&gt;bold&lt;/b&gt; &amp; sound" in text and "&lt;i&gt;Stores&lt;/i&gt;" in text
