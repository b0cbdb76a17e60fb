"""Loads the demo shop: its row, people, bays, parts on the shelf, and builds at every stage of their life."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from uuid import NAMESPACE_URL, UUID, uuid5
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from builds.engineering.vocabulary import SuppliedBy
from builds.models import Authorisation, BayPlace, Build, CustomerGear, Person, Stage, Vehicle
from builds.services import (
    authorisations,
    bays,
    check_ins,
    checklists,
    locations,
    registers,
    reservations,
    revisions,
    stages,
)
from builds.services.build_documents import import_build
from builds.services.builds import open_from_build
from builds.services.shop import add_bay, open_shop
from config.demo.people import demo_people
from inventory.models import Part, Supplier
from inventory.services import stock

__all__ = ["DEMO_DOCUMENTS", "WALKED_BUILD", "demo_event_id", "load_demo_shop"]

DEMO_DOCUMENTS: Path = settings.BASE_DIR / "demo"
WALKED_BUILD = "2614"
_TIME_ZONE = "America/New_York"
_BAYS = (("Bay 1", "hoist"), ("Bay 2", ""), ("Bay 3", "shore power"), ("Bay 4", "wash, floor drain"))


def demo_event_id(*words: object) -> UUID:
    """Return the same id for the same event at every start, so that loading twice changes nothing."""
    return uuid5(NAMESPACE_URL, "demo/" + "/".join(map(str, words)))


@dataclass(frozen=True, slots=True)
class _Copy:
    """A build opened from another: number, whose design, unit, title, and how far it has come."""

    number: str
    source: str
    unit: str
    title: str
    stage: Stage
    due_in_days: int | None


_COPIES = (
    _Copy("2613", "2612", "RR-32", "Incident van 2 of 6", Stage.IN_WORK, 7),
    _Copy("2615", "2612", "RR-33", "Incident van 3 of 6", Stage.APPROVED, 13),
    _Copy("2617", "2609", "A-05", "Escort car 2", Stage.QUOTED, 9),
    _Copy("2619", "2609", "A-11", "Escort car 3", Stage.INTAKE, None),
)


def load_demo_shop(*, at: datetime) -> dict[str, Person]:
    """Put the demo shop in, all or nothing; where it is there already nothing changes. Returns its people by name."""
    with transaction.atomic():
        people = demo_people(at)
        if not Build.objects.exists():
            _Loader(people, at).load()
    return people


class _Loader:
    """Holds who does what and when while the shop is put in."""

    def __init__(self, people: dict[str, Person], at: datetime) -> None:
        self.people = people
        self.at = at
        self.today = at.astimezone(ZoneInfo(_TIME_ZONE)).date()

    def load(self) -> None:
        open_shop(
            name="Tern Point Vehicle Works", time_zone=_TIME_ZONE, at=self.at, invented=True,
            address="1 Tern Point, an invented place", telephone="555-0100",
        )  # fmt: skip
        for name, features in _BAYS:
            add_bay(name=name, features=features, places=1, by=self.people["manager"])
        for number, due in (("2612", -1), ("2609", 3)):
            build = self._import(number)
            self._promise(build, due)
            self._stock_up(build)
            self._bring_to(build, Stage.IN_WORK)
        for copy in _COPIES:
            self._copy(copy)
        Part.objects.update(invented=True)
        self._plan()

    def _import(self, number: str) -> Build:
        (path,) = DEMO_DOCUMENTS.glob(f"{number}-*.json")
        return import_build(
            text=path.read_bytes(), by=self.people["writer"], at=self.at - timedelta(days=20), invented=True
        )

    def _promise(self, build: Build, in_days: int | None) -> None:
        build.promised_on = None if in_days is None else self.today + timedelta(days=in_days)
        build.save(update_fields=["promised_on"])

    def _stock_up(self, build: Build, *, but: int = 0) -> None:
        """Take in what the build asks, but for its last ``but`` shop lines: those stay short."""
        supplier, _ = Supplier.objects.get_or_create(
            name="Invented Supply", defaults={"lead_days": 5, "telephone": "555-0101", "invented": True}
        )
        lines = list(build.parts.filter(supplied_by=SuppliedBy.SHOP, removed=False).select_related("part"))
        for line in lines[: len(lines) - but]:
            if line.part.supplier is None:
                line.part.supplier = supplier
                line.part.save(update_fields=["supplier"])
            stock.receive(
                part=line.part, quantity=Decimal(line.quantity), unit_cost=line.unit_cost, reference="opening stock",
                by=self.people["parts"], at=self.at - timedelta(days=15),
                event_id=demo_event_id("stock", build.number, line.key),
            )  # fmt: skip

    def _copy(self, copy: _Copy) -> None:
        source = Build.objects.get(number=copy.source)
        vehicle = Vehicle.objects.create(
            customer=source.customer, platform=source.platform, unit_number=copy.unit,
            model_year=source.vehicle.model_year,
        )  # fmt: skip
        build = open_from_build(
            source=source, customer=source.customer, vehicle=vehicle, title=copy.title,
            purchase_order=source.purchase_order, promised_on=None, by=self.people["writer"],
            at=self.at - timedelta(days=10), number=copy.number,
        )  # fmt: skip
        self._promise(build, copy.due_in_days)
        self._stock_up(build, but=2 if copy.stage is Stage.APPROVED else 0)
        self._bring_to(build, copy.stage)

    def _bring_to(self, build: Build, stage: Stage) -> None:
        """Walk the build through the same moves as any other."""
        if stage is Stage.INTAKE:
            return
        writer, designer = self.people["writer"], self.people["designer"]
        at = self.at - timedelta(days=8)
        revision = revisions.release(build=build, summary="As ordered", by=designer, at=at)
        stages.move(build=build, to=Stage.QUOTED, by=writer, at=at)
        if stage is Stage.QUOTED:
            return
        authorisations.record(
            revision=revision, kind=Authorisation.Kind.PURCHASE_ORDER, authorised_by="P. Lund",
            reference=build.purchase_order or "by letter", by=writer, at=at + timedelta(days=1),
        )  # fmt: skip
        stages.move(build=build, to=Stage.APPROVED, by=writer, at=at + timedelta(days=1))
        if stage is Stage.APPROVED:
            return
        reservations.reserve_parts(build=build, by=self.people["parts"], at=at + timedelta(days=2))
        checklists.make_steps(build=build, by=designer, at=at + timedelta(days=2))
        stages.move(build=build, to=Stage.IN_WORK, by=self.people["manager"], at=at + timedelta(days=3))
        self._check_in(build, at + timedelta(days=3))

    def _check_in(self, build: Build, at: datetime) -> None:
        check_ins.record(
            build=build, direction="in",
            condition=check_ins.Condition(
                odometer_km=Decimal("212.0"), fuel_ratio=Decimal("0.5"), damage="Scratch on the left rear door, 10 cm",
                loose_property="Owner's handbook",
            ),
            event_id=demo_event_id("check-in", build.number), by=self.people["technician"], at=at,
        )  # fmt: skip
        locations.hand_keys(
            build=build, count=2, hook=f"Hook {build.number[-2:]}", by=self.people["technician"], at=at,
            event_id=demo_event_id("keys", build.number),
        )  # fmt: skip
        for gear in CustomerGear.objects.filter(build=build, received_at__isnull=True):
            registers.receive_gear(
                gear=gear, condition="as new", by=self.people["parts"], at=at, row_version=gear.row_version
            )

    def _plan(self) -> None:
        """Put two vehicles into bays and plan the next ones."""
        monday = self.today - timedelta(days=self.today.weekday())
        for number, bay, days in (("2609", "Bay 1", 4), ("2612", "Bay 3", 3)):
            build = Build.objects.get(number=number)
            place = BayPlace.objects.get(bay__name=bay)
            start, end = (
                min(self._at(monday, 8), self.at - timedelta(hours=2)),
                self._at(monday + timedelta(days=days), 16),
            )
            if end <= self.at:  # late in the week it stands there over the weekend
                end = self._at(monday + timedelta(days=7), 16)
            bays.book(build=build, place=place, start=start, end=end, by=self.people["manager"], at=self.at,
                      purpose="install")  # fmt: skip
            bays.enter_bay(build=build, place=place, event_id=demo_event_id("bay", number), by=self.people["technician"],
                           at=start + timedelta(minutes=10))  # fmt: skip
        for number, bay, first, last in (("2613", "Bay 4", 7, 10), ("2615", "Bay 3", 8, 11)):
            build = Build.objects.get(number=number)
            place = BayPlace.objects.get(bay__name=bay)
            bays.book(build=build, place=place, start=self._at(monday + timedelta(days=first), 8),
                      end=self._at(monday + timedelta(days=last), 16), by=self.people["manager"], at=self.at,
                      purpose="install")  # fmt: skip
        locations.move_vehicle(build=Build.objects.get(number="2613"), kind="lot", spot="Lot row C 4",
                               event_id=demo_event_id("lot", "2613"), by=self.people["technician"], at=self.at)  # fmt: skip

    def _at(self, day: date, hour: int) -> datetime:
        return datetime(day.year, day.month, day.day, hour, tzinfo=ZoneInfo(_TIME_ZONE))
