"""
The job list of 5,000 builds against a bare page: one query, twenty rows, a template, the same middlewares.

Both are asked turn by turn in the same process, so the server under them is the same.
"""

import time
from collections.abc import Callable
from datetime import timedelta
from functools import cache
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.test import Client, override_settings
from django.urls import include, path
from django.utils import timezone

from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem, VehicleSide
from builds.management.benchmarks import Figure
from builds.management.benchmarks.rolled_back import rolled_back, signed_in
from builds.models import Build, BuyerProfile, Customer, Person, PlatformVersion, Stage, Vehicle

__all__ = ["measure", "urlpatterns"]

BUILDS = 5000
REQUESTS = 60
ROUNDS = 5
LEAST_RATIO = 0.5
_BARE = (
    "<!doctype html><html lang='en'><title>Bare</title><table>{% for row in rows %}<tr><td>{{ row.number }}</td>"
    "<td>{{ row.title }}</td><td>{{ row.stage }}</td></tr>{% endfor %}</table></html>"
)


def bare_page(request: HttpRequest) -> HttpResponse:
    """One query, twenty rows, a template."""
    rows = Build.objects.order_by("number")[:20]
    return HttpResponse(_bare_template().render({"rows": rows}, request))


@cache
def _bare_template() -> Any:
    """The template, compiled once as Django's own loader does."""
    return engines["django"].from_string(_BARE)


urlpatterns = [path("bench-bare/", bare_page), path("", include("builds.urls"))]


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return requests a second of both, best of five turns, and their ratio."""
    with rolled_back(), override_settings(ROOT_URLCONF=__name__):
        client, person = signed_in()
        _make_builds(person)
        say(f"{Build.objects.count()} builds")
        best = {"/builds/": 0.0, "/bench-bare/": 0.0}
        for _ in range(ROUNDS):
            best = {address: max(fastest, _per_second(client, address)) for address, fastest in best.items()}
    ours, bare = best.values()
    return [
        Figure(name="job list over bare page", value=ours / bare, unit="", least=LEAST_RATIO),
        Figure(name="job list", value=ours, unit="requests/s"),
        Figure(name="bare page", value=bare, unit="requests/s"),
    ]


def _per_second(client: Client, address: str) -> float:
    started = time.perf_counter()
    for _ in range(REQUESTS):
        if client.get(address).status_code != 200:
            raise RuntimeError(f"{address} did not answer with 200.")
    return REQUESTS / (time.perf_counter() - started)


def _make_builds(person: Person) -> None:
    profile = BuyerProfile.objects.create(name="bench")
    customers = Customer.objects.bulk_create([Customer(name=f"bench {n}", profile=profile) for n in range(50)])
    platform = PlatformVersion.objects.create(
        name="bench", version="1", wheelbase_mm=4000, gvwr_kg=4500, gawr_front_kg=2200, gawr_rear_kg=2900,
        curb_front_kg=1500, curb_rear_kg=1100, seats=5,
    )  # fmt: skip
    now = timezone.now()
    vehicles = Vehicle.objects.bulk_create(
        [Vehicle(customer=customers[n % 50], platform=platform, unit_number=f"B-{n}") for n in range(BUILDS)]
    )
    stages = [Stage.INTAKE, Stage.QUOTED, Stage.APPROVED, Stage.IN_WORK, Stage.FINAL_CHECK, Stage.CLOSED]
    Build.objects.bulk_create(
        Build(
            number=f"b{n}", title=f"Bench build {n}", kind=BuildKind.NEW, customer=vehicle.customer, profile=profile,
            vehicle=vehicle, platform=platform, promised_on=(now + timedelta(days=n % 60 - 20)).date(),
            units=UnitSystem.US, gauge_basis=GaugeBasis.SAE, driver_side=VehicleSide.LEFT, stage=stages[n % len(stages)],
            blocking_count=n % 7 == 0, step_count=40, step_done_count=n % 40, responsible=person, opened_by=person,
            opened_at=now,
        )
        for n, vehicle in enumerate(vehicles)
    )  # fmt: skip
