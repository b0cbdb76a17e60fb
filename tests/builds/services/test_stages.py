"""Every move of a build and every guard it asks, as a table."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from builds import models
from builds.errors import BadInput, GuardRefused, NotAllowed
from builds.models import Build, FrozenDocument, PacketIssue, Person, Role, Stage, StageChange
from builds.models.stage import GUARDS, TRANSITIONS
from builds.services import authorisations, customer_links, design_edits, overrides, registers, revisions, stages
from builds.services.stages import OpenItem, missing_guards, move
from tests.factories.builds import AT, make_designed_build, make_person
from tests.factories.inventory import put_in_stock

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


@pytest.mark.parametrize("to", list(Stage))
@pytest.mark.parametrize("from_stage", list(Stage))
def test_moves_that_are_not_in_the_table_are_refused(manager: Person, from_stage: Stage, to: Stage) -> None:
    if (from_stage, to) in TRANSITIONS:
        pytest.skip("in the table")
    build = make_designed_build(manager)
    Build.objects.filter(pk=build.pk).update(stage=from_stage)

    with pytest.raises(GuardRefused, match="cannot go from"):
        move(build=build, to=to, by=manager, at=AT, note="because")
    build.refresh_from_db()
    assert build.stage == from_stage


def bring_to_guard(guard: str, build: Build, by: Person) -> str:
    """Make one guard true with everything it needs; returns the note the move then needs."""
    if guard in ("reason-given", "invoice-or-reason"):
        return "INV-77"
    BRING[guard](build, by)
    return ""


def release(build: Build, by: Person) -> models.Revision:
    return revisions.newest_revision(build) or revisions.release(build=build, summary="as ordered", by=by, at=AT)


def authorise(build: Build, by: Person) -> None:
    authorisations.record(
        revision=release(build, by), kind="purchase_order", authorised_by="P. Lund", reference="PO-1", by=by, at=AT
    )


def stock_up(build: Build, by: Person) -> None:
    for line in build.parts.select_related("part"):
        put_in_stock(line.part, line.quantity, by)
    from builds.services.reservations import reserve_parts

    reserve_parts(build=build, by=by, at=AT)


def make_step(build: Build, by: Person, result: str = "") -> None:
    models.ChecklistStep.objects.update_or_create(
        build=build, key="s1",
        defaults={"line": 1, "phase": "wire", "place": "vehicle", "title": "Wire it", "result": result,
                  "result_by": by if result else None, "result_at": AT if result else None},
    )  # fmt: skip


def make_packet(build: Build, by: Person) -> PacketIssue:
    document, _ = FrozenDocument.objects.get_or_create(sha256="a" * 64, defaults={"compressed": b""})
    stored, _ = models.StoredFile.objects.get_or_create(
        sha256="b" * 64,
        defaults={"name_in_store": "bb/b", "content_type": "application/pdf", "size_bytes": 1, "stored_at": AT},
    )
    return PacketIssue.objects.create(
        build=build, number=build.packets.count() + 1, revision=release(build, by), as_built=document, time_zone="UTC",
        issued_by=by, issued_at=AT, state="ready", file=stored, finished_at=AT,
    )  # fmt: skip


def sign_packet(build: Build, by: Person) -> None:
    packet = make_packet(build, by)
    link, _ = customer_links.make_handover_link(build=build, made_for="P. Lund", by=by, at=AT)
    models.Acceptance.objects.create(
        packet=packet, link=link, file_sha256="b" * 64, typed_name="P. Lund", consent_words="I accept", at=AT
    )


BRING = {
    "revision-released": release,
    "revision-authorised": authorise,
    "no-open-blocking": lambda build, by: None,
    "parts-reserved": stock_up,
    "steps-made": make_step,
    "steps-done": lambda build, by: make_step(build, by, "pass"),
    "steps-passed": lambda build, by: make_step(build, by, "pass"),
    "serials-recorded": lambda build, by: None,
    "packet-ready": make_packet,
    "design-released": release,
    "packet-signed": sign_packet,
}

GUARDED = [(move_, guard) for move_, guards in TRANSITIONS.items() for guard in guards if guard != "no-open-blocking"]


@pytest.mark.parametrize(("step", "guard"), GUARDED, ids=[f"{a}-{b}-{guard}" for (a, b), guard in GUARDED])
def test_each_guard_alone_holds_a_move_back(manager: Person, step: tuple[Stage, Stage], guard: str) -> None:
    build = make_designed_build(manager)
    from_stage, to = step
    note = "".join(
        bring_to_guard(other, build, manager) for other in TRANSITIONS[step] if other not in (guard, "packet-signed")
    )
    if guard == "serials-recorded":
        build.parts.update(serial_required=True)
    if guard == "design-released":
        release(build, manager)
        build.circuits.update(legend="OTHER")
    if guard == "revision-authorised" and from_stage is not Stage.QUOTED:
        release(build, manager)
    Build.objects.filter(pk=build.pk).update(stage=from_stage)
    build.refresh_from_db()

    assert guard in missing_guards(build, to, note=note)
    with pytest.raises(GuardRefused) as refused:
        move(build=build, to=to, by=manager, at=AT, note=note)
    assert guard in refused.value.missing
    assert GUARDS[guard] in refused.value.message


@pytest.mark.parametrize("step", list(TRANSITIONS), ids=[f"{a}-{b}" for a, b in TRANSITIONS])
def test_each_move_happens_once_all_guards_are_true(manager: Person, step: tuple[Stage, Stage]) -> None:
    build = make_designed_build(manager)
    from_stage, to = step
    note = "".join(bring_to_guard(guard, build, manager) for guard in TRANSITIONS[step])
    Build.objects.filter(pk=build.pk).update(stage=from_stage)
    build.refresh_from_db()

    change = move(build=build, to=to, by=manager, at=AT, note=note)

    build.refresh_from_db()
    assert build.stage == to
    assert (change.from_stage, change.to_stage, change.by) == (from_stage, to, manager)


def test_missing_serial_goes_to_ready_only_as_a_named_open_item(manager: Person) -> None:
    build = make_designed_build(manager)
    for guard in TRANSITIONS[Stage.FINAL_CHECK, Stage.READY]:
        bring_to_guard(guard, build, manager)
    build.parts.update(serial_required=True)
    Build.objects.filter(pk=build.pk).update(stage=Stage.FINAL_CHECK)
    build.refresh_from_db()

    assert missing_guards(build, Stage.READY) == ("serials-recorded",)
    change = move(
        build=build, to=Stage.READY, by=manager, at=AT, note="Bar's plate is under the mount; read at visit 1"
    )

    assert change.note == "Bar's plate is under the mount; read at visit 1"
    for line in build.parts.all():
        for number in range(int(line.quantity)):
            registers.record_serial(part_line=line, serial=f"SN {line.key} {number}", by=manager, at=AT)
    Build.objects.filter(pk=build.pk).update(stage=Stage.FINAL_CHECK)
    build.refresh_from_db()
    assert missing_guards(build, Stage.READY) == ()


def test_hold_names_who_acts_and_stops_every_move_but_cancelling(manager: Person) -> None:
    build = make_designed_build(manager)
    release(build, manager)

    with pytest.raises(BadInput) as refused:
        stages.set_hold(build=build, reason="", who_acts=" ", note="", by=manager, at=AT)
    assert set(refused.value.fields) == {"reason", "who_acts"}

    stages.set_hold(build=build, reason="customer_gear", who_acts="Buyer: send radio set", note="", by=manager, at=AT)
    with pytest.raises(GuardRefused, match="on hold"):
        move(build=build, to=Stage.QUOTED, by=manager, at=AT)
    stages.lift_hold(build=build, note="it came", by=manager, at=AT)
    move(build=build, to=Stage.QUOTED, by=manager, at=AT)

    assert build.stage == Stage.QUOTED
    assert StageChange.objects.filter(build=build).count() == 4


def test_only_a_manager_cancels(manager: Person) -> None:
    build = make_designed_build(manager)

    with pytest.raises(NotAllowed):
        move(build=build, to=Stage.CANCELLED, by=make_person(Role.SERVICE_WRITER), at=AT, note="buyer withdrew")
    move(build=build, to=Stage.CANCELLED, by=manager, at=AT, note="buyer withdrew")


def test_signature_on_an_older_packet_does_not_deliver(manager: Person) -> None:
    build = make_designed_build(manager)
    sign_packet(build, manager)
    make_packet(build, manager)
    Build.objects.filter(pk=build.pk).update(stage=Stage.READY)
    build.refresh_from_db()

    assert missing_guards(build, Stage.DELIVERED) == ("packet-signed",)


def test_signed_build_with_a_design_that_moved_on_and_a_blocking_finding_is_not_delivered(manager: Person) -> None:
    build = make_designed_build(manager)
    sign_packet(build, manager)
    Build.objects.filter(pk=build.pk).update(stage=Stage.READY)
    build.refresh_from_db()
    assert missing_guards(build, Stage.DELIVERED) == ()

    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"length_m": Decimal(100)}, row_version=1, by=manager, at=AT
    )

    assert missing_guards(build, Stage.DELIVERED) == ("design-released", "no-open-blocking")
    with pytest.raises(GuardRefused, match="newest revision"):
        move(build=build, to=Stage.DELIVERED, by=manager, at=AT)


@pytest.mark.parametrize("result", ["", "defective"])
def test_build_with_open_steps_goes_to_its_final_check_only_with_them_named(manager: Person, result: str) -> None:
    build = make_designed_build(manager)
    authorise(build, manager)
    make_step(build, manager, result)
    Build.objects.filter(pk=build.pk).update(stage=Stage.IN_WORK)
    build.refresh_from_db()

    for note in ("", "Wire it: the lamp comes on Friday"):
        with pytest.raises(GuardRefused, match="named as open"):
            move(build=build, to=Stage.FINAL_CHECK, by=manager, at=AT, note=note)
    move(build=build, to=Stage.FINAL_CHECK, by=manager, at=AT, open_items=[lamp_comes()])

    (kept,) = StageChange.objects.get(to_stage=Stage.FINAL_CHECK).open_items
    assert kept == {
        "step": "s1", "part": "Scene lamp", "reason": "comes on Friday", "who_returns": "the shop", "by_when": "2026-12-18"
    }  # fmt: skip
    assert "steps-passed" not in missing_guards(build, Stage.READY)
    models.ChecklistStep.objects.create(
        build=build, key="s2", line=2, phase="wire", place="vehicle", title="A step that nobody named"
    )
    assert "steps-passed" in missing_guards(build, Stage.READY)


def lamp_comes(**other: object) -> OpenItem:
    values = {"step": "s1", "part": "Scene lamp", "reason": "comes on Friday", "who_returns": "the shop"}
    return OpenItem(**({"by_when": date(2026, 12, 18)} | values | other))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("key", "title"),
    [
        ("seal", "Seal every body penetration"),
        ("device/P1", "Check every device in P1"),
        ("weigh/rear", "Weigh the rear axle"),
        ("function/1", "Function test: press the brake; stop lamps"),
        ("op/O1", "Fit the brackets beside the airbag"),
    ],
)
def test_what_someone_may_be_hurt_by_is_never_left_open_though_it_is_named(
    manager: Person, key: str, title: str
) -> None:
    build = make_designed_build(manager)
    authorise(build, manager)
    models.ChecklistStep.objects.create(
        build=build,
        key=key,
        title=title,
        line=1,
        phase="test",
        place="vehicle",
        reading_max=1000,
        reading_calculated=990,
    )
    Build.objects.filter(pk=build.pk).update(stage=Stage.IN_WORK)
    build.refresh_from_db()

    with pytest.raises(GuardRefused, match="never stop lamps"):
        move(build=build, to=Stage.FINAL_CHECK, by=manager, at=AT, open_items=[lamp_comes(step=key)])


@pytest.mark.parametrize(
    ("other", "field"),
    [
        ({"part": " "}, "s1 part"),
        ({"who_returns": ""}, "s1 who_returns"),
        ({"by_when": date(2026, 12, 1)}, "s1 by_when"),
    ],
)
def test_open_item_that_lacks_something_is_refused_at_its_field(
    manager: Person, other: dict[str, object], field: str
) -> None:
    build = make_designed_build(manager)
    authorise(build, manager)
    make_step(build, manager)
    Build.objects.filter(pk=build.pk).update(stage=Stage.IN_WORK)
    build.refresh_from_db()

    with pytest.raises(BadInput) as refused:
        move(build=build, to=Stage.FINAL_CHECK, by=manager, at=AT, open_items=[lamp_comes(**other)])

    assert list(refused.value.fields) == [field]


def test_revision_is_not_released_twice_without_a_change(manager: Person) -> None:
    build = make_designed_build(manager)
    first = revisions.release(build=build, summary="as ordered", by=manager, at=AT)

    with pytest.raises(GuardRefused, match="Nothing has changed since revision A"):
        revisions.release(build=build, summary="again", by=manager, at=AT + timedelta(hours=1))
    assert first.letter == "A"
    assert revisions.design_of_revision(first).circuits[0].number == "101"


@pytest.mark.parametrize(("sequence", "letter"), [(1, "A"), (8, "H"), (9, "J"), (24, "Z"), (25, "AA"), (48, "AZ")])
def test_revision_letter_skips_what_reads_as_a_figure(sequence: int, letter: str) -> None:
    assert revisions.revision_letter(sequence) == letter


def test_override_needs_a_reason_and_an_open_finding(manager: Person) -> None:
    build = make_designed_build(manager)

    with pytest.raises(BadInput, match="Say why"):
        overrides.record(build=build, finding_id="x", subject="build", reason=" . ", by=manager, at=AT)
