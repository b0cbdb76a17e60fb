"""Each finding planted and not planted, and every proposed repair applied."""

import pytest

from builds.engineering.assess import assess
from builds.engineering.catalogue import CATALOGUE
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from tests.engineering.assess.designs import SOUND
from tests.engineering.assess.plants import PLANTS, Plant


def said(design: Design) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assess(design).findings}


def test_sound_build_says_nothing() -> None:
    assert assess(SOUND).findings == ()


@pytest.mark.parametrize("planted", PLANTS, ids=lambda planted: planted.name)
def test_planted_fault_is_said_and_nothing_else(planted: Plant) -> None:
    assert said(planted.design) == planted.expected


@pytest.mark.parametrize("planted", PLANTS, ids=lambda planted: planted.name)
def test_applied_repair_removes_its_finding(planted: Plant) -> None:
    for finding in assess(planted.design).findings:
        if finding.fix is not None:
            mended = apply_changes(planted.design, finding.fix.changes)

            assert (finding.id, finding.subject) not in said(mended)


def test_every_finding_of_the_catalogue_is_planted() -> None:
    planted = {id_ for one in PLANTS for id_, _ in one.expected}

    assert planted == set(CATALOGUE)
