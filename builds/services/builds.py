"""Opening a build: empty, or with the working design of another."""

from datetime import date, datetime

from django.db import IntegrityError, connection, transaction

from builds import models
from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem, VehicleSide
from builds.errors import BadInput, Taken
from builds.models import (
    Build,
    BuyerProfile,
    Customer,
    Person,
    PlatformVersion,
    Vehicle,
)
from builds.permissions import Action, check_may
from builds.selectors.engineering_inputs import design_of
from builds.services.actors import act_as
from builds.services.assessments import assess_build
from builds.services.design_writing import write_design

__all__ = ["copy_design", "next_number", "open_build", "open_from_build"]

_FIRST_NUMBER = 2600


def open_build(
    *,
    customer: Customer,
    profile: BuyerProfile,
    vehicle: Vehicle,
    platform: PlatformVersion,
    title: str,
    kind: BuildKind,
    purchase_order: str,
    promised_on: date | None,
    units: UnitSystem,
    gauge_basis: GaugeBasis,
    by: Person,
    at: datetime,
    driver_side: VehicleSide = VehicleSide.LEFT,
    wire_colour_scheme: str = "function",
    number: str | None = None,
    invented: bool = False,
) -> Build:
    """
    Open a build at intake, with an empty design.

    Raises
    ------
    BadInput
        If the title is empty or the vehicle belongs to someone else.
    Taken
        If ``number`` is in use.
    """
    check_may(by, Action.OPEN_BUILD)
    _check(title=title, customer=customer, vehicle=vehicle, platform=platform)
    try:
        with transaction.atomic():
            act_as(by)
            build = Build.objects.create(
                number=number or next_number(), title=title.strip(), kind=kind, customer=customer, profile=profile,
                vehicle=vehicle, platform=platform, purchase_order=purchase_order.strip(), promised_on=promised_on,
                units=units, gauge_basis=gauge_basis, driver_side=driver_side, wire_colour_scheme=wire_colour_scheme,
                responsible=by, opened_by=by, opened_at=at, invented=invented,
            )  # fmt: skip
            models.StageChange.objects.create(
                build=build, from_stage=models.Stage.INTAKE, to_stage=models.Stage.INTAKE, note="opened", by=by, at=at
            )
    except IntegrityError as error:
        raise Taken(f"There is a build {number} already.", fields={"number": "This number is taken."}) from error
    return build


def open_from_build(
    *, source: Build, customer: Customer, vehicle: Vehicle, title: str, purchase_order: str, promised_on: date | None,
    by: Person, at: datetime, number: str | None = None,
) -> Build:  # fmt: skip
    """Open a build with a copy of another's working design; the vehicle keeps its own VIN."""
    with transaction.atomic():
        build = open_build(
            customer=customer, profile=source.profile, vehicle=vehicle, platform=source.platform, title=title,
            kind=BuildKind(source.kind), purchase_order=purchase_order, promised_on=promised_on,
            units=UnitSystem(source.units), gauge_basis=GaugeBasis(source.gauge_basis),
            driver_side=VehicleSide(source.driver_side), wire_colour_scheme=source.wire_colour_scheme, by=by, at=at,
            number=number, invented=source.invented,
        )  # fmt: skip
        copy_design(source=source, target=build)
        assess_build(build)
    return build


def next_number() -> str:
    """Return the number after the highest plain one; a lock keeps two people from the same."""
    with connection.cursor() as cursor:
        cursor.execute("select pg_advisory_xact_lock(hashtext('baywright-build-number'))")
        cursor.execute("select max(number::int) from builds_build where number ~ '^[0-9]{1,9}$'")
        row = cursor.fetchone()
    return str(max(row[0] or 0, _FIRST_NUMBER) + 1)


def copy_design(*, source: Build, target: Build) -> None:
    """Write one working design into another build that is empty, references kept by key."""
    write_design(target, design_of(source))


def _check(*, title: str, customer: Customer, vehicle: Vehicle, platform: PlatformVersion) -> None:
    fields = {}
    if not title.strip():
        fields["title"] = "Say in a few words what is built."
    if vehicle.customer_id != customer.pk:
        fields["vehicle"] = f"This vehicle belongs to {vehicle.customer}."
    if vehicle.platform_id != platform.pk:
        fields["platform"] = f"This vehicle is a {vehicle.platform}."
    if fields:
        raise BadInput(fields)
