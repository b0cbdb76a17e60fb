"""Repairs that change the family of a device: one that breaks the short, one whose figures are known."""

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Change
from builds.engineering.proposing import changes_of, propose
from tests.engineering.assess.designs import SOUND, changed

# a short at this post draws 3.6 kA; an ATO breaks 1 kA, and no family that breaks it is made below 30 A
WEAK = changed(SOUND, "run", "R5", device_family="ATO", device_rating_a=25.0)
UNKNOWN = changed(SOUND, "circuit", "103", device_family="bent nail")


def changes_for(design: Design, id_: str, subject: str) -> tuple[Change, ...]:
    (finding,) = (item for item in assess(design).findings if (item.id, item.subject) == (id_, subject))
    return finding.fix.changes if finding.fix is not None else ()


def ids_at(design: Design, subject: str) -> set[str]:
    return {finding.id for finding in assess(design).findings if finding.subject == subject}


def test_where_no_family_of_its_rating_breaks_the_short_the_next_rating_within_the_wire_is_offered() -> None:
    changes = changes_for(WEAK, "interrupting-capacity-low", "run:R5")

    assert {(change.field, change.value) for change in changes} == {
        ("device_family", "MRBF"),
        ("device_rating_a", 30.0),
    }
    assert "interrupting-capacity-low" not in ids_at(apply_changes(WEAK, changes), "run:R5")


def test_no_larger_rating_is_offered_that_the_wire_does_not_stand_behind() -> None:
    thin = changed(WEAK, "run", "R5", gauge="16")  # carries less than 30 A where it lies

    assert changes_for(thin, "interrupting-capacity-low", "run:R5") == ()


def test_a_family_no_table_has_gives_way_to_one_whose_figures_are_known() -> None:
    changes = changes_for(UNKNOWN, "device-family-unknown", "circuit:103")
    after = apply_changes(UNKNOWN, changes)

    assert {change.field for change in changes} >= {"device_family"}
    assert ids_at(after, "circuit:103") == ids_at(SOUND, "circuit:103")


def test_proposals_leave_no_family_that_no_table_has() -> None:
    after = apply_changes(UNKNOWN, changes_of(propose(UNKNOWN)))

    assert "device-family-unknown" not in ids_at(after, "circuit:103")
    assert changes_of(propose(after)) == ()
