"""Customers and their rules: data that anyone reads, and that the desk changes with a source and a version."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from builds.models import BuyerRule, Customer, DropRule, Role
from tests.factories.builds import make_build, make_customer, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def writer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.SERVICE_WRITER)
    client.force_login(person)
    return person


def test_list_shows_customers_with_their_open_builds(client: Client, writer: Any) -> None:
    customer = make_customer(name="Harrow Airfield")
    make_build(writer, customer=customer)

    text = client.get("/customers/").content.decode()

    assert "Harrow Airfield" in text and f'href="/builds/?customer={customer.pk}">1<' in text
    assert "Harrow" not in client.get("/customers/?q=ridgeway").content.decode()


def test_customer_is_added_with_rules_of_its_own(client: Client, writer: Any) -> None:
    response = client.post("/customers/add/", {"name": "Ridgeway Roads", "profile": ""})

    customer = Customer.objects.get()
    assert response.status_code == 302
    assert customer.profile.name == "Ridgeway Roads"


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"name": ""}, "This may not stay empty."),
        ({"name": "Harrow Airfield"}, "There is a customer of this name already."),
        ({"name": "x" * 121}, "Use at most 120 characters."),
        ({"name": "New", "email": "x@"}, "This is not an address that mail can be sent to."),
        ({"name": "New", "profile": "99999"}, "Choose one of the list."),
    ],
)
def test_customer_that_cannot_be_taken_is_refused_at_its_field(
    client: Client, writer: Any, sent: dict[str, str], words: str
) -> None:
    make_customer(name="Harrow Airfield")

    response = client.post("/customers/add/", sent)

    assert response.status_code == 422 and words in response.content.decode()
    assert Customer.objects.count() == 1


@pytest.mark.parametrize("name", ["Harrow Airfield", "HARROW airfield"])
def test_customer_renamed_to_anothers_name_is_refused_at_its_field(client: Client, writer: Any, name: str) -> None:
    make_customer(name="Harrow Airfield")
    customer = make_customer(name="Ridgeway Roads")

    response = client.post(f"/customers/{customer.pk}/", {"name": name, "row_version": "1"})

    assert response.status_code == 422
    assert response.context["form"].errors["name"] == ["There is a customer of this name already."]
    customer.refresh_from_db()
    assert customer.name == "Ridgeway Roads"


def test_customer_keeps_its_name_with_other_capitals(client: Client, writer: Any) -> None:
    customer = make_customer(name="Ridgeway roads")

    assert client.post(f"/customers/{customer.pk}/", {"name": "Ridgeway Roads", "row_version": "1"}).status_code == 302
    customer.refresh_from_db()
    assert customer.name == "Ridgeway Roads"


def test_stale_customer_is_not_overwritten(client: Client, writer: Any) -> None:
    customer = make_customer(name="Harrow Airfield")
    Customer.objects.filter(pk=customer.pk).update(telephone="555-0100", row_version=2)

    response = client.post(
        f"/customers/{customer.pk}/", {"name": "Harrow Airfield", "telephone": "", "row_version": "1"}
    )

    assert response.status_code == 422 and "555-0100" in response.content.decode()
    assert Customer.objects.get().telephone == "555-0100"


def test_rule_is_given_a_value_and_a_source_and_goes_back_to_the_default(client: Client, writer: Any) -> None:
    profile = make_customer().profile
    address = f"/profiles/{profile.pk}/rules/key-off-limit/"

    client.post(address, {"value": "35", "source": "contract 7.2", "row_version": "0"})
    rule = BuyerRule.objects.get()
    assert (rule.number_value, rule.source) == (Decimal("35"), "contract 7.2")

    client.post(f"{address}clear/", {"row_version": "1"})
    assert not BuyerRule.objects.exists()


@pytest.mark.parametrize(
    ("key", "sent", "words"),
    [
        ("key-off-limit", {"value": "35,5", "source": "x"}, "Write the number with a point"),
        ("key-off-limit", {"value": "0", "source": "x"}, "Type at least 1 mA."),
        ("key-off-limit", {"value": "9000", "source": "x"}, "Type at most 5000 mA."),
        ("key-off-limit", {"value": "35", "source": ""}, "This may not stay empty."),
        ("hold-signer", {"value": "anybody", "source": "x"}, "Choose one of the list."),
        ("min-gauge", {"value": "17", "source": "x"}, "Write a gauge of one of the tables"),
        ("splices", {"value": "", "source": "x"}, "This may not stay empty."),
    ],
)
def test_rule_that_cannot_be_taken_is_refused_at_its_field(
    client: Client, writer: Any, key: str, sent: dict[str, str], words: str
) -> None:
    profile = make_customer().profile

    response = client.post(f"/profiles/{profile.pk}/rules/{key}/", sent | {"row_version": "0"})

    assert response.status_code == 422 and words in response.content.decode()
    assert not BuyerRule.objects.exists()


def test_rule_that_someone_changed_meanwhile_says_both_values(client: Client, writer: Any) -> None:
    profile = make_customer().profile
    BuyerRule.objects.create(
        profile=profile, line=1, key="key-off-limit", number_value=20, source="theirs", row_version=4
    )

    sent = {"value": "35", "source": "mine", "row_version": "0"}
    response = client.post(f"/profiles/{profile.pk}/rules/key-off-limit/", sent)

    assert response.status_code == 422 and "It is 20" in response.content.decode()
    assert BuyerRule.objects.get().number_value == 20


def test_first_own_drop_rule_keeps_the_shops_others(client: Client, writer: Any) -> None:
    profile = make_customer().profile
    sent = {
        "drop_class": "*", "limit_ratio": "5", "base_v": "12", "current": "peak", "conductor_temp_c": "50",
        "source": "contract 7.3", "row_version": "0",
    }  # fmt: skip

    response = client.post(f"/profiles/{profile.pk}/drop-rules/?key=drop-general", sent)

    assert response.status_code == 302
    limits = dict(DropRule.objects.values_list("drop_class", "limit_ratio"))
    assert (
        limits["*"] == Decimal("0.05")
        and limits["radio"] == Decimal("0.0167")
        and limits["critical"] == Decimal("0.03")
    )


def test_general_drop_rule_cannot_be_taken_away(client: Client, writer: Any) -> None:
    profile = make_customer().profile

    response = client.post(f"/profiles/{profile.pk}/drop-rules/clear/", {"key": "drop-general", "row_version": "1"})

    assert response.status_code == 422 and "Every load needs a limit" in response.content.decode()


@pytest.mark.parametrize("path", ["rules/nothing/", "rules/nothing/clear/"])
def test_rule_that_no_catalogue_has_is_not_here(client: Client, writer: Any, path: str) -> None:
    profile = make_customer().profile

    assert client.post(f"/profiles/{profile.pk}/{path}").status_code == 404


def test_designer_reads_rules_and_changes_none(client: Client) -> None:
    profile = make_customer().profile
    client.force_login(make_person(Role.DESIGNER))

    assert "Change</a>" not in client.get(f"/profiles/{profile.pk}/").content.decode()
    assert client.get(f"/profiles/{profile.pk}/rules/key-off-limit/").status_code == 403
    assert client.post("/customers/add/", {"name": "X"}).status_code == 403


def test_drop_rule_of_a_stretch_stands_beside_the_others_and_is_changed_by_its_key(client: Client, writer: Any) -> None:
    profile = make_customer().profile
    sent = {
        "drop_class": "*", "limit_ratio": "3", "base_v": "12", "current": "peak", "conductor_temp_c": "50",
        "source": "contract 7.4", "row_version": "0", "to_node": "panel", "conditions": "engine_off, scene",
        "follows_bus": "on",
    }  # fmt: skip

    assert client.post(f"/profiles/{profile.pk}/drop-rules/", sent).status_code == 302
    changed = client.post(
        f"/profiles/{profile.pk}/drop-rules/?key=drop-general-2", sent | {"limit_ratio": "4", "row_version": "1"}
    )

    assert changed.status_code == 302
    rule = DropRule.objects.get(key="drop-general-2")
    assert (rule.limit_ratio, rule.to_node, rule.conditions, rule.follows_bus) == (
        Decimal("0.04"), "panel", ["engine_off", "scene"], True,
    )  # fmt: skip
    assert DropRule.objects.get(key="drop-general").limit_ratio == Decimal("0.1")
    page = client.get(f"/profiles/{profile.pk}/").content.decode()
    assert "battery post to panel, in engine off, scene" in page and "all loads</th>" in page


@pytest.mark.parametrize(
    ("key", "fields", "words"),
    [
        ("drop-general", {"to_node": "panel"}, "Every load needs a limit for the whole way"),
        ("", {"from_node": "?bus"}, "Use up to 40 letters"),
        ("", {"conditions": "scene, -"}, "Use up to 40 letters"),
    ],
)
def test_drop_rule_of_a_stretch_that_cannot_be_says_why(
    client: Client, writer: Any, key: str, fields: dict[str, str], words: str
) -> None:
    profile = make_customer().profile
    sent = {
        "drop_class": "*", "limit_ratio": "3", "base_v": "12", "current": "peak", "conductor_temp_c": "50",
        "source": "contract 7.4", "row_version": "0",
    }  # fmt: skip

    response = client.post(f"/profiles/{profile.pk}/drop-rules/?key={key}", sent | fields)

    assert response.status_code == 422 and words in response.content.decode()
    assert not DropRule.objects.exists()


def test_customer_of_the_same_name_in_other_letters_is_there_already(client: Client, writer: Any) -> None:
    make_customer(name="Ridgeway Roads")
    before = Customer.objects.count()

    response = client.post("/customers/add/", {"name": "ridgeway roads", "profile": ""})

    assert response.status_code == 422 and "of this name already" in response.content.decode()
    assert Customer.objects.count() == before
