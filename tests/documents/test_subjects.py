"""What a finding is about, as the packet calls it: names where people have them, no keys of the design's own."""

import pytest

from builds.documents.sections.changes import address
from tests.engineering.assess.designs import SOUND


@pytest.mark.parametrize(
    ("subject", "called"),
    [
        ("circuit:101", "circuit 101"),
        ("run:R2", "run R2"),
        ("node:P2", f"P2 ({next(node.name for node in SOUND.nodes if node.key == 'P2')})"),
        ("condition:driving", f"condition “{next(item.name for item in SOUND.conditions if item.key == 'driving')}”"),
        ("load:RADIO", next(load.name for load in SOUND.loads if load.key == "RADIO")),
        ("zone:cargo", next(zone.name for zone in SOUND.platform.zones if zone.key == "cargo")),
        ("part:L1", "part line L1"),
        ("build", "the whole build"),
        ("node:GONE", "node GONE"),
    ],
)
def test_subject_is_called_as_people_call_it(subject: str, called: str) -> None:
    assert address(SOUND, subject) == called
