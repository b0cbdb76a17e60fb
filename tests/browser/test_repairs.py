"""A deliberately bad build brought to rest by its own proposed repairs alone, pressed in the order they are listed."""

from collections.abc import Callable
from math import floor

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from builds.engineering.document.canonical import canonical_text
from builds.models import EditBatch, Role
from builds.services.build_documents import import_build
from tests.engineering.assess.bad_build import bad_build
from tests.factories.builds import make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)


def test_bad_build_comes_to_rest_by_pressing_its_first_repair_again_and_again(open_as: Callable[..., Page]) -> None:
    make_shop()
    manager = make_person(Role.MANAGER)
    build = import_build(text=canonical_text(bad_build()), by=manager, at=timezone.now(), number="2699")
    page = open_as(manager)
    page.goto(f"/builds/{build.number}/")
    blocking = page.locator(".finding-blocking")
    faults = blocking.count()
    version = page.locator("[data-design-version]")

    presses = 0
    while blocking.count() and presses < floor(1.5 * faults):
        before = int(version.get_attribute("data-design-version") or "0")
        blocking.locator("form button").first.click()
        presses += 1
        expect(version).to_have_attribute("data-design-version", str(before + 1))

    assert faults >= 10
    assert blocking.count() == 0
    assert EditBatch.objects.filter(build=build).count() == presses
    build.refresh_from_db()
    assert build.blocking_count == 0
