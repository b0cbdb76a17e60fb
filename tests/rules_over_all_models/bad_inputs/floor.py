"""Bad inputs in the bays, the yard and the stores: ticks, signatures, the clock, bookings, check-ins, movements of stock."""

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.utils import timezone

from builds.models import Build, ChecklistStep, Role, Stage, Tick
from builds.services import bays
from inventory.services import stock
from tests.factories.builds import AT
from tests.factories.floor import make_step
from tests.factories.two_builds import TwoBuilds
from tests.rules_over_all_models.bad_inputs.table import HEAD, PAGE, Bad, Good

__all__ = ["ON_FLOOR", "SENT_BEFORE", "TICK"]

SENT_BEFORE = "8c1d1f0e-1111-4222-8333-444455556666"


def _no_arguments(shop: TwoBuilds) -> dict[str, Any]:
    return {}


def _number(shop: TwoBuilds, **more: Any) -> dict[str, Any]:
    return {"number": shop.own.number, **more}


def _event(**more: Any) -> dict[str, Any]:
    return {"event_id": str(uuid4()), **more}


def _on_vehicle(shop: TwoBuilds) -> ChecklistStep:
    """The step that these lines tick: in the yard, with a reading of at most 0.1 V."""
    return ChecklistStep.objects.get(build=shop.own.build, key="bad/volts")


def _make_steps(shop: TwoBuilds) -> None:
    """A step with a reading, one without, a hold point over both, and a tick that was sent already."""
    worker = shop.people[Role.TECHNICIAN]
    volts = make_step(shop.own.build, key="bad/volts", place="yard", reading="V", line=900)
    plain = make_step(
        shop.own.build, key="bad/plain", place="yard", line=901, result="pass", result_at=AT, result_by=worker
    )
    make_step(shop.own.build, key="bad/hold", is_hold_point=True, covers=[plain], line=902)
    make_step(shop.own.build, key="bad/early", is_hold_point=True, covers=[volts], line=903)
    make_step(shop.own.build, key="bad/photo", place="yard", photo_required=True, line=904)
    Tick.objects.create(event_id=SENT_BEFORE, step=plain, result="pass", by=worker, at=AT, received_at=AT)


def _work(shop: TwoBuilds) -> dict[str, Any]:
    """The inspector has a hand in the work."""
    plain = ChecklistStep.objects.get(build=shop.own.build, key="bad/plain")
    inspector = shop.people[Role.INSPECTOR]
    Tick.objects.create(event_id=uuid4(), step=plain, result="pass", by=inspector, at=AT, received_at=AT)
    return {}


def _at_step(key: str) -> Any:
    return lambda shop: _number(shop, pk=ChecklistStep.objects.get(build=shop.own.build, key=key).pk)


TICK = Good(
    what="a tick", route="step-tick", who=Role.TECHNICIAN, setup=_make_steps, fill=_at_step("bad/volts"),
    data=lambda shop: _event(result="pass", reading="0.05"),
)  # fmt: skip
PLAIN_TICK = Good(
    what="a plain tick", route="step-tick", who=Role.TECHNICIAN, setup=_make_steps, fill=_at_step("bad/plain"),
    data=lambda shop: _event(result="pass"),
)  # fmt: skip
PHOTO_TICK = Good(
    what="a tick with a photo asked", route="step-tick", who=Role.TECHNICIAN, setup=_make_steps, fill=_at_step("bad/photo"),
    data=lambda shop: _event(result="not_applicable", remark="this vehicle has none"),
)  # fmt: skip
SIGNATURE = Good(
    what="a hold point", route="hold-sign", who=Role.INSPECTOR, setup=_make_steps, fill=_at_step("bad/early"),
    data=lambda shop: _event(passed="no", remark="H1 is not sealed"),
)  # fmt: skip
CLOSED_HOLD = Good(
    what="a hold point over finished work", route="hold-sign", who=Role.INSPECTOR, setup=_make_steps,
    fill=_at_step("bad/hold"), data=lambda shop: _event(passed="yes"),
)  # fmt: skip
CLOCK_ON = Good(
    what="a clock entry", route="clock-on", who=Role.TECHNICIAN, setup=_make_steps, fill=_number,
    data=lambda shop: _event(step=_on_vehicle(shop).pk),
)  # fmt: skip
CLOCK = Good(
    what="a corrected clock entry", route="time-correct", who=Role.TECHNICIAN,
    fill=lambda shop: {"pk": shop.entries[Role.TECHNICIAN].pk},
    data=lambda shop: {"started_at": "2026-01-05T08:00", "ended_at": "2026-01-05T10:30", "reason": "forgot to clock on"},
)  # fmt: skip
BOOKING = Good(
    what="a booking", route="booking-new", fill=_no_arguments, setup=lambda shop: bays.cancel_booking(
        booking=shop.own.booking, row_version=1, by=shop.people[Role.MANAGER], at=AT),
    data=lambda shop: {"build": shop.own.number, "place": shop.place.pk, "start": "2026-12-15T08:00",
                       "end": "2026-12-17T16:00", "purpose": "Install"},
)  # fmt: skip


def _booked_days(shop: TwoBuilds) -> dict[str, str]:
    """The other build's place, in the middle of its stay."""
    start = timezone.localtime(shop.other.booking.during.lower + timedelta(hours=2), timezone=bays.shop_zone())
    return {
        "place": shop.other.booking.place_id, "start": f"{start:%Y-%m-%dT%H:%M}",
        "end": f"{start + timedelta(days=3):%Y-%m-%dT%H:%M}",
    }  # fmt: skip


def _close(shop: TwoBuilds) -> None:
    Build.objects.filter(pk=shop.faulty.pk).update(stage=Stage.CLOSED)


MOVED = Good(
    what="a moved booking", route="booking", fill=lambda shop: {"pk": shop.own.booking.pk},
    data=lambda shop: {"place": shop.place.pk, "start": "2026-12-15T08:00", "end": "2026-12-17T16:00", "row_version": 1},
)  # fmt: skip
SHIFT = Good(
    what="a dragged booking", route="booking-shift", fill=lambda shop: {"pk": shop.own.booking.pk},
    data=lambda shop: {"place": shop.place.pk, "half_days": "2", "stretch": "0", "row_version": "1"},
)  # fmt: skip
VEHICLE = Good(
    what="a vehicle's place",
    route="vehicle-move",
    fill=_number,
    data=lambda shop: _event(kind="lot", spot="Lot row C 4"),
)
KEYS = Good(what="keys", route="keys-hand", fill=_number, data=lambda shop: _event(count="2", hook="7"))
CHECK_OUT = Good(
    what="a check-out", route="check-in", fill=_number,
    data=lambda shop: _event(odometer="800", fuel="50", key_count="1", taken_by="P. Lund"),
)  # fmt: skip
DELIVERY = Good(
    what="a delivery", route="part-receive", fill=lambda shop: {"number": shop.part.number},
    data=lambda shop: _event(quantity="5", unit_cost="1.25", reference="note 7"),
    setup=lambda shop: stock.receive(
        part=shop.part, quantity=Decimal(1), unit_cost=None, reference="", by=shop.people[Role.MANAGER], at=AT, event_id=SENT_BEFORE),
)  # fmt: skip
COUNT = Good(
    what="a count", route="part-count", fill=lambda shop: {"number": shop.part.number},
    data=lambda shop: _event(counted="9", reference="year's end"),
)  # fmt: skip

ON_FLOOR: list[Bad] = [
    *TICK.bad(
        ("a reading with a comma", {"reading": "0,05"}, "reading", "Write the number with a point and no commas"),
        ("a reading that is none", {"reading": "NaN"}, "reading", "Type a number, such as 12.5."),
        ("a reading of infinity", {"reading": "1e999"}, "reading", "Type a number, such as 12.5."),
        ("a pass without its reading", {"reading": ""}, "reading", "Not measured: a pass needs its reading."),
        ("a pass beyond its limit", {"reading": "0.2"}, "reading", "it cannot pass"),
        ("a supply of 1,000 volts", {"reading_at_v": "1000"}, "reading_at_v", "Type at most 999 V"),
        ("no result", {"result": ""}, HEAD, "Choose pass, defective or not applicable."),
        ("a result nobody knows", {"result": "fine"}, HEAD, "Choose pass, defective or not applicable."),
        ("defective without a word", {"result": "defective"}, "remark", "Say what is wrong"),
        ("a remark of 2,001 letters", {"remark": "x" * 2001}, "remark", "Keep the remark to 2,000 letters."),
        ("an id that is none", {"event_id": "'; drop table builds_tick; --"}, HEAD, "This entry came without its id. Read the page again."),
        ("an id that stands for another tick", {"event_id": SENT_BEFORE}, HEAD, "already stands for another entry", 409),
    ),
    *PLAIN_TICK.bad(
        ("a reading nobody asked for", {"reading": "1"}, HEAD, "This step asks for no reading."),
        ("the same id with another result", {"event_id": SENT_BEFORE, "result": "defective", "remark": "bent"}, HEAD,
         "already stands for another entry", 409),
    ),
    *PHOTO_TICK.bad(
        ("a pass without its photo", {"result": "pass", "remark": ""}, HEAD, "Take the photo first"),
        ("not applicable without a word", {"remark": " "}, "remark", "Say why this step does not apply"),
    ),
    *SIGNATURE.bad(
        ("neither signed nor sent back", {"passed": ""}, HEAD, "Sign it, or send it back."),
        ("sent back without a word", {"remark": ""}, "remark", "Say what is sent back"),
        ("signed over an open step", {"passed": "yes"}, HEAD, "Not passed yet", 409),
    ),
    *CLOSED_HOLD.bad(
        ("signed by whoever worked on it", _work, HEAD, "You have a tick or a clock entry on what this hold point covers.", 409),
    ),
    *CLOCK_ON.bad(
        ("another build's step", lambda shop: {"step": shop.other.step.pk}, PAGE, "has no such step", 404),
        ("work nobody planned", {"step": None, "operation_key": "O99"}, PAGE, "Say what is worked on"),
        ("a step that is no number", {"step": "first"}, PAGE, "Clock on again"),
    ),
    *CLOCK.bad(
        ("an end before its start", {"ended_at": "2026-01-05T07:00"}, "ended_at", "The end is before the start."),
        ("a start to come", {"started_at": "2100-01-05T08:00", "ended_at": "2100-01-05T09:00"}, "started_at",
         "This has not begun yet."),
        ("an end taken away", {"ended_at": ""}, "ended_at", "This entry has ended; say when."),
        ("a time that is none", {"started_at": "yesterday"}, "started_at", "Write day and time"),
        ("the first year of all", {"started_at": "0001-01-01T00:00"}, "started_at", "Write a year from 2000 to 2100."),
        ("no reason", {"reason": ""}, "reason", "Say in a few words why the times change."),
    ),
    *BOOKING.bad(
        ("an end before its start", {"end": "2026-12-14T16:00"}, "end", "A stay ends after it starts."),
        ("no time at all", {"end": "2026-12-15T08:00"}, "end", "A stay ends after it starts."),
        ("a place that is taken", _booked_days, HEAD, "is booked for", 409),
        ("a build that is closed", lambda shop: _close(shop) or {"build": shop.faulty.number}, "build",
         "Choose a build that is still open."),
        ("a bay of nobody", {"place": 10**12}, "place", "Choose a bay of this shop."),
        ("the first year of all", {"start": "0001-01-01T00:00"}, "start", "Write a year from 2000 to 2100."),
        ("the last year of all", {"end": "9999-12-31T23:59"}, "end", "Write a year from 2000 to 2100."),
        ("an hour 25", {"start": "2026-12-15T25:00"}, "start", "Write day and time"),
    ),
    *MOVED.bad(
        ("one that moved meanwhile", {"row_version": 99}, HEAD, "Someone moved this booking", 409),
    ),
    *SHIFT.bad(
        ("a move of ten thousand half days", {"half_days": "10000"}, PAGE, "This move could not be read.", 404),
        ("a move by words", {"half_days": "two"}, PAGE, "This move could not be read.", 404),
        ("a stay shrunk to nothing", {"stretch": "-99"}, PAGE, "A stay ends after it starts."),
        ("one that moved meanwhile", {"row_version": "99"}, PAGE, "Someone moved this booking", 409),
    ),
    *VEHICLE.bad(
        ("a place nobody knows", {"kind": "moon"}, "kind", "Say what sort of place it is."),
        ("no spot", {"spot": ""}, "spot", "Say where it stands"),
        ("a spot of 81 letters", {"spot": "x" * 81}, "spot", "Keep this to 80 letters."),
        ("a bay without saying which", {"kind": "bay", "spot": ""}, "bay_place", "Say which bay."),
    ),
    *KEYS.bad(
        ("minus one", {"count": "-1"}, "count", "Write 0 or more."),
        ("a thousand", {"count": "1000"}, "count", "Write 20 or fewer."),
        ("nowhere", {"hook": " ", "holder": ""}, "hook", "Say where the keys are"),
    ),
    *CHECK_OUT.bad(
        ("an odometer that went back", {"odometer": "1"}, "odometer", "last time. Read it again."),
        ("an odometer below zero", {"odometer": "-5"}, "odometer", "Type at least 0"),
        ("an odometer with thousands", {"odometer": "12,000"}, "odometer", "Write the number with a point"),
        ("fuel of 101 %", {"fuel": "101"}, "fuel", "Type at most 100"),
        ("nobody who takes it", {"taken_by": ""}, "taken_by", "This may not stay empty."),
    ),
    *DELIVERY.bad(
        ("nothing", {"quantity": "0"}, HEAD, "A quantity is above 0."),
        ("less than nothing", {"quantity": "-3"}, "quantity", "greater than or equal to 0"),
        ("a quantity that is none", {"quantity": "NaN"}, "quantity", "Enter a number."),
        ("a quantity of thirty digits", {"quantity": "1" * 30}, "quantity", "digits"),
        ("no delivery note", {"reference": ""}, "reference", "required"),
        ("an id that stands for another delivery", {"event_id": SENT_BEFORE}, HEAD, "sent before with other figures"),
    ),
    *COUNT.bad(
        ("less than nothing", {"counted": "-1"}, "counted", "greater than or equal to 0"),
        ("a count with a comma", {"counted": "1,5"}, "counted", "Enter a number."),
    ),
]  # fmt: skip
