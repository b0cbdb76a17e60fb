"""Taking in a job: customer, vehicle and build written down together, or not at all."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import transaction

from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem
from builds.errors import BadInput
from builds.models import Build, Customer, Person, PlatformVersion, Vehicle
from builds.permissions import Action, check_may
from builds.services import builds
from builds.services.customers import add_customer
from builds.services.vehicles import add_vehicle

__all__ = ["JobFacts", "open_job"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFacts:
    """
    What a service writer knows of a job.

    ``customer`` or the values of a new one; ``vehicle`` or the values of a new one on ``platform``; ``source`` where the
    design of another build is the start.
    """

    title: str
    customer: Customer | None = None
    new_customer: Mapping[str, str] = field(default_factory=dict)
    vehicle: Vehicle | None = None
    new_vehicle: Mapping[str, Any] = field(default_factory=dict)
    platform: PlatformVersion | None = None
    source: Build | None = None
    kind: BuildKind = BuildKind.NEW
    purchase_order: str = ""
    promised_on: date | None = None
    units: UnitSystem = UnitSystem.US
    gauge_basis: GaugeBasis = GaugeBasis.SAE


def open_job(*, facts: JobFacts, by: Person, at: datetime) -> Build:
    """Open a build at intake from what is known of the job. Raises BadInput, Taken; then nothing is written."""
    check_may(by, Action.OPEN_BUILD)
    with transaction.atomic():
        customer = facts.customer or add_customer(values=facts.new_customer, by=by, at=at)
        platform = facts.source.platform if facts.source else facts.platform
        if platform is None:
            raise BadInput({"platform": "Choose what vehicle it is."})
        vehicle = facts.vehicle or add_vehicle(
            customer=customer, platform=platform, values=facts.new_vehicle, by=by, at=at
        )
        if facts.source is not None:
            return builds.open_from_build(
                source=facts.source, customer=customer, vehicle=vehicle, title=facts.title,
                purchase_order=facts.purchase_order, promised_on=facts.promised_on, by=by, at=at,
            )  # fmt: skip
        return builds.open_build(
            customer=customer, profile=customer.profile, vehicle=vehicle, platform=platform, title=facts.title,
            kind=facts.kind, purchase_order=facts.purchase_order, promised_on=facts.promised_on, units=facts.units,
            gauge_basis=facts.gauge_basis, by=by, at=at,
        )  # fmt: skip
