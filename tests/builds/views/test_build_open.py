"""Opening a job: in minutes from a request, all of it or nothing, words at the field for what cannot be taken."""

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from builds.models import Build, BuyerProfile, Customer, Role, Vehicle
from tests.factories.builds import (
    make_build,
    make_customer,
    make_designed_build,
    make_person,
    make_platform,
    make_shop,
    make_vehicle,
)

pytestmark = pytest.mark.django_db

# 49 CFR 565.15(c)(5) prints this number as its worked example: check digit X.
GOOD_VIN = "1M8GDM9AXKP042788"
BAD_VIN = "1M8GDM9A0KP042788"
NEXT_MONTH = timezone.localdate() + timedelta(days=30)
DEMO = Path(__file__).resolve().parents[3] / "demo"


@pytest.fixture
def writer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.SERVICE_WRITER, short_name="A. Dace")
    client.force_login(person)
    return person


def request_of_a_customer(**more: Any) -> dict[str, Any]:
    """Return what a service writer types for a new customer's new vehicle."""
    return {
        "customer": "", "new_customer": "Saltmarsh Water Rescue", "contact_name": "C. Reed", "telephone": "", "email": "",
        "vehicle": "", "vin": GOOD_VIN, "unit_number": "SWR-7", "model_year": "2026", "title": "Boat tender",
        "kind": "new", "purchase_order": "SW-4471", "promised_on": NEXT_MONTH.isoformat(), "units": "us", "gauge_basis": "sae",
    } | more  # fmt: skip


def rows() -> tuple[int, ...]:
    return tuple(model.objects.count() for model in (Build, Customer, BuyerProfile, Vehicle))


def test_job_of_a_new_customer_is_opened_in_one_go(client: Client, writer: Any) -> None:
    platform = make_platform()

    response = client.post("/builds/open/", request_of_a_customer(platform=platform.pk))

    build = Build.objects.get()
    assert response.status_code == 302 and response["Location"] == f"/builds/{build.number}/"
    assert (build.customer.name, build.vehicle.vin, build.title) == ("Saltmarsh Water Rescue", GOOD_VIN, "Boat tender")
    assert build.responsible == writer and build.profile == build.customer.profile
    assert client.get(response["Location"]).status_code == 200


def test_vin_may_follow_when_the_vehicle_arrives(client: Client, writer: Any) -> None:
    client.post("/builds/open/", request_of_a_customer(platform=make_platform().pk, vin=""))

    assert Build.objects.get().vehicle.vin == ""


def test_failing_check_digit_is_kept_with_a_reason(client: Client, writer: Any) -> None:
    sent = request_of_a_customer(platform=make_platform().pk, vin=BAD_VIN)
    refused = client.post("/builds/open/", sent)
    assert refused.status_code == 422
    assert "Position 9 is 0; the other characters give X." in refused.content.decode()
    assert 'name="vin_exception"' in refused.content.decode()

    client.post("/builds/open/", sent | {"vin_exception": "plate reads so; asked the maker"})

    assert Build.objects.get().vehicle.vin_exception == "plate reads so; asked the maker"


def test_vin_is_checked_while_it_is_typed(client: Client, writer: Any) -> None:
    good = client.get("/builds/open/vin/", {"vin": GOOD_VIN}).content.decode()
    bad = client.get("/builds/open/vin/", {"vin": BAD_VIN}).content.decode()
    short = client.get("/builds/open/vin/", {"vin": "1M8"}).content.decode()

    assert "Check digit fits" in good and "1989" in good
    assert "Keep it and say why" in bad
    assert "The number has 3 characters; a VIN has 17." in short and "Keep it and say why" not in short
    assert client.get("/builds/open/vin/", {"vin": ""}).content.decode().strip() == ""


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"title": ""}, "This may not stay empty."),
        ({"title": "x" * 161}, "Use at most 160 characters."),
        ({"new_customer": ""}, "Choose a customer, or name a new one."),
        ({"new_customer": "y" * 121}, "Use at most 120 characters."),
        ({"email": "not-an-address"}, "This is not an address that mail can be sent to."),
        ({"vin": "1M8GDM9AXKP04278"}, "The number has 16 characters; a VIN has 17."),
        ({"vin": "1M8GDM9AXKPO42788"}, "A VIN has no O."),
        ({"model_year": "19,98"}, "Write the number with a point and no commas"),
        ({"model_year": "1850"}, "Type at least 1900."),
        ({"platform": ""}, "Choose what vehicle it is."),
        ({"platform": "999999"}, "Choose one of the list."),
        ({"customer": "999999"}, "Choose one of the list."),
        ({"promised_on": "18.12.2026"}, "Write the day as year, month, day: 2026-12-18."),
        ({"promised_on": "2026-02-30"}, "Write the day as year, month, day: 2026-12-18."),
        ({"units": "stone"}, "stone"),
        ({"kind": "repaint"}, "repaint"),
    ],
)
def test_bad_input_is_said_at_the_field_and_nothing_is_written(
    client: Client, writer: Any, sent: dict[str, str], words: str
) -> None:
    platform = make_platform()
    before = rows()

    response = client.post("/builds/open/", request_of_a_customer(platform=platform.pk) | sent)

    assert response.status_code == 422
    assert words in response.content.decode()
    assert rows() == before


def test_name_that_is_taken_is_said_at_the_new_customer(client: Client, writer: Any) -> None:
    make_customer(name="Saltmarsh Water Rescue")
    before = rows()

    response = client.post("/builds/open/", request_of_a_customer(platform=make_platform().pk))

    assert "There is a customer of this name already." in response.context["form"].errors["new_customer"]
    assert rows() == before


def test_vin_on_file_is_said_with_whose_it_is(client: Client, writer: Any) -> None:
    owner = make_customer(name="Harrow Airfield")
    make_vehicle(owner, make_platform(), vin=GOOD_VIN, unit_number="HA-4")
    before = rows()

    response = client.post("/builds/open/", request_of_a_customer(platform=make_platform().pk))

    assert "This VIN is on file already: HA-4 of Harrow Airfield." in response.content.decode()
    assert rows() == before


def test_vehicle_of_another_customer_cannot_be_chosen(client: Client, writer: Any) -> None:
    foreign = make_vehicle(make_customer(), make_platform())
    own = make_customer()

    sent = request_of_a_customer(customer=own.pk, new_customer="", vehicle=foreign.pk, vin="")
    response = client.post("/builds/open/", sent)

    assert response.status_code == 422
    assert "This vehicle belongs to another customer." in response.content.decode()


def test_vehicles_of_the_chosen_customer_are_offered(client: Client, writer: Any) -> None:
    customer = make_customer()
    make_vehicle(customer, make_platform(), unit_number="RR-31")

    text = client.get("/builds/open/vehicles/", {"customer": customer.pk}).content.decode()

    assert "RR-31" in text
    assert "RR-31" not in client.get("/builds/open/vehicles/", {"customer": "x"}).content.decode()


def test_job_starts_from_another_build_with_its_design(client: Client, writer: Any) -> None:
    source = make_designed_build()
    sent = request_of_a_customer(source=source.number)

    response = client.post("/builds/open/?start=build", sent)

    build = Build.objects.exclude(pk=source.pk).get()
    assert response.status_code == 302
    assert build.circuits.count() == source.circuits.count() == 2
    assert build.vehicle.vin == GOOD_VIN and build.platform == source.platform


@pytest.mark.parametrize(
    ("number", "words"), [("", "Write the number of the build"), ("9999", "There is no build 9999.")]
)
def test_build_to_start_from_has_to_be_there(client: Client, writer: Any, number: str, words: str) -> None:
    before = rows()

    response = client.post("/builds/open/?start=build", request_of_a_customer(source=number))

    assert response.status_code == 422 and words in response.content.decode()
    assert rows() == before


def test_job_starts_from_a_build_document(client: Client, writer: Any) -> None:
    text = (DEMO / "2609-escort-car.json").read_bytes()

    response = client.post("/builds/open/?start=document", {"document": SimpleUploadedFile("2609.json", text)})

    build = Build.objects.get(number="2609")
    assert response.status_code == 302 and response["Location"] == "/builds/2609/"
    assert build.circuits.exists()
    assert client.get("/builds/2609/").status_code == 200


def broken_document() -> bytes:
    document = json.loads((DEMO / "2609-escort-car.json").read_text())
    document["build"]["circuits"][0]["length_m"] = -1
    document["build"]["circuits"][1]["panel"] = "P99"
    return json.dumps(document).encode()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "This file is empty."),
        (b"not json", "This document has faults"),
        (b"\xff\xfe\x00", "This document has faults"),
        (b"[]", "This document has faults"),
        (broken_document(), "/build/circuits/0/length_m"),
        (broken_document(), "/build/circuits/1/panel"),
    ],
)
def test_document_with_faults_is_refused_with_each_at_its_pointer(
    client: Client, writer: Any, content: bytes, words: str
) -> None:
    before = rows()

    response = client.post("/builds/open/?start=document", {"document": SimpleUploadedFile("build.json", content)})

    assert response.status_code == 422
    assert words in response.content.decode()
    assert rows() == before


def test_document_whose_number_is_taken_gets_another(client: Client, writer: Any) -> None:
    text = (DEMO / "2609-escort-car.json").read_bytes()
    client.post("/builds/open/?start=document", {"document": SimpleUploadedFile("a.json", text)})
    again = client.post("/builds/open/?start=document", {"document": SimpleUploadedFile("b.json", text)})
    assert again.status_code == 422 and "2609" in again.content.decode()

    client.post("/builds/open/?start=document", {"document": SimpleUploadedFile("c.json", text), "number": "2700"})

    assert Build.objects.filter(number="2700").exists()


def test_technician_opens_no_build(client: Client) -> None:
    client.force_login(make_person(Role.TECHNICIAN))

    assert client.get("/builds/open/").status_code == 403
    assert client.post("/builds/open/", request_of_a_customer()).status_code == 403


def test_designer_chooses_a_customer_and_adds_none(client: Client) -> None:
    make_shop()
    client.force_login(make_person(Role.DESIGNER))
    customer, platform = make_customer(), make_platform()
    assert "new_customer" not in client.get("/builds/open/").content.decode()

    client.post("/builds/open/", request_of_a_customer(customer=customer.pk, platform=platform.pk))

    assert Build.objects.get().customer == customer and Customer.objects.count() == 1


def facts_of(build: Build, **more: Any) -> dict[str, Any]:
    return {
        "title": build.title, "purchase_order": build.purchase_order, "promised_on": "2026-12-20", "units": "us",
        "responsible": "", "vin": "", "vin_exception": "", "unit_number": build.vehicle.unit_number, "model_year": "",
        "row_version": build.row_version, "vehicle_version": build.vehicle.row_version,
    } | more  # fmt: skip


def test_facts_of_a_build_are_corrected_and_count_as_a_new_version(client: Client, writer: Any) -> None:
    build = make_build(writer)

    response = client.post(
        f"/builds/{build.number}/facts/", facts_of(build, title="Boat tender, two crews", vin=GOOD_VIN)
    )

    build.refresh_from_db()
    build.vehicle.refresh_from_db()
    assert response.status_code == 302
    assert (build.title, build.vehicle.vin, build.design_version) == ("Boat tender, two crews", GOOD_VIN, 2)


def test_facts_that_someone_changed_meanwhile_are_not_overwritten(client: Client, writer: Any) -> None:
    build = make_build(writer)
    sent = facts_of(build, title="Mine")
    Build.objects.filter(pk=build.pk).update(title="Theirs", row_version=2)

    response = client.post(f"/builds/{build.number}/facts/", sent)

    assert response.status_code == 422
    assert "Someone changed these facts" in response.content.decode()
    assert Build.objects.get(pk=build.pk).title == "Theirs"


def test_promise_of_a_day_that_has_passed_is_asked_about(client: Client, writer: Any) -> None:
    sent = request_of_a_customer(platform=make_platform().pk, promised_on="2026-01-05")

    refused = client.post("/builds/open/", sent)

    assert refused.status_code == 422 and "This day has passed" in refused.content.decode()
    assert 'name="may_be_past"' in refused.content.decode() and not Build.objects.exists()
    assert client.post("/builds/open/", sent | {"may_be_past": "on"}).status_code == 302


def test_model_year_comes_from_the_vin_and_another_than_the_platforms_is_cautioned_about(
    client: Client, writer: Any
) -> None:
    platform = make_platform()  # its version says 2026

    said = client.get("/builds/open/vin/", {"vin": GOOD_VIN, "platform": platform.pk}).content.decode()
    client.post("/builds/open/", request_of_a_customer(platform=platform.pk, model_year=""))

    build = Build.objects.get()
    assert "The platform chosen below is for 2026; this VIN says 1989." in said
    assert build.vehicle.model_year == 1989
    assert "By its VIN the vehicle is of model year 1989; the platform is for 2026." in (
        client.get(f"/builds/{build.number}/").content.decode()
    )


def test_vehicle_that_was_sold_on_is_taken_over_with_its_history(client: Client, writer: Any) -> None:
    platform = make_platform()
    vehicle = make_vehicle(make_customer(name="Harrow Airfield"), platform, vin=GOOD_VIN, unit_number="HA-4")
    old = make_build(customer=vehicle.customer, vehicle=vehicle, platform=platform)
    sent = request_of_a_customer(platform=platform.pk, unit_number="SWR-9")
    asked = client.post("/builds/open/", sent)
    assert 'name="take_over"' in asked.content.decode()

    still_open = client.post("/builds/open/", sent | {"take_over": "on"})
    assert f"Build {old.number} of Harrow Airfield is still open with this vehicle." in still_open.content.decode()
    Build.objects.filter(pk=old.pk).update(stage="closed")
    assert client.post("/builds/open/", sent | {"take_over": "on"}).status_code == 302

    vehicle.refresh_from_db()
    old.refresh_from_db()
    assert (vehicle.customer.name, vehicle.unit_number, vehicle.sold_before) == (
        "Saltmarsh Water Rescue",
        "SWR-9",
        True,
    )
    assert (old.customer.name, old.vehicle) == ("Harrow Airfield", vehicle)
    assert vehicle.builds.count() == 2


def test_vin_of_the_same_customer_is_to_be_chosen_above(client: Client, writer: Any) -> None:
    owner = make_customer(name="Harrow Airfield")
    make_vehicle(owner, make_platform(), vin=GOOD_VIN, unit_number="HA-4")

    said = client.post(
        "/builds/open/", request_of_a_customer(customer=owner.pk, new_customer="", platform=make_platform().pk)
    )

    assert "HA-4 of Harrow Airfield. Choose it above." in said.content.decode()
