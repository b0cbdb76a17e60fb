"""Made-up rows of the builds app, as small as they can be; every name is invented."""

from datetime import UTC, date, datetime
from functools import cache
from itertools import count
from typing import Any

from django.contrib.auth.hashers import make_password

from builds import models
from builds.engineering.document.assemble import part_of
from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem
from builds.models import Build, Customer, Person, PlatformVersion, Role, Vehicle
from builds.services import builds as build_service
from builds.services.design_rows import FAMILIES, columns_of, references_of, uses_of
from inventory.services.catalogue import ensure_parts

__all__ = [
    "AT",
    "make_build",
    "make_customer",
    "make_designed_build",
    "make_person",
    "make_platform",
    "make_profile",
    "make_shop",
    "make_vehicle",
]

AT = datetime(2026, 12, 9, 10, 40, tzinfo=UTC)
PASSWORD = "tern-point-demo"
_numbers = count(1)


def make_person(role: Role = Role.DESIGNER, **more: Any) -> Person:
    """Return someone who works in the shop."""
    name = more.pop("username", f"{role}-{next(_numbers)}")
    return Person.objects.create(
        username=name, password=_password_hash(), role=role, short_name=more.pop("short_name", name), **more
    )


@cache
def _password_hash() -> str:
    """One slow hash for all: a salt a person is for the real door."""
    return make_password(PASSWORD)


def make_shop(**more: Any) -> models.Shop:
    """Return the one shop."""
    defaults: dict[str, Any] = {"name": "Tern Point Vehicle Works", "time_zone": "America/New_York", "invented": True}
    shop, _ = models.Shop.objects.get_or_create(defaults=defaults | more)
    return shop


def make_profile(**rules: float | str) -> models.BuyerProfile:
    """Return a profile with the given rules; ``conductor_margin=1.25`` sets "conductor-margin"."""
    profile = models.BuyerProfile.objects.create(name=f"Profile {next(_numbers)}")
    for line, (name, value) in enumerate(rules.items(), start=1):
        number = value if isinstance(value, int | float) else None
        models.BuyerRule.objects.create(
            profile=profile, line=line, key=name.replace("_", "-"), number_value=number,
            text_value="" if number is not None else value, source="invented",
        )  # fmt: skip
    return profile


def make_customer(**more: Any) -> Customer:
    """Return a customer with a profile of its own."""
    if "profile" not in more:
        more["profile"] = make_profile()
    return Customer.objects.create(name=more.pop("name", f"Saltmarsh Water Rescue {next(_numbers)}"), **more)


def make_platform(**more: Any) -> PlatformVersion:
    """Return a platform version with an engine bay, a cab and a rear zone, and one no-mount zone."""
    figures: dict[str, Any] = {
        "name": f"Invented crew cab {next(_numbers)}", "version": "2026", "wheelbase_mm": 4000, "gvwr_kg": 4500,
        "gawr_front_kg": 2200, "gawr_rear_kg": 2900, "curb_front_kg": 1500, "curb_rear_kg": 1100, "seats": 5,
    }  # fmt: skip
    platform = PlatformVersion.objects.create(**figures | more)
    for line, (key, name, ambient, x) in enumerate(
        (
            ("ENG", "Engine bay", 85, -200),
            ("CAB", "Cab", 60, 1500),
            ("REAR", "Rear", 45, 3800),
            ("BAG", "Curtain", 60, 1400),
        ),
        1,
    ):
        models.Zone.objects.create(
            platform=platform, line=line, key=key, name=name, ambient_c=ambient, x_mm=x, y_mm=0, max_load_kg=None
        )
    models.Route.objects.create(platform=platform, line=1, from_zone="ENG", to_zone="CAB", length_m=2)
    models.Route.objects.create(platform=platform, line=2, from_zone="CAB", to_zone="REAR", length_m=3)
    models.NoMountZone.objects.create(
        platform=platform, line=1, zone="BAG", name="Curtain airbag", guide="the vehicle maker's upfit guide"
    )
    return platform


def make_vehicle(customer: Customer, platform: PlatformVersion, **more: Any) -> Vehicle:
    """Return a vehicle; its VIN is unknown unless one is given."""
    more.setdefault("unit_number", f"U-{next(_numbers)}")
    return Vehicle.objects.create(customer=customer, platform=platform, **more)


def make_build(by: Person | None = None, **more: Any) -> Build:
    """Return a build at intake with an empty design."""
    by = by or make_person(Role.DESIGNER)
    customer = more.pop("customer", None) or make_customer()
    platform = more.pop("platform", None) or make_platform()
    vehicle = more.pop("vehicle", None) or make_vehicle(customer, platform)
    return build_service.open_build(
        customer=customer, profile=customer.profile, vehicle=vehicle, platform=platform,
        title=more.pop("title", "Incident van"), kind=BuildKind.NEW, purchase_order=more.pop("purchase_order", "PO-1"),
        promised_on=more.pop("promised_on", date(2026, 12, 18)), units=UnitSystem.US, gauge_basis=GaugeBasis.SAE,
        by=by, at=more.pop("at", AT), **more,
    )  # fmt: skip


_NODES: tuple[dict[str, Any], ...] = (
    {
        "key": "BAT1", "kind": "battery", "name": "Battery", "zone": "ENG",
        "battery": {
            "capacity_ah": 95, "rated_hours": 20, "peukert_exponent": 1.2, "internal_mohm": 14, "open_circuit_v": 12.7,
            "usable_ratio": 0.5, "reserve_min": 160,
        },
    },
    {
        "key": "ALT", "kind": "alternator", "name": "Alternator", "zone": "ENG",
        "alternator": {"rated_a": 120, "idle_ratio": 0.5, "speed_ratio": 0.85},
    },
    {"key": "MD", "kind": "disconnect", "name": "Main disconnect", "zone": "ENG", "rating_a": 300, "resistance_mohm": 0.2},
    {"key": "CH", "kind": "chassis", "name": "Body", "zone": "CAB"},
    {"key": "G1", "kind": "ground", "name": "Cab stud", "zone": "CAB", "chassis": "CH", "resistance_mohm": 0.3},
    {
        "key": "P1", "kind": "panel", "name": "Cab panel", "zone": "CAB", "rating_a": 100,
        "panel": {"positions": 12, "columns": 6, "hinge": "top"},
    },
)  # fmt: skip

_RUNS: tuple[dict[str, Any], ...] = (
    {"key": "R0", "from_node": "BAT1", "to_node": "ALT", "side": "supply", "gauge": "1/0", "length_m": 1.2,
     "device_family": "MRBF", "device_rating_a": 175, "device_distance_m": 0.2},
    {"key": "R1", "from_node": "BAT1", "to_node": "MD", "side": "supply", "gauge": "1/0", "length_m": 1,
     "device_family": "MRBF", "device_rating_a": 100, "device_distance_m": 0.2},
    {"key": "R2", "from_node": "MD", "to_node": "P1", "side": "supply", "gauge": "2", "length_m": 2.5},
    {"key": "R3", "from_node": "BAT1", "to_node": "CH", "side": "return", "gauge": "2", "length_m": 0.6},
)  # fmt: skip


def make_designed_build(by: Person | None = None, *, circuits: int = 2, **more: Any) -> Build:
    """Return a build with a small sound design: one battery, one panel, ``circuits`` circuits of one lamp each."""
    build = make_build(by or make_person(Role.DESIGNER), **more)
    for family, rows in _small_design(circuits).items():
        _write_rows(build, family, rows)
    return build


def _small_design(circuits: int) -> dict[str, list[dict[str, Any]]]:
    panel = {"panel": {"positions": circuits + 4, "columns": 6, "hinge": "top"}}
    numbers = [100 + position for position in range(1, circuits + 1)]
    return {
        "node": [node | (panel if node["key"] == "P1" else {}) for node in _NODES],
        "run": list(_RUNS),
        "circuit": [
            {"number": str(number), "legend": f"LAMP {number - 100}", "panel": "P1", "position": number - 100,
             "device_family": "ATO", "device_rating_a": 5, "gauge": "16", "length_m": 3, "return_node": "G1",
             "return_length_m": 0.5, "colour": "RD", "zones": ["CAB"]}
            for number in numbers
        ],
        "load": [
            {"key": f"L{number}", "circuit": str(number), "name": f"Lamp {number - 100}", "zone": "CAB",
             "model": "constant_current", "current_a": 1.5, "at_v": 12.8}
            for number in numbers
        ],
        "condition": [
            {"key": "idle", "name": "On scene, idling", "source_state": "idle", "source_low_v": 13.2,
             "source_high_v": 14.4, "uses": [{"load": f"L{number}"} for number in numbers]}
        ],
        "operation": [
            {"key": "O1", "name": "Mount the cab panel", "place": "vehicle", "phase": "mount", "skill": "fitting",
             "standard_h": 1.5},
            {"key": "O2", "name": "Wire the cab panel", "place": "vehicle", "phase": "wire", "skill": "electrical",
             "standard_h": 4, "after": ["O1"]},
        ],
        "part": [
            {"key": "1", "part_number": "INV-100", "description": "Fuse panel, 12 positions", "quantity": 1,
             "zone": "CAB", "supplied_by": "shop", "unit_cost": 60, "unit_price": 95, "mass_kg": 1.2}
        ],
    }  # fmt: skip


def _write_rows(build: Build, family: str, rows: list[dict[str, Any]]) -> None:
    """Write rows straight to their table: a starting point for a test, not an edit."""
    kind = FAMILIES[family]
    parts = [part_of(kind.part, values) for values in rows]
    if family == "part":
        ensure_parts(tuple(parts))
    refs = references_of(build, part_numbers=tuple(row["part_number"] for row in rows if family == "part"))
    for line, part in enumerate(parts, start=1):
        row = kind.model._default_manager.create(build=build, line=line, **columns_of(part, refs))
        if family == "condition":
            models.LoadUse.objects.bulk_create(uses_of(row, part, refs.loads))
