"""Ticks: exactly once, within the limits, with reading and photo, by the order in which they were made."""

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from builds.errors import BadInput, GuardRefused, NotAllowed, NotHere, Taken
from builds.models import Build, Person, Role, Stage, StepResult, Tick
from builds.selectors.readings import judge, limit_words, scale_of
from builds.services import photos, registers, stages, ticks
from builds.services.reservations import reserve_parts
from inventory.models import StockBalance, StockEntry
from tests.factories.builds import AT, make_designed_build, make_person
from tests.factories.floor import check_in, make_photo_file, make_step, make_working_build, tick
from tests.factories.inventory import put_in_stock

pytestmark = pytest.mark.django_db

PASS, DEFECTIVE, NOT_APPLICABLE = StepResult.PASS, StepResult.DEFECTIVE, StepResult.NOT_APPLICABLE


@pytest.fixture
def person() -> Person:
    return make_person(Role.TECHNICIAN)


@pytest.fixture
def build() -> Build:
    return make_working_build()


def test_tick_is_kept_and_the_step_and_its_build_follow(build: Build, person: Person) -> None:
    step = make_step(build)
    make_step(build)

    kept = tick(step, person, remark="  fine  ")

    step.refresh_from_db()
    build.refresh_from_db()
    assert (kept.remark, kept.by, kept.at) == ("fine", person, AT)
    assert (step.result, step.result_by, step.result_at) == (PASS, person, AT)
    assert (build.step_done_count, build.step_count) == (1, 2)


def test_same_tick_sent_again_answers_the_same_and_is_kept_once(build: Build, person: Person) -> None:
    step, event_id = make_step(build, reading="V"), uuid4()
    first = tick(step, person, reading=Decimal("0.06"), event_id=event_id, device="phone", device_sequence=1)
    # by then the build has gone on: what was accepted stays accepted
    Build.objects.filter(pk=build.pk).update(stage=Stage.READY)

    again = tick(
        step, person, reading=Decimal("0.06"), event_id=event_id, device="phone", device_sequence=1,
        received_at=AT + timedelta(hours=3),
    )  # fmt: skip

    assert again.pk == first.pk
    assert Tick.objects.count() == 1


@pytest.mark.parametrize(
    "other",
    [
        {"reading": Decimal("0.07")},
        {"result": DEFECTIVE, "remark": "loose"},
        {"remark": "another remark"},
        {"instrument": "M-2"},
        {"step": "another"},
        {"by": "another"},
    ],
    ids="-".join,
)
def test_same_id_with_other_content_is_refused(build: Build, person: Person, other: dict[str, Any]) -> None:
    step, event_id = make_step(build, reading="V"), uuid4()
    tick(step, person, reading=Decimal("0.06"), event_id=event_id)
    sent: dict[str, Any] = {"step": step, "by": person, "reading": Decimal("0.06")} | other
    if sent["step"] == "another":
        sent["step"] = make_step(build, reading="V")
    if sent["by"] == "another":
        sent["by"] = make_person(Role.TECHNICIAN)

    with pytest.raises(Taken, match="already stands for another entry"):
        tick(sent.pop("step"), sent.pop("by"), sent.pop("result", PASS), event_id=event_id, **sent)
    assert Tick.objects.count() == 1


def test_device_number_used_twice_is_refused(build: Build, person: Person) -> None:
    step = make_step(build)
    tick(step, person, device="phone", device_sequence=7)

    with pytest.raises(Taken, match="of that number is here already"):
        tick(step, person, device="phone", device_sequence=7)
    assert Tick.objects.count() == 1


def test_tick_made_earlier_and_arriving_later_is_kept_beside_the_newest(build: Build, person: Person) -> None:
    step = make_step(build)
    tick(step, person, DEFECTIVE, remark="loose", at=AT)

    tick(step, person, PASS, at=AT - timedelta(hours=1), received_at=AT + timedelta(hours=1))

    step.refresh_from_db()
    assert (step.result, step.ticks.count()) == (DEFECTIVE, 2)


def test_device_clock_that_runs_ahead_counts_as_arrival(build: Build, person: Person) -> None:
    kept = tick(make_step(build), person, at=AT + timedelta(days=300), received_at=AT)

    assert kept.at == AT


READING_CASES = [
    # result, reading, remark, field at fault or None
    pytest.param(PASS, "0.06", "", None, id="within passes"),
    pytest.param(PASS, "0.1", "", None, id="exactly at the limit passes"),
    pytest.param(PASS, "0.1001", "", "reading", id="just over cannot pass"),
    pytest.param(PASS, None, "", "reading", id="not measured cannot pass"),
    pytest.param(PASS, "-5", "", "reading", id="below the least cannot pass"),
    pytest.param(PASS, "0.06001", "", "reading", id="more decimals than are kept"),
    pytest.param(PASS, "NaN", "", "reading", id="no number"),
    pytest.param(PASS, "Infinity", "", "reading", id="no end"),
    pytest.param(PASS, "1E+9", "", "reading", id="too large to keep"),
    pytest.param(DEFECTIVE, "0.13", "", None, id="out of tolerance says itself what is wrong"),
    pytest.param(DEFECTIVE, "0.06", "", "remark", id="defective within tolerance needs a word"),
    pytest.param(DEFECTIVE, "0.06", "stud is loose", None, id="defective within tolerance with a word"),
    pytest.param(DEFECTIVE, None, "", "remark", id="defective and not measured needs a word"),
    pytest.param(DEFECTIVE, None, "no stud there", None, id="defective and not measured"),
    pytest.param(NOT_APPLICABLE, None, " ", "remark", id="not applicable needs a reason"),
    pytest.param(NOT_APPLICABLE, None, "no second battery", None, id="not applicable"),
]


@pytest.mark.parametrize(("result", "reading", "remark", "fault"), READING_CASES)
def test_reading_against_result(
    build: Build, person: Person, result: StepResult, reading: str | None, remark: str, fault: str | None
) -> None:
    step = make_step(build, reading="V", reading_min=Decimal("-1"))
    value = None if reading is None else Decimal(reading)

    if fault is None:
        assert tick(step, person, result, reading=value, remark=remark).reading == value
        return
    with pytest.raises(BadInput) as refused:
        tick(step, person, result, reading=value, remark=remark)
    assert list(refused.value.fields) == [fault]
    step.refresh_from_db()
    assert (step.result, Tick.objects.count()) == ("", 0)


def test_reading_out_of_tolerance_says_by_how_much(build: Build, person: Person) -> None:
    with pytest.raises(BadInput, match=r"0\.03 V over 0\.10 V: it cannot pass"):
        tick(make_step(build, reading="V"), person, reading=Decimal("0.13"))


@pytest.mark.parametrize("least", [None, Decimal(0)], ids=["older checklist", "newer checklist"])
@pytest.mark.parametrize(
    ("unit", "most", "says"),
    [
        ("mA", Decimal(40), "clamp is reversed, turn it round"),
        ("A", None, "clamp is reversed, turn it round"),
        ("kg", Decimal(2000), "scale"),
    ],
)
def test_amount_below_nothing_cannot_pass(
    build: Build, person: Person, unit: str, most: Decimal | None, says: str, least: Decimal | None
) -> None:
    step = make_step(build, reading=unit, reading_min=least, reading_max=most)

    with pytest.raises(BadInput) as refused:
        tick(step, person, reading=Decimal(-400), reading_at_v=Decimal("12.6"), instrument="M-1")

    assert says in refused.value.fields["reading"]
    assert tick(step, person, reading=Decimal(0), reading_at_v=Decimal("12.6"), instrument="M-1").reading == 0


def test_least_of_nothing_is_no_limit_to_speak_of(build: Build) -> None:
    draw = make_step(build, reading="mA", reading_min=Decimal(0), reading_max=Decimal(40), reading_decimals=1)
    load = make_step(build, reading="A", reading_min=Decimal(0), reading_max=None, reading_decimals=1)

    assert (limit_words(draw), limit_words(load)) == ("At most 40.0 mA", "")
    assert judge(draw, Decimal(30)).words == "Within: 10.0 mA left of 40.0 mA"
    assert judge(load, Decimal(30)).words == "30.0 A, no limit given"


def test_reading_at_a_step_that_asks_none_is_refused(build: Build, person: Person) -> None:
    with pytest.raises(BadInput, match="asks for no reading"):
        tick(make_step(build), person, reading=Decimal(1))


@pytest.mark.parametrize("unit", ["A", "mA"])
def test_current_needs_its_voltage_and_instrument(build: Build, person: Person, unit: str) -> None:
    step = make_step(build, reading=unit, reading_max=Decimal(50))

    with pytest.raises(BadInput) as refused:
        tick(step, person, reading=Decimal("31.5"))
    assert set(refused.value.fields) == {"reading_at_v", "instrument"}

    kept = tick(step, person, reading=Decimal("31.5"), reading_at_v=Decimal("12.62"), instrument="C-04")
    assert (kept.reading_at_v, kept.instrument) == (Decimal("12.62"), "C-04")


LOSS_CASES = [
    # at the load, at the battery, field at fault, words
    pytest.param("12.80", "13.40", "reading", "12.80 V of 13.40 V at the source, 0.60 V lost; 0.10 V over 0.50 V", id="over"),
    pytest.param("11.60", "12.00", None, "", id="a low battery is not the wire's fault"),
    pytest.param("11.60", "12.10", None, "", id="exactly what may be lost"),
    pytest.param("11.60", None, "reading_at_v", "What is lost on the way is judged", id="source not read"),
    pytest.param("13.40", "12.80", "reading", "0.60 V more than its source's 12.80 V", id="more than the source"),
    pytest.param("128.0", "128.1", "reading", "113.00 V over 15.00 V", id="slip of the point"),
    pytest.param("0.10", "0.30", "reading", "5.90 V short of 6.00 V", id="not fed at all"),
]  # fmt: skip


@pytest.mark.parametrize(("reading", "battery", "fault", "words"), LOSS_CASES)
def test_voltage_at_a_load_is_judged_by_what_is_lost_from_its_source(
    build: Build, person: Person, reading: str, battery: str | None, fault: str | None, words: str
) -> None:
    step = make_step(
        build, reading="V", reading_min=Decimal(6), reading_max=Decimal(15), reading_lost_max_v=Decimal("0.5")
    )
    read = {"reading": Decimal(reading), "reading_at_v": None if battery is None else Decimal(battery)}

    if fault is None:
        assert tick(step, person, **read).result == PASS
        return
    with pytest.raises(BadInput) as refused:
        tick(step, person, **read)
    assert list(refused.value.fields) == [fault]
    assert words in refused.value.fields[fault]


def test_step_that_asks_a_photo_cannot_pass_without(build: Build, person: Person) -> None:
    step = make_step(build, photo_required=True)

    with pytest.raises(BadInput) as refused:
        tick(step, person)
    assert list(refused.value.fields) == ["photo"]

    photos.add_photo(build=build, kind="step", step=step, content=make_photo_file(), event_id=uuid4(), by=person, at=AT)
    assert tick(step, person).result == PASS


def test_hold_point_and_retired_step_are_not_ticked(build: Build, person: Person) -> None:
    with pytest.raises(BadInput, match="signed, not ticked"):
        tick(make_step(build, is_hold_point=True), person)
    with pytest.raises(NotHere, match="no longer asks"):
        tick(make_step(build, retired=True), person)


@pytest.mark.parametrize("role", [Role.INSPECTOR, Role.SERVICE_WRITER, Role.PARTS_CLERK])
def test_roles_that_do_not_tick_are_refused(build: Build, role: Role) -> None:
    with pytest.raises(NotAllowed):
        tick(make_step(build), make_person(role))


def test_mass_is_kept_in_kilograms_and_told_in_the_builds_units(build: Build, person: Person) -> None:
    step = make_step(build, reading="kg", reading_max=Decimal(2200), reading_decimals=1)  # 4850.2 lb

    assert scale_of(step).kept(Decimal("4850.2")) == Decimal("2200.0137")  # 4850.2 * 0.45359237, half up
    with pytest.raises(BadInput, match=r"5\.0 lb over 4850\.2 lb: it cannot pass"):
        tick(step, person, reading=scale_of(step).kept(Decimal("4855.2")))
    assert tick(step, person, reading=scale_of(step).kept(Decimal("4840.0"))).reading == Decimal("2195.3871")
    build.units = "metric"
    step.build = build
    assert (scale_of(step).unit, scale_of(step).kept(Decimal("2195.5"))) == ("kg", Decimal("2195.5"))


# --- what must be true first -------------------------------------------------------------------

GUARDS = {"in-work", "revision-authorised", "vehicle-in", "parts-reserved", "gear-here", "no-open-blocking"}
ASKED = {
    "bench": {"in-work", "revision-authorised", "parts-reserved"},
    "vehicle": GUARDS,
    "yard": {"in-work", "revision-authorised", "vehicle-in"},
    "sublet": {"in-work", "revision-authorised"},
}


@pytest.mark.parametrize("place", ASKED)
def test_build_where_nothing_is_true_names_every_reason_of_the_place(
    person: Person, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    bare = make_designed_build()  # at intake, its one part not in stock, its vehicle not here
    manager = make_person(Role.MANAGER)
    registers.expect_gear(build=bare, description="Radio set", by=manager, at=AT)
    Build.objects.filter(pk=bare.pk).update(blocking_count=1, assessed_version=0)
    monkeypatch.setattr("builds.services.work_guards.open_blocking", lambda build, assessment: (_Blocking(),))

    with pytest.raises(GuardRefused) as refused:
        tick(make_step(bare, place=place), person)
    assert set(refused.value.missing) == ASKED[place]
    assert Tick.objects.count() == 0


class _Blocking:
    message = "Circuit 101: the fuse is above what its wire carries."


def test_each_reason_is_told_in_words(person: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    bare = make_designed_build()
    registers.expect_gear(build=bare, description="Radio set", by=make_person(Role.MANAGER), at=AT)
    monkeypatch.setattr("builds.services.work_guards.open_blocking", lambda build, assessment: (_Blocking(),))

    with pytest.raises(GuardRefused) as refused:
        tick(make_step(bare), person)

    for words in (
        f"Build {bare.number} is intake, not in work.",
        "No revision carries the customer's authorisation.",
        "The vehicle is not checked in.",
        "Parts are short: 1 × INV-100.",
        "The customer's gear has not come: Radio set.",
        "A blocking finding is open without an override: Circuit 101: the fuse is above what its wire carries.",
    ):
        assert words in refused.value.message


def test_bench_work_needs_no_vehicle(person: Person) -> None:
    build = make_working_build(checked_in=False)

    assert tick(make_step(build, place="bench"), person).pk
    with pytest.raises(GuardRefused, match="not checked in"):
        tick(make_step(build), person)


def test_vehicle_checked_out_is_no_longer_here(build: Build, person: Person) -> None:
    check_in(build, direction="out", at=AT + timedelta(hours=1))

    with pytest.raises(GuardRefused, match="not checked in"):
        tick(make_step(build), person)


# --- what a pass takes out of the stores --------------------------------------------------------


def stocked_build(manager: Person) -> Build:
    """A build whose one part is reserved for it."""
    build = make_working_build(manager)
    design = make_designed_build(manager)
    design.parts.update(build=build)
    put_in_stock(build.parts.get().part, 3, manager)
    reserve_parts(build=build, by=manager, at=AT)
    return build


def issued(build: Build) -> list[StockEntry]:
    return list(StockEntry.objects.filter(job=build.number, kind=StockEntry.Kind.ISSUE))


def test_last_mounting_step_issues_what_is_reserved(person: Person) -> None:
    build = stocked_build(make_person(Role.MANAGER))
    first, last = make_step(build, phase="mount"), make_step(build, phase="mount")
    wire = make_step(build, phase="wire")

    tick(first, person)
    tick(wire, person)
    assert issued(build) == []

    tick(last, person)
    assert [entry.on_hand_change for entry in issued(build)] == [Decimal(-1)]
    balance = StockBalance.objects.get()
    assert (balance.on_hand, balance.reserved) == (Decimal(2), Decimal(0))


def test_ticks_after_that_issue_nothing_twice(person: Person) -> None:
    build = stocked_build(make_person(Role.MANAGER))
    step = make_step(build, phase="mount")
    tick(step, person)

    tick(step, person, DEFECTIVE, remark="loose", at=AT + timedelta(minutes=1))
    tick(step, person, at=AT + timedelta(minutes=2))

    assert len(issued(build)) == 1


def test_not_applicable_takes_nothing_out(person: Person) -> None:
    build = stocked_build(make_person(Role.MANAGER))

    tick(make_step(build, phase="mount"), person, NOT_APPLICABLE)

    assert issued(build) == []


def test_build_without_mounting_issues_when_wiring_is_done(person: Person) -> None:
    build = stocked_build(make_person(Role.MANAGER))
    make_step(build, phase="test")

    tick(make_step(build, phase="wire"), person)

    assert len(issued(build)) == 1


def test_step_of_an_operation_issues_the_parts_it_installs(person: Person) -> None:
    build = stocked_build(make_person(Role.MANAGER))
    build.parts.update(installed_by="radio")
    make_step(build, phase="mount", operation_key="rack")
    radio = make_step(build, phase="wire", operation_key="radio")

    tick(radio, person)
    tick(radio, person, DEFECTIVE, remark="loose", at=AT + timedelta(minutes=1))
    tick(radio, person, at=AT + timedelta(minutes=2))

    assert [(entry.on_hand_change, entry.job_line) for entry in issued(build)] == [(Decimal(-1), build.parts.get().key)]


def test_end_of_mounting_leaves_what_a_later_operation_installs(person: Person) -> None:
    build = stocked_build(make_person(Role.MANAGER))
    build.parts.update(installed_by="radio")
    rack = make_step(build, phase="mount", operation_key="rack")
    radio = make_step(build, phase="wire", operation_key="radio")

    tick(rack, person)
    assert issued(build) == []

    tick(radio, person)
    assert len(issued(build)) == 1


def test_part_of_an_operation_without_a_step_goes_out_with_the_rest(person: Person) -> None:
    build = stocked_build(make_person(Role.MANAGER))
    build.parts.update(installed_by="radio")

    tick(make_step(build, phase="mount", operation_key="rack"), person)

    assert [entry.job_line for entry in issued(build)] == [""]


def test_tick_that_fails_half_way_writes_nothing(person: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    build = stocked_build(make_person(Role.MANAGER))
    step = make_step(build, phase="mount")

    def power_cut(**_: object) -> None:
        raise RuntimeError("power cut")

    monkeypatch.setattr("builds.services.part_issues.stock.issue", power_cut)
    with pytest.raises(RuntimeError):
        tick(step, person)

    step.refresh_from_db()
    build.refresh_from_db()
    assert (step.result, build.step_done_count) == ("", 0)
    assert (Tick.objects.count(), issued(build)) == (0, [])


def test_build_with_a_step_open_again_does_not_count_as_done(build: Build, person: Person) -> None:
    step = make_step(build)
    tick(step, person)
    tick(step, person, DEFECTIVE, remark="came loose", at=AT + timedelta(minutes=5))

    build.refresh_from_db()
    assert build.step_done_count == 0
    assert "steps-passed" in stages.missing_guards(_at_final_check(build), Stage.READY)


def _at_final_check(build: Build) -> Build:
    build.stage = Stage.FINAL_CHECK
    return build


def test_outcome_is_frozen() -> None:
    with pytest.raises(AttributeError):
        ticks.Outcome(result=PASS).result = DEFECTIVE  # type: ignore[misc]
