"""Taking in a job: customer, vehicle and build written down together, or not at all."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import transaction

from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem
from builds.errors import BadInput, Taken
from builds.models import Build, Customer, Person, PlatformVersion, Vehicle
from builds.permissions import Action, check_may
from builds.selectors.shop_time import shop_zone
from builds.services import builds
from builds.services.customers import add_customer
from builds.services.vehicles import add_vehicle, take_over

__all__ = ["JobFacts", "open_job"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFacts:
    """
    What a service writer knows of a job.

    ``customer`` or the values of a new one; ``vehicle`` or the values of a new one on ``platform``; ``source`` where the
    design of another build is the start. ``may_be_past`` is said where the promised day has passed already and stays;
    ``take_over`` where a vehicle on file under another customer has changed hands.
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
    may_be_past: bool = False
    take_over: bool = False
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
        _check_promise(facts, at)
        vehicle = facts.vehicle or _vehicle(facts, customer, platform, by, at)
        if facts.take_over and facts.source is None:
            platform = vehicle.platform
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


def _check_promise(facts: JobFacts, at: datetime) -> None:
    """Ask about a promise that was broken before it was made; an old order that is written down late may say so."""
    today = at.astimezone(shop_zone()).date()
    if facts.promised_on is not None and facts.promised_on < today and not facts.may_be_past:
        words = f"This day has passed: today is {today:%Y-%m-%d}. Write a later one, or say that it stays."
        raise BadInput({"promised_on": words, "may_be_past": words})


def _vehicle(facts: JobFacts, customer: Customer, platform: PlatformVersion, by: Person, at: datetime) -> Vehicle:
    """The new vehicle, or the one of this VIN from another customer's hands where a person says that it was sold on."""
    vin = "".join(str(facts.new_vehicle.get("vin", "")).split()).upper()
    known = Vehicle.objects.filter(vin=vin).select_related("customer", "platform").first() if vin else None
    if known is None:
        return add_vehicle(customer=customer, platform=platform, values=facts.new_vehicle, by=by, at=at)
    words = f"This VIN is on file already: {known.unit_number or 'a vehicle'} of {known.customer}."
    if known.customer_id == customer.pk:
        raise Taken(f"{words} Choose it above.", fields={"vin": f"{words} Choose it above."})
    if not facts.take_over:
        raise Taken(
            words, fields={"vin": words, "take_over": "If it has changed hands, say so; its history stays with it."}
        )
    return take_over(vehicle=known, customer=customer, values=facts.new_vehicle, by=by)
