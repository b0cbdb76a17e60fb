"""The checklist made from the authorised revision, and merged with what is there."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from builds.engineering.checklist import ReadingPlan, StepPlan
from builds.engineering.vocabulary import Phase, Place, SuppliedBy
from builds.errors import GuardRefused, NotAllowed
from builds.models import Build, ChecklistStep, Person, Role, StepResult, Tick
from builds.services import authorisations, checklists, hold_points, revisions
from builds.services.checklists import make_steps
from tests.factories.builds import AT, make_designed_build, make_person
from tests.factories.floor import check_in, make_working_build, tick

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


def authorised(build: Build, by: Person) -> None:
    revision = revisions.release(build=build, summary="as ordered", by=by, at=AT)
    authorisations.record(
        revision=revision, kind="purchase_order", authorised_by="P. Lund", reference="PO-1", by=by, at=AT
    )


def test_build_without_an_authorised_revision_gets_no_checklist(manager: Person) -> None:
    build = make_designed_build(manager)
    revisions.release(build=build, summary="as ordered", by=manager, at=AT)

    with pytest.raises(GuardRefused, match="authorisation"):
        make_steps(build=build, by=manager, at=AT)
    assert not build.steps.exists()


def test_technician_does_not_make_the_checklist(manager: Person) -> None:
    build = make_designed_build(manager)
    authorised(build, manager)
    with pytest.raises(NotAllowed):
        make_steps(build=build, by=make_person(Role.TECHNICIAN), at=AT)


def test_steps_follow_the_authorised_design(manager: Person) -> None:
    build = make_designed_build(manager)
    build.parts.update(supplied_by=SuppliedBy.CUSTOMER)
    authorised(build, manager)

    made = make_steps(build=build, by=manager, at=AT)

    build.refresh_from_db()
    steps = {step.key: step for step in build.steps.all()}
    assert (made.steps, made.added, build.step_count) == (len(steps), len(steps), len(steps))
    assert (steps["op/O1"].phase, steps["op/O1"].place, steps["op/O1"].operation_key) == ("mount", "vehicle", "O1")
    assert steps["key-off"].reading_unit == "mA" and steps["key-off"].reading_instrument == "clamp ammeter"
    covered = set(steps["hold/before-trim"].covers.values_list("key", flat=True))
    assert covered == {key for key, step in steps.items() if step.phase == "wire" and not step.is_hold_point}
    assert build.gear.get().description == "Fuse panel, 12 positions"


def test_making_it_again_changes_nothing(manager: Person) -> None:
    build = make_designed_build(manager)
    authorised(build, manager)
    make_steps(build=build, by=manager, at=AT)
    before = list(build.steps.values())

    made = make_steps(build=build, by=manager, at=AT)

    assert (made.added, made.reopened, made.retired) == (0, 0, 0)
    assert list(build.steps.values()) == before


# --- merging, on plans of our own -----------------------------------------------------------------


def plan(key: str, **more: object) -> StepPlan:
    return replace(StepPlan(key=key, title=key.title(), why="", phase=Phase.WIRE, place=Place.BENCH), **more)  # type: ignore[arg-type]


def volts(maximum: float, calculated: float = 0.05) -> ReadingPlan:
    return ReadingPlan(
        unit="V", minimum=None, maximum=maximum, calculated=calculated, instrument="voltmeter", decimals=2
    )


HOLD = plan("hold", hold_point=True, covers=("a", "b"))


@pytest.fixture
def merge(monkeypatch: pytest.MonkeyPatch, manager: Person):  # type: ignore[no-untyped-def]
    build = make_working_build(manager)
    monkeypatch.setattr(checklists, "design_of_revision", lambda revision: _NoDesign())
    monkeypatch.setattr(checklists, "assess", lambda design: None)

    def make(*plans: StepPlan) -> Build:
        monkeypatch.setattr(checklists, "derive_steps", lambda design, assessment: plans)
        make_steps(build=build, by=manager, at=AT)
        build.refresh_from_db()
        return build

    return make


class _NoDesign:
    parts = ()


def step_of(build: Build, key: str) -> ChecklistStep:
    return build.steps.get(key=key)


def test_tick_stays_with_a_step_that_only_moved(merge) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a"), plan("b"))
    tick(step_of(build, "a"), make_person(Role.TECHNICIAN))

    merge(plan("new"), plan("b"), plan("a", title="Another title", why="another why"))

    step = step_of(build, "a")
    assert (step.line, step.title, step.result, step.ticks.count()) == (3, "Another title", StepResult.PASS, 1)


@pytest.mark.parametrize(
    ("before", "after", "reopens"),
    [
        pytest.param({}, {"instructions": ("Use 5 A.",)}, True, id="other acts"),
        pytest.param({}, {"photo_required": True}, True, id="a photo asked for"),
        pytest.param({"reading": volts(0.1)}, {"reading": volts(0.05)}, True, id="another limit"),
        pytest.param(
            {"reading": volts(0.1)}, {"reading": volts(0.1, calculated=0.06)}, False, id="another calculated value"
        ),
        pytest.param({"reading": volts(0.1)}, {"reading": volts(0.1), "phase": Phase.TEST}, False, id="another phase"),
    ],
)
def test_step_that_asks_for_something_else_is_open_again(merge, before, after, reopens) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a", **before), plan("b"))
    reading = {"reading": Decimal("0.04")} if "reading" in before else {}
    tick(step_of(build, "a"), make_person(Role.TECHNICIAN), **reading)

    merge(plan("a", **after), plan("b"))

    step = step_of(build, "a")
    assert (step.result, step.ticks.count()) == ("" if reopens else "pass", 1)
    assert Build.objects.get(pk=build.pk).step_done_count == (0 if reopens else 1)


@pytest.mark.parametrize(("found", "reopens"), [("30", False), ("-30", True)])
def test_step_learns_that_nothing_is_the_least_and_opens_where_less_was_found(merge, found: str, reopens: bool) -> None:  # type: ignore[no-untyped-def]
    draw = replace(volts(40), unit="mA")
    build = merge(plan("a", reading=draw))
    step = step_of(build, "a")
    person = make_person(Role.TECHNICIAN)
    Tick.objects.create(
        event_id=uuid4(), step=step, result=StepResult.PASS, reading=Decimal(found), by=person, at=AT, received_at=AT
    )
    ChecklistStep.objects.filter(pk=step.pk).update(result=StepResult.PASS, result_by=person, result_at=AT)

    merge(plan("a", reading=replace(draw, minimum=0.0)))

    assert (step_of(build, "a").result == "") is reopens


def test_step_no_longer_asked_for_is_retired_with_its_ticks_and_comes_back(merge) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a"), plan("b"))
    tick(step_of(build, "a"), make_person(Role.TECHNICIAN))

    merge(plan("b"))
    assert (step_of(build, "a").retired, step_of(build, "a").ticks.count()) == (True, 1)
    assert Build.objects.get(pk=build.pk).step_count == 1

    merge(plan("a"), plan("b"))
    assert (step_of(build, "a").retired, step_of(build, "a").result) == (False, StepResult.PASS)


def signed(build: Build) -> None:
    technician = make_person(Role.TECHNICIAN)
    for key in ("a", "b"):
        tick(step_of(build, key), technician)
    hold_points.sign(
        step=step_of(build, "hold"), passed=True, basis=hold_points.signer_of(build), event_id=uuid4(),
        by=make_person(Role.INSPECTOR), at=AT,
    )  # fmt: skip


def test_signature_does_not_reach_over_a_step_added_or_changed_later(merge) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a"), plan("b"), HOLD)
    signed(build)
    assert step_of(build, "hold").result == StepResult.PASS

    merge(plan("a"), plan("b"), plan("c"), replace(HOLD, covers=("a", "b", "c")))

    assert step_of(build, "hold").result == ""
    assert step_of(build, "hold").signatures.count() == 1


def test_signature_stays_where_nothing_it_covers_has_changed(merge) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a"), plan("b"), HOLD)
    signed(build)

    merge(plan("a"), plan("b"), HOLD, plan("later", phase=Phase.CLOSE))

    assert step_of(build, "hold").result == StepResult.PASS


def test_making_steps_that_fails_half_way_writes_nothing(merge, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a"))

    def power_cut(*_: object, **__: object) -> None:
        raise RuntimeError("power cut")

    monkeypatch.setattr(checklists, "count_steps", power_cut)
    with pytest.raises(RuntimeError):
        merge(plan("a", title="changed"), plan("b"))
    assert [(step.key, step.title) for step in build.steps.all()] == [("a", "A")]


def test_checked_in_vehicle_gets_the_newest_authorised_revision_only(manager: Person) -> None:
    build = make_designed_build(manager)
    authorised(build, manager)
    check_in(build, manager, at=AT + timedelta(hours=1))
    build.operations.filter(key="O2").update(name="Wire the cab panel anew")
    revisions.release(build=build, summary="other name", by=manager, at=AT)

    made = make_steps(build=build, by=manager, at=AT)

    assert (made.revision.letter, step_of(build, "op/O2").title) == ("A", "Wire the cab panel")


def test_hold_point_goes_on_covering_what_was_worked_on_and_drops_the_rest(merge) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a"), plan("b"), HOLD)
    tick(step_of(build, "a"), make_person(Role.TECHNICIAN))

    merge(plan("a"), plan("b"), replace(HOLD, covers=()))

    assert [step.key for step in step_of(build, "hold").covers.all()] == ["a"]


def test_signed_hold_point_opens_when_it_comes_to_cover_more(merge) -> None:  # type: ignore[no-untyped-def]
    build = merge(plan("a"), plan("b"), replace(HOLD, covers=("a",)))
    tick(step_of(build, "a"), make_person(Role.TECHNICIAN))
    hold_points.sign(
        step=step_of(build, "hold"), passed=True, basis=hold_points.signer_of(build), event_id=uuid4(),
        by=make_person(Role.INSPECTOR), at=AT,
    )  # fmt: skip

    merge(plan("a"), plan("b"), HOLD)

    assert step_of(build, "hold").result == ""
    assert {step.key for step in step_of(build, "hold").covers.all()} == {"a", "b"}
