"""The registers of a build: serials and their swaps, splices, penetrations, customer gear, parts taken off."""

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from builds.errors import BadInput, NotAllowed, StaleRow, Taken
from builds.models import (
    BodyPenetration,
    Build,
    CustomerGear,
    HistoryEntry,
    Person,
    Photo,
    RemovedPart,
    Role,
    SerialNumber,
    Splice,
)
from builds.selectors.match import match_of
from builds.services import photos, registers
from tests.factories.builds import AT, make_build, make_designed_build, make_person
from tests.factories.floor import make_photo_file

pytestmark = pytest.mark.django_db


@pytest.fixture
def person() -> Person:
    return make_person(Role.TECHNICIAN)


@pytest.fixture
def build() -> Build:
    return make_designed_build()


def photo_of(build: Build, by: Person) -> Photo:
    return photos.add_photo(build=build, kind="gear", content=make_photo_file(), event_id=uuid4(), by=by, at=AT)


def new_photo() -> photos.NewPhoto:
    return photos.NewPhoto(content=make_photo_file(), event_id=uuid4())


def test_penetration_with_a_photo_that_cannot_be_read_keeps_nothing(build: Build, person: Person) -> None:
    with pytest.raises(BadInput, match="not a photo"):
        write("penetration", build, person, photo=photos.NewPhoto(content=b"a text", event_id=uuid4()))
    assert not BodyPenetration.objects.exists() and not Photo.objects.exists()


def test_photo_of_an_entry_refused_is_not_kept_either(build: Build, person: Person) -> None:
    write("penetration", build, person)
    with pytest.raises(Taken):
        write("penetration", build, person, photo=new_photo())
    assert not Photo.objects.exists()


def test_record_serial_as_many_as_the_line_has(build: Build, person: Person) -> None:
    line = build.parts.get()

    registers.record_serial(part_line=line, serial=" SN-1 ", by=person, at=AT)

    assert line.serials.get().serial == "SN-1"
    with pytest.raises(BadInput, match=r"All 1 of 1 have a serial\. Swap one instead"):
        registers.record_serial(part_line=line, serial="SN-2", by=person, at=AT)


def test_swap_serial_keeps_both(build: Build, person: Person) -> None:
    line = build.parts.get()
    old = registers.record_serial(part_line=line, serial="SN-1", by=person, at=AT)

    new = registers.swap_serial(old=old, serial="SN-2", note="dead on arrival", by=person, at=AT)

    old.refresh_from_db()
    assert (old.replaced_by, new.replaced_by, SerialNumber.objects.count()) == (new, None, 2)
    with pytest.raises(Taken, match="SN-1 was replaced by SN-2 already"):
        registers.swap_serial(old=old, serial="SN-3", note="again", by=person, at=AT)


def test_swap_serial_to_one_already_written_changes_nothing(build: Build, person: Person) -> None:
    old = registers.record_serial(part_line=build.parts.get(), serial="SN-1", by=person, at=AT)

    with pytest.raises(Taken, match="written down for this line already"):
        registers.swap_serial(old=old, serial="SN-1", note="typed wrong", by=person, at=AT)
    old.refresh_from_db()
    assert (old.replaced_by, SerialNumber.objects.count()) == (None, 1)


def test_swap_serial_without_a_reason_is_refused(build: Build, person: Person) -> None:
    old = registers.record_serial(part_line=build.parts.get(), serial="SN-1", by=person, at=AT)
    with pytest.raises(BadInput) as refused:
        registers.swap_serial(old=old, serial="SN-2", note=" ", by=person, at=AT)
    assert list(refused.value.fields) == ["note"]


def write(register: str, build: Build, by: Person, **change: Any) -> Any:
    kind: dict[str, Any] = {
        "splice": {"circuit_number": "101", "place": "A-pillar, left", "method": "crimp, sealed sleeve"},
        "penetration": {"label": "H3", "place": "roof, 400 mm behind the bar", "diameter_mm": Decimal("19.0")},
        "removed_part": {"description": "Centre console", "kept_at": "bin 4", "disposition": "back to the customer"},
    }
    services = {
        "splice": registers.write_splice,
        "penetration": registers.write_penetration,
        "removed_part": registers.write_removed_part,
    }
    return services[register](build=build, by=by, at=AT, **kind[register] | change)


def test_every_register_keeps_its_entry(build: Build, person: Person) -> None:
    for register in ("splice", "penetration", "removed_part"):
        write(register, build, person)

    assert [
        str(entry) for entry in (Splice.objects.get(), BodyPenetration.objects.get(), RemovedPart.objects.get())
    ] == [
        "101: A-pillar, left",
        "H3: roof, 400 mm behind the bar",
        "Centre console",
    ]


@pytest.mark.parametrize(
    ("register", "change", "field"),
    [
        ("splice", {"circuit_number": "999"}, "circuit_number"),
        ("splice", {"circuit_number": ""}, "circuit_number"),
        ("splice", {"place": "  "}, "place"),
        ("splice", {"method": ""}, "method"),
        ("splice", {"place": "x" * 121}, "place"),
        ("penetration", {"label": ""}, "label"),
        ("penetration", {"place": ""}, "place"),
        ("penetration", {"diameter_mm": Decimal(0)}, "diameter_mm"),
        ("penetration", {"diameter_mm": Decimal("-3")}, "diameter_mm"),
        ("penetration", {"diameter_mm": Decimal("NaN")}, "diameter_mm"),
        ("penetration", {"diameter_mm": Decimal("12.25")}, "diameter_mm"),
        ("removed_part", {"description": ""}, "description"),
        ("removed_part", {"kept_at": ""}, "kept_at"),
        ("removed_part", {"disposition": ""}, "disposition"),
    ],
)
def test_entry_that_cannot_be_is_refused_at_its_field(
    build: Build, person: Person, register: str, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(BadInput) as refused:
        write(register, build, person, **change)
    assert list(refused.value.fields) == [field]
    assert not (Splice.objects.exists() or BodyPenetration.objects.exists() or RemovedPart.objects.exists())


def test_penetration_name_is_used_once_a_build(build: Build, person: Person) -> None:
    write("penetration", build, person)

    with pytest.raises(Taken, match="used in this build") as refused:
        write("penetration", build, person)
    assert list(refused.value.fields) == ["label"]
    assert write("penetration", make_build(), person).pk


def test_penetration_is_sealed_afterwards_with_its_photo(build: Build, person: Person) -> None:
    hole = write("penetration", build, person)

    registers.seal_penetration(
        penetration=hole, sealed_with="grommet, sealer", row_version=1, by=person, at=AT, photo=new_photo()
    )

    hole.refresh_from_db()
    assert (hole.sealed_with, hole.photo, hole.row_version) == ("grommet, sealer", Photo.objects.get(), 2)
    assert HistoryEntry.objects.filter(table_name="builds_bodypenetration", operation="update").count() == 1


def test_photo_of_another_build_is_refused(build: Build, person: Person) -> None:
    hole = write("penetration", build, person)
    with pytest.raises(BadInput, match="another build"):
        registers.amend(entry=hole, values={"photo": photo_of(make_build(), person)}, row_version=1, by=person)


def test_stale_amendment_carries_both_values(build: Build, person: Person) -> None:
    splice = write("splice", build, person)
    registers.amend(entry=splice, values={"place": "B-pillar"}, row_version=1, by=person)

    with pytest.raises(StaleRow) as refused:
        registers.amend(
            entry=splice, values={"place": "C-pillar", "method": "crimp, sealed sleeve"}, row_version=1, by=person
        )
    assert [(item.field, item.yours, item.theirs) for item in refused.value.conflicts] == [
        ("place", "C-pillar", "B-pillar")
    ]
    assert Splice.objects.get().place == "B-pillar"


def test_what_stays_as_it_was_written_is_not_amended(build: Build, person: Person) -> None:
    serial = registers.record_serial(part_line=build.parts.get(), serial="SN-1", by=person, at=AT)
    with pytest.raises(BadInput, match="stays as it was written"):
        registers.amend(entry=serial, values={"serial": "SN-9"}, row_version=1, by=person)


def test_amendment_that_empties_what_must_be_said_is_refused(build: Build, person: Person) -> None:
    splice = write("splice", build, person)
    with pytest.raises(BadInput):
        registers.amend(entry=splice, values={"place": " "}, row_version=1, by=person)
    assert Splice.objects.get().place == "A-pillar, left"


def test_gear_is_missing_until_it_is_received(build: Build, person: Person) -> None:
    gear = registers.expect_gear(build=build, description="Radio set", due_on=date(2026, 12, 7), by=person, at=AT)
    assert match_of(build).gear is False
    assert "Buyer: send Radio set, due Mon 7 Dec." in match_of(build).words

    registers.receive_gear(gear=gear, condition="new, boxed", row_version=1, by=person, at=AT, photo=new_photo())

    gear.refresh_from_db()
    assert (gear.received_at, gear.condition) == (AT, "new, boxed")
    assert match_of(build).gear is True


def test_gear_received_without_a_word_on_its_state_is_refused(build: Build, person: Person) -> None:
    gear = registers.expect_gear(build=build, description="Radio set", by=person, at=AT)
    with pytest.raises(BadInput) as refused:
        registers.receive_gear(gear=gear, condition="", row_version=1, by=person, at=AT)
    assert list(refused.value.fields) == ["condition"]


def test_expect_gear_of_a_parts_bill_writes_each_once(build: Build, person: Person) -> None:
    for _ in range(2):
        registers.expect_gear_of(build=build, descriptions=["Radio set", "Radio set", "Antenna"], by=person, at=AT)

    assert sorted(CustomerGear.objects.values_list("description", flat=True)) == ["Antenna", "Radio set"]


def test_customer_line_without_an_entry_counts_as_missing(build: Build) -> None:
    build.parts.update(supplied_by="customer")

    assert match_of(build).gear is False
    assert match_of(build).parts is None


def test_inspector_does_not_write_registers(build: Build) -> None:
    with pytest.raises(NotAllowed):
        write("splice", build, make_person(Role.INSPECTOR))
