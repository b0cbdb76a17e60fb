"""The function schedule of a design: text and form are one edit, refused text changes nothing, undo puts it back."""

import pytest

from builds.engineering.document import canonical_text, read_document
from builds.errors import GuardRefused, NotAllowed, StaleRow
from builds.models import FunctionSchedule, HistoryEntry, Person, Role
from builds.selectors.design_after import design_after
from builds.selectors.engineering_inputs import design_of
from builds.services.build_documents import import_build
from builds.services.design_edits import edit_row, undo_last
from builds.services.function_schedules import ScheduleRefused, edit_statement, replace_schedule
from tests.factories.builds import AT, make_designed_build, make_person

pytestmark = pytest.mark.django_db

TEXT = """# bought by the fleet
input mode: selector off, respond
channel bar: lamp; facing front; load L1
rule go (priority 10): bar steady when mode is respond; if lost, does not apply
"""


@pytest.fixture
def by() -> Person:
    return make_person(Role.DESIGNER)


def test_a_kept_text_is_in_the_design_and_counts_as_one_edit(by: Person) -> None:
    build = make_designed_build(by)
    before, version = design_of(build), build.design_version

    batch = replace_schedule(build=build, text=TEXT.replace("\n", " \r\n"), row_version=0, by=by, at=AT)

    assert design_of(build).function_schedule == TEXT
    assert build.design_version == version + 1 == batch.design_version
    assert design_after(build, before=before, read_at=version, batch=batch) == design_of(build)
    assert HistoryEntry.objects.filter(table_name="builds_functionschedule").count() == 1


def test_a_statement_put_in_the_place_of_another_leaves_the_rest_as_typed(by: Person) -> None:
    build = make_designed_build(by)
    replace_schedule(build=build, text=TEXT, row_version=0, by=by, at=AT)
    statement = "rule go (priority 20): bar steady at 50 % when mode is respond; if lost, applies"

    edit_statement(build=build, subject="rule:go", statement=statement, row_version=1, by=by, at=AT)
    edit_statement(build=build, subject="", statement="claim quiet: whenever mode is off then bar is off",
                   row_version=2, by=by, at=AT)  # fmt: skip

    lines = design_of(build).function_schedule.splitlines()
    assert lines[:3] == TEXT.splitlines()[:3]
    assert lines[3:] == [statement, "claim quiet: whenever mode is off then bar is off"]


def test_text_that_cannot_be_read_is_refused_with_every_fault_and_changes_nothing(by: Person) -> None:
    build = make_designed_build(by)
    replace_schedule(build=build, text=TEXT, row_version=0, by=by, at=AT)
    version = build.design_version

    with pytest.raises(ScheduleRefused) as refused:
        replace_schedule(build=build, text=TEXT.replace("mode is", "mood is") + "rool x\n", row_version=1, by=by, at=AT)

    found = [(fault.name, fault.place.line, fault.place.column) for fault in refused.value.faults]
    assert found == [("name-unknown", 4, 40), ("statement-unknown", 5, 1)]
    assert design_of(build).function_schedule == TEXT
    assert build.design_version == version


def test_a_text_kept_over_a_newer_one_is_stale(by: Person) -> None:
    build = make_designed_build(by)
    replace_schedule(build=build, text=TEXT, row_version=0, by=by, at=AT)

    with pytest.raises(StaleRow) as refused:
        replace_schedule(build=build, text=TEXT + "# mine\n", row_version=0, by=by, at=AT)

    assert refused.value.conflicts[0].theirs == TEXT


def test_undo_puts_the_text_back_until_someone_else_changed_it(by: Person) -> None:
    build = make_designed_build(by)
    replace_schedule(build=build, text=TEXT, row_version=0, by=by, at=AT)

    undo_last(build=build, by=by, at=AT)

    assert design_of(build).function_schedule == ""
    replace_schedule(build=build, text=TEXT, row_version=2, by=by, at=AT)
    FunctionSchedule.objects.update(text="# other\n")
    with pytest.raises(GuardRefused, match="has changed since"):
        undo_last(build=build, by=by, at=AT)


def test_a_technician_may_not_change_it(by: Person) -> None:
    build = make_designed_build(by)

    with pytest.raises(NotAllowed):
        replace_schedule(build=build, text=TEXT, row_version=0, by=make_person(Role.TECHNICIAN), at=AT)


def test_schedule_and_settings_of_a_condition_go_out_and_come_in_with_the_document(by: Person) -> None:
    build = make_designed_build(by)
    replace_schedule(build=build, text=TEXT, row_version=0, by=by, at=AT)
    condition = build.conditions.first()
    settings = [{"input": "mode", "value": "respond"}]
    edit_row(build=build, family="condition", key=condition.key, values={"input_settings": settings},
             row_version=condition.row_version, by=by, at=AT)  # fmt: skip
    text = canonical_text(design_of(build))

    other = import_build(text=text, by=by, at=AT, number="9901")

    assert canonical_text(design_of(other)).replace('"9901"', f'"{build.number}"') == text
    assert read_document(text).conditions[0].input_settings[0].value == "respond"
    undo_last(build=build, by=by, at=AT)
    assert design_of(build).conditions[0].input_settings == ()
