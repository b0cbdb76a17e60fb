"""Proposed sizes applied: chosen or all, as one edit, refused where the design has changed, taken back by undo."""

from typing import Any

import pytest

from builds.engineering.assess import assess
from builds.engineering.proposing import changes_of, propose
from builds.errors import BadInput, NotAllowed, StaleRow
from builds.models import Build, EditBatch, Role
from builds.selectors.engineering_inputs import design_of
from builds.services import design_edits
from builds.services.sizing import apply_sizes
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def designer() -> Any:
    make_shop()
    return make_person(Role.DESIGNER, short_name="M. Vale")


@pytest.fixture
def build(designer: Any) -> Build:
    return make_designed_build(designer, circuits=3)


def changing(build: Build) -> set[str]:
    return {change.subject for change in changes_of(propose(design_of(build)))}


def test_all_at_once_are_one_edit_and_leave_nothing_to_change(designer: Any, build: Build) -> None:
    wanted = changing(build)
    assert len(wanted) > 1

    batch = apply_sizes(build=build, subjects=None, design_version=build.design_version, by=designer, at=AT)

    assert {f"{entry.family}:{entry.key}" for entry in batch.entries.all()} == wanted
    assert batch.words == f"{len(wanted)} proposed sizes applied"
    assert {subject for subject in changing(build) if subject.startswith("circuit:")} == set()


def test_a_chosen_one_leaves_the_others_as_they_are(designer: Any, build: Build) -> None:
    before = {circuit.number: circuit for circuit in design_of(build).circuits}
    chosen = min(subject for subject in changing(build) if subject.startswith("circuit:"))

    apply_sizes(build=build, subjects={chosen}, design_version=build.design_version, by=designer, at=AT)

    moved = {number for number, circuit in before.items() if circuit not in design_of(build).circuits}
    assert moved == {chosen.partition(":")[2]}


def test_undo_brings_every_size_back(designer: Any, build: Build) -> None:
    before = design_of(build)
    apply_sizes(build=build, subjects=None, design_version=build.design_version, by=designer, at=AT)

    design_edits.undo_last(build=build, by=designer, at=AT)

    assert design_of(build) == before


def test_sizes_seen_before_another_edit_are_not_applied(designer: Any, build: Build) -> None:
    seen = build.design_version
    circuit = build.circuits.first()
    design_edits.edit_row(
        build=build, family="circuit", key=circuit.number, values={"legend": "OTHER"}, row_version=circuit.row_version,
        by=designer, at=AT,
    )  # fmt: skip
    before = design_of(build)

    with pytest.raises(StaleRow, match="has changed"):
        apply_sizes(build=build, subjects=None, design_version=seen, by=designer, at=AT)

    assert design_of(build) == before


def test_nothing_chosen_is_said_and_changes_nothing(designer: Any, build: Build) -> None:
    for subjects in (set(), {"circuit:nowhere"}):
        with pytest.raises(BadInput, match="Choose"):
            apply_sizes(build=build, subjects=subjects, design_version=build.design_version, by=designer, at=AT)

    assert not EditBatch.objects.exists()


def test_whoever_may_not_edit_may_not_apply(build: Build) -> None:
    clerk = make_person(Role.PARTS_CLERK, short_name="P. Rill")

    with pytest.raises(NotAllowed):
        apply_sizes(build=build, subjects=None, design_version=build.design_version, by=clerk, at=AT)


def test_what_is_applied_brings_no_blocking_finding(designer: Any, build: Build) -> None:
    before = {(finding.id, finding.subject) for finding in assess(design_of(build)).blocking}

    apply_sizes(build=build, subjects=None, design_version=build.design_version, by=designer, at=AT)

    assert {(finding.id, finding.subject) for finding in assess(design_of(build)).blocking} <= before
