"""Pages without an account: what they show, what they refuse, and that they do not travel on."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from builds.models import Acceptance, Authorisation, Build, PacketIssue, Person, Role, Stage
from builds.services import customer_links, packet_rendering, packets, registers, revisions
from tests.factories.builds import AT, make_designed_build, make_person, make_shop
from tests.factories.packets import make_packet_build, make_ready_packet

pytestmark = pytest.mark.django_db

NOBODY = "A" * 43


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


@pytest.fixture
def build(manager: Person) -> Build:
    build = make_packet_build(manager)
    Build.objects.filter(pk=build.pk).update(stage=Stage.READY)
    build.refresh_from_db()
    return build


@pytest.fixture
def packet(build: Build, manager: Person) -> PacketIssue:
    return make_ready_packet(build, manager)


@pytest.fixture
def token(build: Build, manager: Person) -> str:
    now = timezone.now()
    return customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=now).token


def strict_client() -> Client:
    """A client that a browser's checks would meet as well."""
    return Client(enforce_csrf_checks=True)


def form_values(page: str) -> dict[str, str]:
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))


def without_form_token(answer: Any) -> str:
    return re.sub(r'name="csrf-token" content="[^"]*"', "", answer.content.decode())


def sign(token: str, page: str, **typed: Any) -> Any:
    client = strict_client()
    address = f"/l/{token}/{page}/"
    values = form_values(client.get(address).content.decode()) | {"typed_name": "P. Lund", "consents": "on"} | typed
    # what a browser sends under the page's own referrer policy
    return client.post(address, values, headers={"Origin": "null"})


# --- every page that opens by a link ---


@pytest.mark.parametrize("page", ["", "packet/", "packet/1.pdf"])
def test_pages_send_no_referrer_and_are_kept_nowhere(packet: PacketIssue, token: str, page: str) -> None:
    answer = strict_client().get(f"/l/{token}/{page}")
    answer.close()

    assert answer.status_code == 200
    assert answer["Referrer-Policy"] == "no-referrer"
    assert "no-store" in answer["Cache-Control"]
    assert "noindex" in answer["X-Robots-Tag"]


@pytest.mark.parametrize("page", ["", "quote/", "packet/", "packet/1.pdf"])
def test_unknown_and_revoked_links_read_alike(build: Build, manager: Person, page: str) -> None:
    made = customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=timezone.now())
    customer_links.revoke(link=made.link, by=manager, at=AT)

    unknown, revoked = (strict_client().get(f"/l/{token}/{page}") for token in (NOBODY, made.token))

    assert unknown.status_code == revoked.status_code == 404
    assert without_form_token(unknown) == without_form_token(revoked)
    assert build.number not in revoked.content.decode()
    assert revoked["Referrer-Policy"] == "no-referrer"


def test_expired_link_says_to_ask_the_shop(build: Build, manager: Person) -> None:
    long_ago = timezone.now() - timedelta(days=31)
    token = customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=long_ago).token

    answer = strict_client().get(f"/l/{token}/")

    assert answer.status_code == 410
    assert "Ask the shop for a new one" in answer.content.decode()


@pytest.mark.parametrize("token", ["x", "%00", "..%2f..%2fetc", "é" * 40, "a" * 3000])
@pytest.mark.parametrize("kind", ["l", "v"])
def test_any_text_in_the_address_gets_the_calm_page(kind: str, token: str) -> None:
    make_shop()

    answer = strict_client().get(f"/{kind}/{token}/")

    assert answer.status_code == 404


def test_a_vehicle_token_opens_no_customer_page(build: Build, manager: Person) -> None:
    token = customer_links.make_vehicle_link(build=build, made_for="", by=manager, at=AT).token

    assert strict_client().get(f"/l/{token}/").status_code == 404
    assert strict_client().get(f"/v/{token}/").status_code == 200


def test_pages_carry_no_inline_script_or_style(packet: PacketIssue, token: str) -> None:
    for page in ("", "packet/"):
        html = strict_client().get(f"/l/{token}/{page}").content.decode()
        assert " style=" not in html
        assert not re.search(r"<script(?![^>]*\bsrc=)", html)
        assert not re.search(r"\son\w+=", html)


# --- the customer's page ---


def test_home_says_where_it_stands_and_what_is_needed(build: Build, packet: PacketIssue, token: str) -> None:
    html = strict_client().get(f"/l/{token}/").content.decode()

    assert f"Your vehicle {build.vehicle.unit_number}" in html
    assert "Ready for you to collect." in html
    assert "What we need from you" in html
    assert "Read and sign for the packet" in html
    assert "Ordered by purchase order" in html
    assert "<svg" in html


def test_home_shows_no_other_build(build: Build, packet: PacketIssue, token: str, manager: Person) -> None:
    other = make_designed_build(manager, title="Somebody else's van")

    html = strict_client().get(f"/l/{token}/").content.decode()

    assert other.number not in html
    assert "Somebody else" not in html


def test_packet_page_shows_the_hash_and_signs(build: Build, packet: PacketIssue, token: str) -> None:
    assert packet.file is not None
    assert packet.file.sha256 in strict_client().get(f"/l/{token}/packet/").content.decode()

    answer = sign(token, "packet", capacity="fleet manager")

    assert (answer.status_code, answer["Location"]) == (302, f"/l/{token}/")
    acceptance = Acceptance.objects.get()
    assert (acceptance.typed_name, acceptance.capacity, acceptance.file_sha256) == (
        "P. Lund",
        "fleet manager",
        packet.file.sha256,
    )
    html = strict_client().get(f"/l/{token}/").content.decode()
    assert "was signed by P. Lund" in html
    assert "We need nothing from you now." in html


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"typed_name": ""}, "Type your name"),
        ({"typed_name": "x" * 500}, "at most 120 letters"),
        ({"consents": ""}, "Tick the sentence"),
        ({"sha256": "0" * 64}, "not the one that is stored"),
        ({"sha256": "zzz"}, "not the one that is stored"),
        ({"capacity": "y" * 81}, "at most 80 letters"),
    ],
)
def test_packet_page_names_what_is_wrong_and_signs_nothing(
    packet: PacketIssue, token: str, typed: dict[str, str], words: str
) -> None:
    answer = sign(token, "packet", **typed)

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Acceptance.objects.exists()


def test_packet_page_keeps_what_was_typed(packet: PacketIssue, token: str) -> None:
    answer = sign(token, "packet", typed_name="P. Lund", consents="")

    assert 'value="P. Lund"' in answer.content.decode()


def test_packet_page_read_before_a_newer_issue_does_not_sign(
    build: Build, packet: PacketIssue, token: str, manager: Person
) -> None:
    client = strict_client()
    values = form_values(client.get(f"/l/{token}/packet/").content.decode()) | {
        "typed_name": "P. Lund",
        "consents": "on",
    }
    make_ready_packet(build, manager)

    answer = client.post(f"/l/{token}/packet/", values)

    assert answer.status_code == 422
    assert not Acceptance.objects.exists()


def test_packet_file_is_the_stored_one(packet: PacketIssue, token: str) -> None:
    answer = strict_client().get(f"/l/{token}/packet/1.pdf")

    assert b"".join(answer.streaming_content) == b"%PDF-1.7 invented1"  # type: ignore[attr-defined]
    answer.close()
    assert answer["Content-Type"] == "application/pdf"


def test_packet_file_of_a_superseded_unsigned_issue_is_not_served(
    build: Build, packet: PacketIssue, token: str, manager: Person
) -> None:
    make_ready_packet(build, manager)

    answers = [strict_client().get(f"/l/{token}/packet/{issue}.pdf") for issue in (1, 2, 3)]
    for answer in answers:
        answer.close()

    assert [answer.status_code for answer in answers] == [404, 200, 404]
    said = answers[0].content.decode()
    assert "a later one took its place" in said and f'href="/l/{token}/"' in said
    assert "This link does not open" not in said


# --- the quote ---


@pytest.fixture
def quote_token(manager: Person) -> str:
    make_shop()
    build = make_designed_build(manager)
    revisions.release(build=build, summary="As ordered", by=manager, at=AT)
    Build.objects.filter(pk=build.pk).update(stage=Stage.QUOTED)
    return customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=timezone.now()).token


def test_quote_page_shows_the_price_and_orders(quote_token: str) -> None:
    html = strict_client().get(f"/l/{quote_token}/quote/").content.decode()
    assert "All together" in html
    assert "USD" in html

    answer = sign(quote_token, "quote")

    assert answer.status_code == 302
    authorisation = Authorisation.objects.get()
    assert (authorisation.kind, authorisation.authorised_by) == ("link", "P. Lund")
    assert strict_client().get(f"/l/{quote_token}/quote/").status_code == 302


def test_home_thanks_for_the_order_once_the_quote_is_signed(quote_token: str) -> None:
    before = strict_client().get(f"/l/{quote_token}/").content.decode()
    sign(quote_token, "quote")
    after = strict_client().get(f"/l/{quote_token}/").content.decode()

    assert "Your quote is ready." in before and "Your quote is ready." not in after
    assert "Ordered. Thank you; the shop takes it on from here." in after


def test_quote_page_refuses_without_consent(quote_token: str) -> None:
    answer = sign(quote_token, "quote", consents="")

    assert answer.status_code == 422
    assert not Authorisation.objects.exists()


# --- the vehicle's record ---


@pytest.fixture
def record_token(build: Build, manager: Person) -> str:
    registers.write_splice(
        build=build, circuit_number="102", place="behind the seat", method="crimp", by=manager, at=AT
    )
    packet = packets.issue_packet(build=build, by=manager, at=AT)
    packet_rendering._claim(packet.pk)
    packet_rendering._finish(packet.pk, 1, b"%PDF invented")
    return customer_links.make_vehicle_link(build=build, made_for="QR", by=manager, at=AT).token


def test_vehicle_record_lists_circuits_and_splices(record_token: str) -> None:
    html = strict_client().get(f"/v/{record_token}/").content.decode()

    assert "2 circuits, 1 splice, 0 body holes" in html
    assert "LAMP 1" in html
    assert "P1-01" in html
    assert "behind the seat" in html
    assert "Before any work" in html


@pytest.mark.parametrize(
    ("words", "found"),
    [("101", 1), ("lamp 2", 1), ("SEAT", 1), ("p1-02", 1), ("cab lamp", 2), ("nothing like it", 0), ("<b>", 0)],
)
def test_vehicle_record_is_searched_by_what_is_on_the_wire(record_token: str, words: str, found: int) -> None:
    html = strict_client().get(f"/v/{record_token}/", {"q": words}).content.decode()

    assert f"{found} found" in html
    assert "<b>”" not in html


def test_vehicle_record_before_a_packet_says_so(build: Build, manager: Person) -> None:
    token = customer_links.make_vehicle_link(build=build, made_for="", by=manager, at=AT).token

    assert "No record yet." in strict_client().get(f"/v/{token}/").content.decode()


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_vehicle_record_is_read_only(record_token: str, method: str) -> None:
    assert getattr(strict_client(), method)(f"/v/{record_token}/").status_code == 405


def test_quote_page_shows_all_that_is_signed_for(quote_token: str) -> None:
    build = Build.objects.get()
    build.parts.create(
        line=9, key="9", part=build.parts.get(key="1").part, description="Rear bench", quantity=1, supplied_by="shop",
        removed=True,
    )  # fmt: skip
    revisions.release(build=build, summary="With the bench out", by=Person.objects.all()[0], at=AT)

    html = strict_client().get(f"/l/{quote_token}/quote/").content.decode()

    assert "<h3>Cab</h3><ul><li>1 × Fuse panel, 12 positions</li></ul>" in html
    assert "Mount the cab panel" in html
    assert "What is taken off</h2><ul><li>1 × Rear bench</li>" in html
    assert "On scene, idling" in html
    assert "Anything more or less is a change" in html


def test_change_names_the_lines_it_moves(quote_token: str) -> None:
    sign(quote_token, "quote")
    build = Build.objects.get()
    build.parts.update(quantity=3)
    revisions.release(build=build, summary="More panels", by=Person.objects.all()[0], at=AT)

    html = strict_client().get(f"/l/{quote_token}/quote/").content.decode()

    assert "Instead of 1 × Fuse panel, 12 positions: 3 × Fuse panel, 12 positions" in html
