"""Duty profiles, their segments and the steps of the shedding as rows: kept, refused at the field, undone, exported."""

from typing import Any

import pytest

from builds.engineering.document import canonical_text, read_document
from builds.errors import BadInput, Taken
from builds.models import Build, Person, Role
from builds.selectors.engineering_inputs import design_of
from builds.services.build_documents import import_build
from builds.services.design_edits import add_row, edit_row, remove_row, undo_last
from tests.factories.builds import AT, make_designed_build, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def by() -> Person:
    return make_person(Role.DESIGNER)


@pytest.fixture
def build(by: Person) -> Build:
    """A build with a day of two segments and one step that sheds its first load."""
    build = make_designed_build(by)
    condition = build.conditions.first()
    add(build, by, "shed", key="S1", name="outlets", off_below_v=12.1, on_above_v=13.2)
    add(build, by, "duty", key="D1", name="a shift")
    for key in ("T1", "T2"):
        add(build, by, "segment", key=key, profile="D1", condition=condition.key, duration_min=30)
    edit_row(build=build, family="load", key=build.loads.first().key, values={"shed_step": "S1", "run_on_min": 15},
             row_version=1, by=by, at=AT)  # fmt: skip
    return build


def add(build: Build, by: Person, family: str, **values: Any) -> None:
    add_row(build=build, family=family, values=values, by=by, at=AT)


def test_profile_segments_and_steps_are_in_the_design_and_its_document(build: Build, by: Person) -> None:
    design = design_of(build)

    assert [(segment.key, segment.profile, segment.duration_min) for segment in design.duty_segments] == [
        ("T1", "D1", 30.0), ("T2", "D1", 30.0),
    ]  # fmt: skip
    assert (design.loads[0].shed_step, design.loads[0].run_on_min) == ("S1", 15.0)
    assert design.shed_steps[0].battery == "" and design.shed_steps[0].off_delay_s == 60.0
    other = import_build(text=canonical_text(design), by=by, at=AT, number="9902")
    assert design_of(other).duty_segments == design.duty_segments
    assert read_document(canonical_text(design)).shed_steps == design.shed_steps


def test_a_profile_taken_out_takes_its_segments_along_and_undo_brings_all_back(build: Build, by: Person) -> None:
    before = canonical_text(design_of(build))

    remove_row(build=build, family="duty", key="D1", row_version=1, by=by, at=AT)

    assert design_of(build).duty_segments == ()
    undo_last(build=build, by=by, at=AT)
    assert canonical_text(design_of(build)) == before


def test_what_others_name_is_not_taken_out(build: Build, by: Person) -> None:
    for family, key in (("shed", "S1"), ("condition", build.conditions.first().key)):
        with pytest.raises(Taken, match="still named by"):
            remove_row(build=build, family=family, key=key, row_version=1, by=by, at=AT)


@pytest.mark.parametrize(
    ("family", "key", "values", "field"),
    [
        pytest.param("shed", "S1", {"on_above_v": 12.0}, "on_above_v", id="restores below where it sheds"),
        pytest.param("shed", "S1", {"battery": "XX"}, "battery", id="no such battery"),
        pytest.param("segment", "T1", {"condition": "never"}, "condition", id="no such condition"),
        pytest.param("segment", "T1", {"duration_min": 0}, "duration_min", id="no time"),
        pytest.param("segment", "T1", {"engine_stops": 31}, "engine_stops", id="stops longer than the segment"),
        pytest.param("duty", "D1", {"start_ratio": 1.5}, "start_ratio", id="more than full"),
        pytest.param("load", "L101", {"shed_step": "S9"}, "shed_step", id="no such step"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_changes_nothing(
    build: Build, by: Person, family: str, key: str, values: dict[str, Any], field: str
) -> None:
    before = canonical_text(design_of(build))
    version = {"load": 2}.get(family, 1)

    with pytest.raises(BadInput) as refused:
        edit_row(build=build, family=family, key=key, values=values, row_version=version, by=by, at=AT)

    assert list(refused.value.fields) == [field]
    assert canonical_text(design_of(build)) == before


def test_a_step_may_name_the_battery_it_watches_and_stop_naming_it(build: Build, by: Person) -> None:
    battery = next(node.key for node in design_of(build).nodes if node.battery)
    edit_row(build=build, family="shed", key="S1", values={"battery": battery}, row_version=1, by=by, at=AT)
    assert design_of(build).shed_steps[0].battery == battery

    edit_row(build=build, family="shed", key="S1", values={"battery": ""}, row_version=2, by=by, at=AT)
    assert design_of(build).shed_steps[0].battery == ""
