"""Repairs taken one after the other as they are listed: a repair may reveal a fault that another hid, and never loops."""

from math import floor

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.engineering.assess.bad_build import REPAIRABLE, bad_build, blocking_of, next_repair, repaired


def test_bad_build_is_sound_after_at_most_one_and_a_half_times_as_many_repairs_as_faults() -> None:
    bad = bad_build()
    faults = len(blocking_of(bad))

    way = repaired(bad, most=floor(1.5 * faults))

    assert faults >= 10
    assert blocking_of(way[-1]) == []


@given(st.lists(st.sampled_from(REPAIRABLE), min_size=1, unique=True))
@settings(max_examples=12, deadline=None)
def test_no_choice_of_faults_makes_the_repairs_go_in_circles(names: list[str]) -> None:
    """Twelve plants hide at most what the gauges that no table has keep from being worked out."""
    way = repaired(bad_build(names), most=3 * len(names))

    assert blocking_of(way[-1]) == []
    assert len(set(way)) == len(way)


@given(st.lists(st.sampled_from(REPAIRABLE), min_size=1, unique=True))
@settings(max_examples=6, deadline=None)
def test_a_repair_takes_its_own_finding_away(names: list[str]) -> None:
    bad = bad_build(names)
    repair = next_repair(bad)
    assert repair is not None
    finding, after = repair

    assert (finding.id, finding.subject) not in {(item.id, item.subject) for item in blocking_of(after)}
