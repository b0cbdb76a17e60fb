"""Access points, converters, kinds of source, switches by condition: what each brings to the assessment, and nothing more."""

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import Design
from tests.engineering.assess.designs import SOUND
from tests.engineering.assess.plants_feeding import FEEDING_PLANTS, WITH_24_V, WITH_STUD


def said(design: Design) -> list[tuple[str, str]]:
    return sorted((finding.id, finding.subject) for finding in assess(design).findings)


@pytest.mark.parametrize("design", [SOUND, WITH_24_V, WITH_STUD], ids=["sound", "24 V bus", "maker's stud"])
def test_the_builds_that_faults_are_planted_in_are_sound(design: Design) -> None:
    assert said(design) == []


@pytest.mark.parametrize(
    ("sound", "planted", "expected"), [pytest.param(*plant[1:], id=plant[0]) for plant in FEEDING_PLANTS]
)
def test_a_planted_fault_is_found_and_nothing_else(
    sound: Design, planted: Design, expected: tuple[tuple[str, str], ...]
) -> None:
    assert said(planted) == sorted([*said(sound), *expected])
