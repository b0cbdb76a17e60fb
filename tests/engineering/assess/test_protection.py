"""What stands before a conductor, what opens on a short, and repairs that must cure what they are offered for."""

from dataclasses import replace

from builds.engineering.assess import assess
from builds.engineering.design import Design
from builds.engineering.findings import Finding
from tests.engineering.assess.designs import STARTING, changed
from tests.engineering.assess.plants_feeding import WITH_24_V


def finding_of(design: Design, id_: str, subject: str) -> Finding:
    """The one finding of this id about this subject."""
    (found,) = (item for item in assess(design).findings if (item.id, item.subject) == (id_, subject))
    return found


def test_a_short_that_draws_least_at_a_converter_is_named_by_the_converter() -> None:
    weak = changed(WITH_24_V, "node", "BAT1", battery=replace(STARTING, internal_mohm=60.0))

    finding = finding_of(weak, "feed-fault-not-cleared", "run:R8")

    assert "a short at the input of CV (24 V converter) draws" in finding.message
