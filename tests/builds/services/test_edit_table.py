"""Many rows changed as one edit: all or none, in a fixed number of statements, undone as one; steps of one edit."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from builds.engineering.document.canonical import canonical_text
from builds.errors import BadInput, NotHere, RowsRefused, StaleRow, Taken
from builds.models import Build, EditBatch, HistoryEntry, Person, Role
from builds.selectors.engineering_inputs import design_of
from builds.services.design_edits import RowChange, Step, edit_row, edit_table, make_steps, undo_last
from tests.factories.builds import AT, make_designed_build, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def by() -> Person:
    return make_person(Role.DESIGNER)


def changes(build: Build, count: int, **values: Any) -> list[RowChange]:
    numbers = list(build.circuits.values_list("number", flat=True)[:count])
    return [RowChange(key=number, values=values, row_version=1) for number in numbers]


def test_edit_table_changes_every_row_in_one_batch_with_history(by: Person) -> None:
    build = make_designed_build(by, circuits=6)

    edit_table(build=build, family="circuit", changes=changes(build, 6, gauge="12", bundle=3), by=by, at=AT)

    assert set(build.circuits.values_list("gauge", "bundle", "row_version")) == {("12", 3, 2)}
    assert EditBatch.objects.count() == 1 and EditBatch.objects.get().entries.count() == 6
    assert HistoryEntry.objects.filter(table_name="builds_circuit", operation="update", actor=by.username).count() == 6
    assert build.design_version == 2


def test_edit_table_asks_as_much_of_the_database_for_4_rows_as_for_80(by: Person) -> None:
    counts = {}
    for rows in (4, 80):
        build = make_designed_build(by, circuits=80)
        with CaptureQueriesContext(connection) as asked:
            edit_table(build=build, family="circuit", changes=changes(build, rows, gauge="12"), by=by, at=AT)
            undo_last(build=build, by=by, at=AT)
        counts[rows] = len(asked)

    assert counts[4] == counts[80]


def test_edit_table_is_undone_as_one_to_the_byte(by: Person) -> None:
    build = make_designed_build(by, circuits=5)
    before = canonical_text(design_of(build))
    edit_table(build=build, family="circuit", changes=changes(build, 5, colour="RD", zones=["CAB"]), by=by, at=AT)

    undo_last(build=build, by=by, at=AT)

    assert canonical_text(design_of(build)) == before


def test_edit_table_refuses_all_for_one_bad_cell_and_names_each(by: Person) -> None:
    build = make_designed_build(by, circuits=4)
    before = canonical_text(design_of(build))
    wanted = [
        RowChange(key="101", values={"gauge": "12"}, row_version=1),
        RowChange(key="102", values={"panel": "P9", "length_m": -1}, row_version=1),
        RowChange(key="103", values={"zones": ["CAB", "MOON"]}, row_version=1),
    ]

    with pytest.raises(RowsRefused) as refused:
        edit_table(build=build, family="circuit", changes=wanted, by=by, at=AT)

    assert {(cell.key, cell.field) for cell in refused.value.cells} == {
        ("102", "panel"), ("102", "length_m"), ("103", "zones"),
    }  # fmt: skip
    assert canonical_text(design_of(build)) == before and not EditBatch.objects.exists()


def test_edit_table_says_at_the_cell_what_someone_else_wrote(by: Person) -> None:
    build = make_designed_build(by, circuits=3)
    edit_row(build=build, family="circuit", key="102", values={"gauge": "10"}, row_version=1, by=by, at=AT)

    with pytest.raises(RowsRefused) as refused:
        edit_table(build=build, family="circuit", changes=changes(build, 3, gauge="12"), by=by, at=AT)

    assert refused.value.status == 409
    assert [(cell.key, cell.words) for cell in refused.value.cells] == [
        ("102", "Someone else changed this too; here is 10 now.")
    ]
    assert build.circuits.get(number="101").gauge == "16"


def test_edit_table_refuses_a_row_that_is_gone(by: Person) -> None:
    build = make_designed_build(by, circuits=2)

    with pytest.raises(NotHere, match="999"):
        edit_table(build=build, family="circuit", changes=[RowChange(key="999", values={"gauge": "12"})], by=by, at=AT)


def test_steps_are_one_edit_and_undone_as_one(by: Person) -> None:
    build = make_designed_build(by, circuits=2)
    before = canonical_text(design_of(build))
    steps = [
        Step(family="node", values={"key": "B1", "kind": "bus", "name": "Sub-bus", "zone": "CAB"}),
        Step(family="run", key="R2", values={"to_node": "B1"}, row_version=1),
        Step(
            family="run",
            values={"key": "R9", "from_node": "B1", "to_node": "P1", "side": "supply", "gauge": "2", "length_m": 1},
        ),
    ]

    make_steps(build=build, steps=steps, label="feed of P1 split", by=by, at=AT)

    assert build.runs.get(key="R2").to_node.key == "B1" and build.runs.get(key="R9").from_node.key == "B1"
    assert EditBatch.objects.get().words == "feed of P1 split"
    undo_last(build=build, by=by, at=AT)
    assert canonical_text(design_of(build)) == before


@pytest.mark.parametrize(
    ("step", "error", "field"),
    [
        (Step(family="run", key="R2", values={"to_node": "XX"}, prefix="run."), BadInput, "run.to_node"),
        (Step(family="run", key="R2", values={"gauge": "1"}, row_version=7, prefix="run."), StaleRow, "run.gauge"),
        (Step(family="node", key="P1"), Taken, ""),
    ],
    ids=["unknown name", "stale", "still named"],
)
def test_one_refused_step_takes_all_steps_back(by: Person, step: Step, error: type[Exception], field: str) -> None:
    build = make_designed_build(by, circuits=2)
    before = canonical_text(design_of(build))
    first = Step(family="node", values={"key": "B1", "kind": "bus", "name": "Sub-bus", "zone": "CAB"})

    with pytest.raises(error) as refused:
        make_steps(build=build, steps=[first, step], label="never", by=by, at=AT)

    assert not field or field in refused.value.fields  # type: ignore[attr-defined]
    assert canonical_text(design_of(build)) == before and not EditBatch.objects.exists()
