"""Each finding planted and not planted, and every proposed repair applied."""

import re
from functools import cache

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.catalogue import CATALOGUE
from builds.engineering.catalogue_kind import FindingKind
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Severity
from builds.engineering.functions.catalogue import FUNCTION_CATALOGUE
from tests.engineering.assess.designs import SOUND
from tests.engineering.assess.plants import PLANTS as AT_A_MOMENT
from tests.engineering.assess.plants import Plant
from tests.engineering.assess.plants_duty import DUTY
from tests.engineering.assess.plants_feeding import FEEDING_PLANTS

PLANTS = (*AT_A_MOMENT, *DUTY)


@cache
def assessed(name: str) -> Assessment:
    """The planted build of that name, assessed once for all that is asked of it here."""
    return assess(next(planted.design for planted in PLANTS if planted.name == name))


def told(planted: Plant) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assessed(planted.name).findings}


def said(design: Design) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assess(design).findings}


def test_sound_build_says_nothing() -> None:
    assert assess(SOUND).findings == ()


@pytest.mark.parametrize("planted", PLANTS, ids=lambda planted: planted.name)
def test_planted_fault_is_said_and_nothing_else(planted: Plant) -> None:
    assert told(planted) == planted.expected


@pytest.mark.parametrize("planted", PLANTS, ids=lambda planted: planted.name)
def test_applied_repair_removes_its_finding(planted: Plant) -> None:
    for finding in assessed(planted.name).findings:
        if finding.fix is not None:
            mended = apply_changes(planted.design, finding.fix.changes)

            assert (finding.id, finding.subject) not in said(mended)


@pytest.mark.parametrize("planted", PLANTS, ids=lambda planted: planted.name)
def test_each_finding_is_said_once(planted: Plant) -> None:
    keys = [(finding.id, finding.subject) for finding in assessed(planted.name).findings]

    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("planted", PLANTS, ids=lambda planted: planted.name)
def test_every_finding_is_a_sentence_with_a_hint_and_a_source(planted: Plant) -> None:
    for finding in assessed(planted.name).findings:
        assert finding.message[0].isupper() or finding.message[0].isdigit()
        assert finding.message.endswith(".")
        assert "{" not in finding.message + finding.hint
        assert finding.hint
        assert finding.source
        assert finding.severity is CATALOGUE[finding.id].severity


def test_assessment_counts_its_findings_by_weight() -> None:
    short = assessed("short at the far end that opens nothing")

    assert (short.count(Severity.BLOCKING), short.count(Severity.CAUTION), short.count(Severity.NOTE)) == (2, 0, 0)
    assert short.blocking == short.findings


def test_findings_stand_worst_first() -> None:
    for planted in PLANTS:
        findings = assessed(planted.name).findings
        assert list(findings) == sorted(findings, key=lambda finding: finding.sort_key)


WORDS_THE_TOOL_NEVER_SAYS = ("legal", "compliant", "certified", "safe", "optimal", "invalid", "submit", "OK")


@pytest.mark.parametrize("kind", CATALOGUE.values(), ids=lambda kind: kind.id)
def test_catalogue_never_decides_for_the_maker_or_the_law(kind: FindingKind) -> None:
    text = f"{kind.template} {kind.meaning} {kind.hint}"

    assert not [word for word in WORDS_THE_TOOL_NEVER_SAYS if re.search(rf"\b{word}\b", text)]


def test_every_finding_of_the_catalogue_is_planted() -> None:
    planted = {id_ for one in PLANTS for id_, _ in one.expected}
    planted |= {id_ for *_, expected in FEEDING_PLANTS for id_, _ in expected}

    assert planted == set(CATALOGUE) - set(FUNCTION_CATALOGUE)  # those are planted in tests of their own
