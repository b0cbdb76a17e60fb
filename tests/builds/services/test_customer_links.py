"""Links: 256 bits, kept as hashes, the handover link expires, the vehicle link does not, both can be closed."""

import hashlib
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from builds.errors import BadInput, GuardRefused, NotAllowed
from builds.models import Build, CustomerLink, HistoryEntry, Person, Role
from builds.selectors.links import LinkState, find_link
from builds.services import customer_links
from tests.factories.builds import AT, make_build, make_person

pytestmark = pytest.mark.django_db

Kind = CustomerLink.Kind


@pytest.fixture
def writer() -> Person:
    return make_person(Role.SERVICE_WRITER)


@pytest.fixture
def build() -> Build:
    return make_build()


def test_make_handover_link_keeps_only_the_hash_of_256_bits(build: Build, writer: Person) -> None:
    link, token = customer_links.make_handover_link(build=build, made_for="P. Lund", by=writer, at=AT)

    assert len(token) == 43
    assert link.token_sha256 == hashlib.sha256(token.encode()).hexdigest()
    kept = str(list(CustomerLink.objects.values())) + str(list(HistoryEntry.objects.values("before", "after")))
    assert token not in kept


def test_make_handover_link_gives_no_token_twice(build: Build, writer: Person) -> None:
    made = {
        customer_links.make_handover_link(build=build, made_for="P. Lund", by=writer, at=AT).token for _ in range(20)
    }

    assert len(made) == 20


@pytest.mark.parametrize(("after", "state"), [(0, LinkState.OPEN), (29, LinkState.OPEN), (30, LinkState.EXPIRED)])
def test_handover_link_expires_after_thirty_days(build: Build, writer: Person, after: int, state: LinkState) -> None:
    token = customer_links.make_handover_link(build=build, made_for="P. Lund", by=writer, at=AT).token

    assert find_link(token, kind=Kind.HANDOVER, at=AT + timedelta(days=after)).state is state


def test_vehicle_link_never_expires(build: Build, writer: Person) -> None:
    token = customer_links.make_vehicle_link(build=build, made_for="", by=writer, at=AT).token

    assert find_link(token, kind=Kind.VEHICLE, at=AT + timedelta(days=3650)).state is LinkState.OPEN


def test_database_refuses_a_handover_link_without_an_end(build: Build, writer: Person) -> None:
    with pytest.raises(IntegrityError, match="handover_expires"), transaction.atomic():
        CustomerLink.objects.create(build=build, kind=Kind.HANDOVER, token_sha256="a" * 64, made_by=writer, made_at=AT)


def test_a_link_opens_only_pages_of_its_own_kind(build: Build, writer: Person) -> None:
    handover = customer_links.make_handover_link(build=build, made_for="P. Lund", by=writer, at=AT).token

    assert find_link(handover, kind=Kind.VEHICLE, at=AT).state is LinkState.CLOSED


def test_revoke_closes_a_link_for_good_and_says_who(build: Build, writer: Person) -> None:
    link, token = customer_links.make_vehicle_link(build=build, made_for="QR", by=writer, at=AT)

    closed = customer_links.revoke(link=link, by=writer, at=AT)

    assert (closed.revoked_by, closed.revoked_at) == (writer, AT)
    assert find_link(token, kind=Kind.VEHICLE, at=AT) == find_link("never-was", kind=Kind.VEHICLE, at=AT)
    with pytest.raises(GuardRefused):
        customer_links.revoke(link=link, by=writer, at=AT)


@pytest.mark.parametrize(
    ("made_for", "days", "field"),
    [("", 30, "made_for"), ("  ", 30, "made_for"), ("P. Lund", 0, "days"), ("P. Lund", 366, "days")],
)
def test_make_handover_link_names_the_field_that_is_wrong(
    build: Build, writer: Person, made_for: str, days: int, field: str
) -> None:
    with pytest.raises(BadInput) as refused:
        customer_links.make_handover_link(build=build, made_for=made_for, by=writer, at=AT, days=days)
    assert list(refused.value.fields) == [field]
    assert not CustomerLink.objects.exists()


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.INSPECTOR, Role.PARTS_CLERK, Role.DESIGNER])
def test_links_are_made_at_the_desk_only(build: Build, role: Role) -> None:
    with pytest.raises(NotAllowed):
        customer_links.make_handover_link(build=build, made_for="P. Lund", by=make_person(role), at=AT)


@pytest.mark.parametrize("token", ["", "x", "é" * 40, "\udc80", "a" * 5000, "../../etc/passwd"])
def test_find_link_answers_any_text(token: str) -> None:
    assert find_link(token, kind=Kind.HANDOVER, at=AT).state is LinkState.CLOSED
