"""
A build document into rows: a whole build opened from its text, or nothing at all.

What several builds share is found before it is made: the customer and the profile by name, the platform by name and
version, the vehicle by VIN, parts by their number in the catalogue. A shared thing that is on file with other content is
a fault at its pointer, because taking either side would quietly change somebody's build.
"""

import re
from datetime import datetime

from django.db import transaction

from builds import models
from builds.engineering.design import Buyer, BuyerRule, Design, Platform
from builds.engineering.design import Vehicle as VehicleFacts
from builds.engineering.document import DocumentFaults, read_document
from builds.engineering.document.schema import BUILD_NUMBER_PATTERN
from builds.errors import BadInput, DocumentRefused
from builds.models import Build, BuyerProfile, Customer, Person, PlatformVersion, Vehicle
from builds.permissions import Action, check_may
from builds.selectors.engineering_inputs import buyer_of, platform_of, vehicle_of
from builds.services.actors import act_as
from builds.services.assessments import assess_build
from builds.services.builds import open_build
from builds.services.design_rows import column_value
from builds.services.design_writing import write_design
from builds.services.platforms import make_platform, part_columns, part_rows

__all__ = ["import_build"]


def import_build(
    *, text: str | bytes, by: Person, at: datetime, number: str | None = None, invented: bool = False
) -> Build:
    """
    Open a build with the design of a document.

    Parameters
    ----------
    text : str or bytes
        The document.
    by, at
        Who opens it, and when.
    number : str, optional
        The number it gets here; the document's own if not given.
    invented : bool
        Whether it is demo data.

    Raises
    ------
    DocumentRefused
        If the text has faults, or names something shared that is on file with other content; ``fields`` maps JSON
        pointers to words. Nothing is written.
    BadInput
        If ``number`` is none that a build can have.
    Taken
        If the number is in use. Nothing is written.
    """
    check_may(by, Action.OPEN_BUILD)
    if number is not None and not re.fullmatch(BUILD_NUMBER_PATTERN, number):
        raise BadInput(
            {"number": "A build's number is 1 to 12 letters, digits and -, starting with a letter or a digit."}
        )
    design = _design(text)
    with transaction.atomic():
        act_as(by)
        build = _open(design, by=by, at=at, number=number or design.number, invented=invented)
        write_design(build, design)
        assess_build(build)
    return build


def _design(text: str | bytes) -> Design:
    try:
        return read_document(text)
    except DocumentFaults as error:
        fields: dict[str, str] = {}
        for fault in error.faults:
            told = fields.get(fault.pointer)
            fields[fault.pointer] = f"{told}; {fault.message}" if told else fault.message
        raise DocumentRefused(fields, "This is not a build document that can be taken.") from error


def _open(design: Design, *, by: Person, at: datetime, number: str, invented: bool) -> Build:
    profile = _profile(design.buyer)
    customer, _ = Customer.objects.get_or_create(
        name=design.buyer.customer, defaults={"profile": profile, "invented": invented}
    )
    platform = _platform(design.platform)
    return open_build(
        customer=customer,
        profile=profile,
        vehicle=_vehicle(design.vehicle, customer, platform),
        platform=platform,
        title=design.title,
        kind=design.kind,
        purchase_order=design.purchase_order,
        promised_on=None,
        units=design.conventions.units,
        gauge_basis=design.conventions.gauge_basis,
        driver_side=design.conventions.driver_side,
        wire_colour_scheme=design.conventions.wire_colour_scheme,
        by=by,
        at=at,
        number=number,
        invented=invented,
    )


def _profile(buyer: Buyer) -> BuyerProfile:
    found = BuyerProfile.objects.filter(name=buyer.profile).first()
    if found is None:
        return _make_profile(buyer)
    if buyer_of(Customer(name=buyer.customer), found) != buyer:
        words = f'"{buyer.profile}" is on file with other rules; give these rules a name of their own'
        raise DocumentRefused({"/build/buyer/profile": words})
    return found


def _make_profile(buyer: Buyer) -> BuyerProfile:
    profile = BuyerProfile.objects.create(name=buyer.profile)
    models.BuyerRule.objects.bulk_create(
        models.BuyerRule(profile=profile, line=line, key=rule.key, source=rule.source, **_rule_columns(rule))
        for line, rule in enumerate(buyer.rules, start=1)
    )
    models.DropRule.objects.bulk_create(part_rows(models.DropRule, buyer.drop_rules, profile=profile))
    return profile


def _rule_columns(rule: BuyerRule) -> dict[str, object]:
    if isinstance(rule.value, str):
        return {"text_value": rule.value}
    return {"number_value": column_value(float(rule.value))}


def _platform(platform: Platform) -> PlatformVersion:
    found = PlatformVersion.objects.filter(name=platform.name, version=platform.version).first()
    if found is None:
        return make_platform(platform)
    if platform_of(found) != platform:
        words = f'"{platform.name}, {platform.version}" differs from the one on file; give it a new version'
        raise DocumentRefused({"/build/platform": words})
    return found


def _vehicle(facts: VehicleFacts, customer: Customer, platform: PlatformVersion) -> Vehicle:
    """Return the vehicle of this VIN, or of this unit number while the VIN is not known, or a new one."""
    if facts.vin:
        found = Vehicle.objects.filter(vin=facts.vin).first()
    else:
        same = Vehicle.objects.filter(vin="", customer=customer, unit_number=facts.unit_number)
        found = same.exclude(unit_number="").filter(platform=platform).first()
    if found is None:
        return Vehicle.objects.create(customer=customer, platform=platform, **part_columns(facts))
    if found.customer_id != customer.pk or found.platform_id != platform.pk or vehicle_of(found) != facts:
        raise DocumentRefused({"/build/vehicle": f"differs from the one on file, {found} of {found.customer}"})
    return found
