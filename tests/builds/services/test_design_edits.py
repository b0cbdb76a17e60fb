"""Every edit of a design: one lock, one version, one batch, and an undo that puts it back."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection

from builds.engineering.document.canonical import canonical_text
from builds.engineering.findings import Change
from builds.errors import BadInput, GuardRefused, NotAllowed, NotHere, StaleRow, Taken
from builds.models import Circuit, EditBatch, HistoryEntry, Load, OperatingCondition, Person, PowerNode, Role, Run
from builds.selectors.engineering_inputs import design_of
from builds.services.builds import open_from_build
from builds.services.design_edits import add_row, apply_fix, edit_row, remove_row, undo_last
from tests.factories.builds import AT, make_designed_build, make_person, make_vehicle

pytestmark = pytest.mark.django_db


@pytest.fixture
def by() -> Person:
    return make_person(Role.DESIGNER)


def counts() -> tuple[int, ...]:
    return tuple(model.objects.count() for model in (Circuit, Load, PowerNode, Run, OperatingCondition, EditBatch))


def test_edit_row_changes_the_field_and_counts_the_design(by: Person) -> None:
    build = make_designed_build(by)
    before = build.design_version

    edit_row(build=build, family="circuit", key="101", values={"gauge": "14", "length_m": Decimal("4.125")},
             row_version=1, by=by, at=AT)  # fmt: skip

    row = build.circuits.get(number="101")
    assert (row.gauge, row.length_m, row.row_version) == ("14", Decimal("4.125"), 2)
    assert build.design_version == before + 1
    build.refresh_from_db()
    assert build.design_version == before + 1


def test_edit_row_names_the_actor_in_history(by: Person) -> None:
    build = make_designed_build(by)

    edit_row(build=build, family="circuit", key="101", values={"gauge": "14"}, row_version=1, by=by, at=AT)

    entry = HistoryEntry.objects.filter(table_name="builds_circuit", operation="update").latest("pk")
    assert entry.actor == by.username
    assert (entry.before["gauge"], entry.after["gauge"]) == ("16", "14")  # type: ignore[index]


def test_edit_row_that_is_stale_gives_both_values_and_changes_nothing(by: Person) -> None:
    build = make_designed_build(by)
    edit_row(build=build, family="circuit", key="101", values={"gauge": "14"}, row_version=1, by=by, at=AT)
    before = counts()

    with pytest.raises(StaleRow) as refused:
        edit_row(build=build, family="circuit", key="101", values={"gauge": "12", "legend": "LAMP 1"}, row_version=1,
                 by=by, at=AT)  # fmt: skip

    assert [(item.field, item.yours, item.theirs) for item in refused.value.conflicts] == [("gauge", "12", "14")]
    assert refused.value.row_version == 2
    assert counts() == before


def test_field_that_nobody_else_touched_is_kept_without_a_question(by: Person) -> None:
    build = make_designed_build(by)
    other = make_person(Role.DESIGNER)
    edit_row(build=build, family="circuit", key="101", values={"gauge": "14"}, row_version=1, by=other, at=AT)
    edit_row(build=build, family="circuit", key="101", values={"length_m": Decimal(7)}, row_version=2, by=other, at=AT)

    batch = edit_row(build=build, family="circuit", key="101", values={"legend": "LAMP"}, row_version=1, by=by, at=AT)

    row = build.circuits.get(number="101")
    assert (row.gauge, row.length_m, row.legend, row.row_version) == ("14", 7, "LAMP", 4)
    assert [(item.field, item.now) for item in batch.meanwhile if item.field == "gauge"] == [("gauge", "14")]
    assert {item.field for item in batch.meanwhile} == {"gauge", "length_m"}


def test_field_that_both_set_alike_is_no_conflict(by: Person) -> None:
    build = make_designed_build(by)
    edit_row(build=build, family="circuit", key="101", values={"length_m": Decimal(7)}, row_version=1, by=by, at=AT)

    edit_row(build=build, family="circuit", key="101", values={"length_m": Decimal("7.0")}, row_version=1, by=by, at=AT)

    assert build.circuits.get(number="101").length_m == 7


def test_version_that_never_was_does_not_hide_a_bad_value(by: Person) -> None:
    build = make_designed_build(by)

    with pytest.raises(BadInput) as refused:
        edit_row(build=build, family="circuit", key="101", values={"taste": "salt"}, row_version=9, by=by, at=AT)
    assert list(refused.value.fields) == ["taste"]
    with pytest.raises(StaleRow):
        edit_row(build=build, family="circuit", key="101", values={"legend": "X"}, row_version=9, by=by, at=AT)


def test_conflict_says_lists_and_nothing_in_words(by: Person) -> None:
    build = make_designed_build(by)
    edit_row(build=build, family="circuit", key="101", values={"zones": []}, row_version=1, by=by, at=AT)

    with pytest.raises(StaleRow) as refused:
        edit_row(
            build=build, family="circuit", key="101", values={"zones": ["CAB", "REAR"]}, row_version=1, by=by, at=AT
        )

    assert [(item.yours, item.theirs) for item in refused.value.conflicts] == [("CAB, REAR", "")]


BAD_VALUES: dict[str, tuple[str, str, dict[str, Any], str, str]] = {
    "too many decimals": ("circuit", "101", {"length_m": Decimal("1.2345")}, "length_m", "more than 3 decimals"),
    "below zero": ("circuit", "101", {"length_m": Decimal(-1)}, "length_m", "0"),
    "not a number": ("circuit", "101", {"length_m": "long"}, "length_m", "number"),
    "unknown panel": ("circuit", "101", {"panel": "P9"}, "panel", "no node"),
    "unknown zone": ("circuit", "101", {"zones": ["MOON"]}, "zones", "no zone"),
    "number taken": ("circuit", "101", {"number": "102"}, "number", "102"),
    "unknown field": ("circuit", "101", {"taste": "salt"}, "taste", "no such field"),
    "unknown model": ("load", "L101", {"model": "magic"}, "model", "constant_current"),
    "duty above one": ("load", "L101", {"duty_ratio": Decimal("1.5")}, "duty_ratio", "1"),
    "battery without capacity": ("node", "BAT1", {"battery.capacity_ah": None}, "battery.capacity_ah", "missing"),
    "use of unknown load": ("condition", "idle", {"uses": [{"load": "L9"}]}, "uses.load", "no load"),
}


@pytest.mark.parametrize(("family", "key", "values", "field", "words"), BAD_VALUES.values(), ids=BAD_VALUES.keys())
def test_edit_row_with_a_bad_value_says_so_at_the_field_and_changes_nothing(
    by: Person, family: str, key: str, values: dict[str, Any], field: str, words: str
) -> None:
    build = make_designed_build(by)
    before = (counts(), canonical_text(design_of(build)))

    with pytest.raises(BadInput) as refused:
        edit_row(build=build, family=family, key=key, values=values, row_version=1, by=by, at=AT)

    assert field in refused.value.fields
    assert words in refused.value.fields[field]
    assert (counts(), canonical_text(design_of(build))) == before


def test_edit_row_by_a_technician_is_refused() -> None:
    build = make_designed_build()

    with pytest.raises(NotAllowed):
        edit_row(build=build, family="circuit", key="101", values={"gauge": "14"}, row_version=1,
                 by=make_person(Role.TECHNICIAN), at=AT)  # fmt: skip


def test_unknown_family_and_key_are_not_here(by: Person) -> None:
    build = make_designed_build(by)

    with pytest.raises(NotHere):
        edit_row(build=build, family="kite", key="1", values={}, row_version=1, by=by, at=AT)
    with pytest.raises(NotHere):
        remove_row(build=build, family="circuit", key="999", row_version=1, by=by, at=AT)


def test_remove_node_that_others_name_is_refused_in_words(by: Person) -> None:
    build = make_designed_build(by)

    with pytest.raises(Taken, match="R1"):
        remove_row(build=build, family="node", key="MD", row_version=1, by=by, at=AT)


@pytest.mark.parametrize(
    ("family", "key"), [("circuit", "101"), ("load", "L102"), ("run", "R2"), ("condition", "idle"), ("operation", "O2")]
)
def test_undo_brings_back_a_removed_row_with_everything_on_it(by: Person, family: str, key: str) -> None:
    build = make_designed_build(by)
    before = canonical_text(design_of(build))

    remove_row(build=build, family=family, key=key, row_version=1, by=by, at=AT)
    removed = canonical_text(design_of(build))
    undo_last(build=build, by=by, at=AT)

    assert removed != before
    assert canonical_text(design_of(build)) == before


def test_undo_twice_goes_back_two_edits(by: Person) -> None:
    build = make_designed_build(by)
    before = canonical_text(design_of(build))
    edit_row(build=build, family="circuit", key="101", values={"gauge": "14"}, row_version=1, by=by, at=AT)
    edit_row(
        build=build, family="circuit", key="101", values={"gauge": "12", "colour": "BU"}, row_version=2, by=by, at=AT
    )

    undo_last(build=build, by=by, at=AT)
    undo_last(build=build, by=by, at=AT)

    assert canonical_text(design_of(build)) == before


def test_undo_takes_back_nobody_elses_edit_unless_it_is_named(by: Person) -> None:
    build, other = make_designed_build(by), make_person(Role.DESIGNER)
    mine = edit_row(build=build, family="circuit", key="101", values={"gauge": "14"}, row_version=1, by=by, at=AT)
    theirs = edit_row(build=build, family="circuit", key="102", values={"legend": "X"}, row_version=1, by=other, at=AT)

    for named in (None, mine.design_version):
        with pytest.raises(GuardRefused) as refused:
            undo_last(build=build, by=by, at=AT, named=named)
        assert str(other) in refused.value.message and "circuit 102: legend" in refused.value.message
    assert build.circuits.get(number="102").legend == "X"

    undo_last(build=build, by=by, at=AT, named=theirs.design_version)
    undo_last(build=build, by=by, at=AT)
    assert build.circuits.get(number="102").legend != "X" and build.circuits.get(number="101").gauge == "16"


def test_undo_of_everything_ends_with_nothing_left(by: Person) -> None:
    build = make_designed_build(by, circuits=1)
    before = canonical_text(design_of(build))
    remove_row(build=build, family="circuit", key="101", row_version=1, by=by, at=AT)
    for key in ("R2", "R1"):
        remove_row(build=build, family="run", key=key, row_version=1, by=by, at=AT)
    for _ in range(build.edit_batches.count()):
        undo_last(build=build, by=by, at=AT)

    assert canonical_text(design_of(build)) == before
    with pytest.raises(GuardRefused, match="Nothing is left"):
        undo_last(build=build, by=by, at=AT)


def test_add_row_that_fails_half_way_writes_nothing(by: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    build = make_designed_build(by)
    before = counts()

    def no_more_room(*args: Any, **kwargs: Any) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("builds.services.design_edits.EditEntry.objects.bulk_create", no_more_room)
    with pytest.raises(OSError, match="no space"):
        add_row(build=build, family="operation", values={"key": "O9", "name": "Test", "place": "yard", "phase": "test",
                "skill": "fitting", "standard_h": 1}, by=by, at=AT)  # fmt: skip

    assert counts() == before
    assert not build.operations.filter(key="O9").exists()


def test_apply_fix_is_all_or_nothing(by: Person) -> None:
    build = make_designed_build(by)
    good = Change(subject="circuit:101", field="gauge", value="12")
    bad = Change(subject="circuit:102", field="length_m", value=-4.0)

    with pytest.raises(BadInput):
        apply_fix(build=build, changes=(good, bad), label="Use 12 gauge", by=by, at=AT)
    assert build.circuits.get(number="101").gauge == "16"

    batch = apply_fix(build=build, changes=(good,), label="Use 12 gauge", by=by, at=AT)
    assert batch.words == "Use 12 gauge"
    assert build.circuits.get(number="101").gauge == "12"


def test_number_of_questions_of_an_edit_does_not_follow_the_number_of_circuits(
    by: Person, django_assert_max_num_queries: Any
) -> None:
    asked = []
    for circuits in (2, 30):
        build = make_designed_build(by, circuits=circuits)
        with django_assert_max_num_queries(60) as seen:
            edit_row(build=build, family="circuit", key="101", values={"gauge": "14"}, row_version=1, by=by, at=AT)
        asked.append(len(seen))

    assert asked[0] == asked[1]


def test_open_from_build_copies_the_design_and_keeps_the_vehicle(by: Person) -> None:
    source = make_designed_build(by)
    vehicle = make_vehicle(source.customer, source.platform, unit_number="U-2")

    build = open_from_build(source=source, customer=source.customer, vehicle=vehicle, title="Second van",
                            purchase_order="PO-2", promised_on=None, by=by, at=AT)  # fmt: skip

    first, second = design_of(source), design_of(build)
    assert second.circuits == first.circuits
    assert second.conditions == first.conditions
    assert second.vehicle.unit_number == "U-2"
    assert build.number != source.number


def test_screens_are_told_of_each_version(by: Person) -> None:
    with connection.cursor() as cursor:
        cursor.execute("select tgname from pg_trigger where tgrelid = 'builds_build'::regclass and not tgisinternal")
        assert "baywright_screens" in {row[0] for row in cursor.fetchall()}


def test_a_shore_charger_goes_from_the_conditions_that_name_it_and_comes_back_with_undo(by: Person) -> None:
    build = make_designed_build(by)
    source = {"limit_a": 30, "low_v": 13.6, "high_v": Decimal("14.4")}
    add_row(build=build, family="node", values={"key": "SH1", "kind": "shore", "name": "Shore charger", "zone": "CAB", "source": source},
            by=by, at=AT)  # fmt: skip
    uses = [{"node": "SH1", "limit_a": Decimal("22.5")}, {"node": "ALT", "available": False}]
    edit_row(build=build, family="condition", key="idle", values={"sources": uses, "open_nodes": ["MD"], "ambient_c": 60},
             row_version=1, by=by, at=AT)  # fmt: skip
    named = canonical_text(design_of(build))

    remove_row(build=build, family="node", key="SH1", row_version=1, by=by, at=AT)

    condition = design_of(build).conditions[0]
    assert [use.node for use in condition.sources] == ["ALT"]
    assert condition.open_nodes == ("MD",)
    undo_last(build=build, by=by, at=AT)
    assert canonical_text(design_of(build)) == named
    assert '"sources":[{"available":true,"limit_a":22.5,"node":"SH1"},{"available":false,"node":"ALT"}]' in named


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"sources": [{"node": "NONE"}]}, "sources.node", "no node"),
        ({"sources": [{"node": "ALT", "low_v": 14, "high_v": 13}]}, "sources.high_v", "below the lowest it is set to"),
        ({"open_nodes": ["NONE"]}, "open_nodes", "no node"),
    ],
)
def test_a_condition_that_names_what_is_not_there_is_told_at_the_field(
    by: Person, values: dict[str, Any], field: str, words: str
) -> None:
    build = make_designed_build(by)

    with pytest.raises(BadInput) as refused:
        edit_row(build=build, family="condition", key="idle", values=values, row_version=1, by=by, at=AT)

    assert words in refused.value.fields[field]
