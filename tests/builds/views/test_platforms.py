"""A new platform version is written from one on file, checked as a document is, and changes nothing that stands."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from builds.engineering.vocabulary import UnitSystem
from builds.forms.platforms import PlatformForm
from builds.models import PlatformVersion, Role
from builds.selectors.platform_inputs import platform_of
from tests.factories.builds import make_person, make_platform, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def source(client: Client) -> PlatformVersion:
    make_shop()
    client.force_login(make_person(Role.DESIGNER))
    return make_platform()


def typed(source: PlatformVersion, **more: str) -> dict[str, str]:
    """What the page sends back untouched, but for the version."""
    form = PlatformForm(platform_of(source), UnitSystem.US)
    return {name: str(form[name].value() or "") for name in form.fields} | {"version": "2027"} | more


def write(client: Client, source: PlatformVersion, **more: str) -> Any:
    return client.post(f"/platforms/{source.pk}/new-version/", typed(source, **more))


def test_new_version_has_all_of_its_source_and_what_was_changed(client: Client, source: PlatformVersion) -> None:
    before = platform_of(source)

    answer = write(client, source, gvwr_kg="10000", routes="ENG; CAB; 2.5\nCAB; REAR; 3")

    assert answer.status_code == 302
    made = PlatformVersion.objects.get(version="2027")
    after = platform_of(made)
    assert made.gvwr_kg == Decimal("4535.924")  # 10,000 lb
    assert [route.length_m for route in after.routes] == [2.5, 3.0]
    assert (after.zones, after.no_mount_zones, after.curb_front_kg) == (
        before.zones,
        before.no_mount_zones,
        before.curb_front_kg,
    )
    source.refresh_from_db()
    assert platform_of(source) == before


def test_new_version_says_what_its_starter_takes_and_forgets_it_again(client: Client, source: PlatformVersion) -> None:
    assert write(client, source, crank_a="310", crank_cable_mohm="1.5").status_code == 302
    made = PlatformVersion.objects.get(version="2027")
    assert (made.crank_a, made.crank_least_v, made.crank_cable_mohm) == (Decimal(310), None, Decimal("1.5"))

    assert write(client, made, version="2028", crank_a="").status_code == 302
    assert PlatformVersion.objects.get(version="2028").crank_a is None
    assert PlatformVersion.objects.get(version="2028").crank_cable_mohm == Decimal("1.5")


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"version": "2026"}, "is on file already"),
        ({"version": ""}, "This may not stay empty."),
        ({"routes": "ENG; MOON; 2"}, "Line 1, to: there is no zone"),
        ({"routes": "ENG; CAB; far"}, "is not a number."),
        ({"routes": "ENG; CAB; 2; 3"}, "Line 1 has 4 columns; there are 3."),
        ({"zones": "ENG; Engine bay; 900; 0; 0"}, "Line 1, ambient"),
        ({"gvwr_kg": "heavy"}, "gvwr_kg"),
    ],
)
def test_what_cannot_be_taken_is_said_at_its_line_and_nothing_is_written(
    client: Client, source: PlatformVersion, wrong: dict[str, str], words: str
) -> None:
    answer = write(client, source, **wrong)

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert PlatformVersion.objects.count() == 1


def test_list_shows_versions_and_who_may_write_one(client: Client, source: PlatformVersion) -> None:
    assert f"/platforms/{source.pk}/new-version/" in client.get("/platforms/").content.decode()

    client.force_login(make_person(Role.TECHNICIAN))

    page = client.get("/platforms/").content.decode()
    assert source.name in page and "new-version" not in page
    assert client.get(f"/platforms/{source.pk}/new-version/").status_code == 403
