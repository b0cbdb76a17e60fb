"""The job list of a large shop beside a bare page that asks one question: same process, same middleware, turn by turn."""

import statistics
import time
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.test import Client, override_settings
from django.urls import include, path

from builds.models import Build, Role
from builds.permissions import Action, check_may
from tests.factories.builds import make_build, make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

BUILDS = 5000
TURNS = 60
BARE = """<!doctype html><html lang="en"><head><title>Builds</title></head><body><table>
{% for build in builds %}<tr><td>{{ build.number }}</td><td>{{ build.title }}</td><td>{{ build.purchase_order }}</td>
<td>{{ build.stage }}</td><td>{{ build.promised_on }}</td></tr>{% endfor %}</table></body></html>"""


def bare_page(request: HttpRequest) -> HttpResponse:
    """One question, twenty rows; like every page of the shop it is shown to those who are signed in."""
    check_may(request.user, Action.SEE_BUILDS)
    template = engines["django"].from_string(BARE) if not _bare else _bare[0]
    _bare[:] = [template]
    return HttpResponse(template.render({"builds": Build.objects.order_by("number")[:20]}, request))


_bare: list[Any] = []
urlpatterns = [path("bare/", bare_page), path("", include("config.urls"))]

# One row for each number: stages, promises and blocking counts as they lie in a shop that has been busy for years.
_FILL = """
insert into builds_vehicle (row_version, vin, vin_exception, unit_number, sold_before, customer_id, platform_id)
select 1, '', '', 'LIST-' || n, false, v.customer_id, v.platform_id
from generate_series(1, %(builds)s) n, builds_vehicle v where v.id = %(vehicle)s;
insert into builds_build (
    row_version, number, title, kind, customer_id, profile_id, vehicle_id, platform_id, purchase_order, promised_on, units,
    gauge_basis, driver_side, wire_colour_scheme, stage, hold_reason, hold_who_acts, hold_note, invoice_number,
    design_version, assessed_version, blocking_count, caution_count, note_count, step_count, step_done_count,
    responsible_id, opened_by_id, opened_at, invented
)
select 1, '4' || lpad(n::text, 5, '0'), 'Incident van ' || n, 'new', b.customer_id, b.profile_id, v.id, b.platform_id,
    'PO-' || n, case when n %% 9 > 0 then current_date + (n * 7 %% 140) - 20 end, 'us', 'sae', 'left', 'function',
    (array['intake', 'quoted', 'approved', 'in_work', 'in_work', 'final_check', 'ready', 'closed'])[1 + n %% 8], '', '', '',
    '', 1, 1, case when n %% 13 = 0 then 1 else 0 end, 0, 0, 40, n %% 40, b.opened_by_id, b.opened_by_id, now(), true
from generate_series(1, %(builds)s) n join builds_vehicle v on v.unit_number = 'LIST-' || n, builds_build b where b.id = %(build)s;
"""


@pytest.fixture
def large_shop(client: Client) -> Iterator[Client]:
    """Five thousand builds and someone who looks at them."""
    make_shop()
    person = make_person(Role.MANAGER)
    first = make_build(person)
    with connection.cursor() as cursor:
        cursor.execute(_FILL, {"builds": BUILDS, "vehicle": first.vehicle_id, "build": first.pk})
        for table in ("builds_build", "builds_vehicle", "builds_buildmatch"):
            cursor.execute(f"analyze {table}")
    client.force_login(person)
    with override_settings(ROOT_URLCONF=__name__):
        yield client


def test_list_is_answered_at_half_the_rate_of_a_bare_page_at_least(large_shop: Client) -> None:
    taken: dict[str, list[float]] = {"/bare/": [], "/builds/": [], "/builds/?page=9": []}
    for turn in range(TURNS + 10):
        for address, times in taken.items():
            start = time.perf_counter()
            response = large_shop.get(address)
            if turn >= 10:  # the first ones fill templates, plans and pictures
                times.append(time.perf_counter() - start)
            assert response.status_code == 200

    # the quickest tenth of each: what a page costs by itself, whoever else uses the machine meanwhile
    costs = {address: statistics.quantiles(times, n=10)[0] for address, times in taken.items()}

    assert costs["/builds/"] <= 2 * costs["/bare/"], costs
    assert costs["/builds/?page=9"] <= 2 * costs["/bare/"], costs
