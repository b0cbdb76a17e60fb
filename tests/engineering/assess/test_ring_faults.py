"""Shorts where there is more than one way: which devices open on them, one after the other."""

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import Design
from builds.engineering.electrical.conductors import ConductorSize, resistance_ohm_per_m, resistance_ratio
from builds.engineering.findings import Finding
from builds.engineering.vocabulary import GaugeBasis
from tests.engineering.assess.designs import SOUND, added, changed, supply

_FAULT_C = 125.0  # the insulation of every run in the sound build


def hot_ohm(gauge: str, length_m: float) -> float:
    size = ConductorSize(basis=GaugeBasis.SAE, gauge=gauge)
    return resistance_ohm_per_m(size=size) * resistance_ratio(temperature_c=_FAULT_C) * length_m


# battery, main cable, disconnect; and home over the cab stud, the body and the battery's strap
COMMON_OHM = 0.006 + hot_ohm("1/0", 2.0) + 0.0002 + 0.0003 + hot_ohm("1/0", 1.0)


def twin(**fields: object) -> Design:
    """The cab panel is fed over a second cable beside the first."""
    second = supply("R2B", "DISC", "P1", "4", 1.0, device_family="ANL", device_rating_a=100.0)
    return changed(added(SOUND, "run", second), "run", "R2B", **fields)


def missed(design: Design) -> dict[str, Finding]:
    return {one.subject: one for one in assess(design).findings if one.id == "feed-fault-not-cleared"}


def current_a(finding: Finding) -> float:
    return next(number.value for number in finding.numbers if number.name == "fault")


def test_two_feeds_that_each_see_half_of_a_short_open_on_it() -> None:
    assert missed(twin()) == {}


def test_a_feed_too_thin_to_open_once_the_other_has_opened_is_told() -> None:
    thin = twin(gauge="18", length_m=20.0)

    found = missed(thin)

    assert set(found) == {"run:R2B"}
    assert current_a(found["run:R2B"]) == pytest.approx(12.0 / (COMMON_OHM + hot_ohm("18", 20.0)), rel=1e-6)


def test_where_neither_opens_each_is_told_of_its_part() -> None:
    """Two alike in parallel carry half each of what one of half the resistance would."""
    both = changed(twin(gauge="18", length_m=20.0), "run", "R2", gauge="18", length_m=20.0)

    found = missed(both)

    whole_a = 12.0 / (COMMON_OHM + hot_ohm("18", 20.0) / 2)
    assert set(found) == {"run:R2", "run:R2B"}
    assert [current_a(one) for one in found.values()] == pytest.approx([whole_a / 2] * 2, rel=1e-6)


def test_joined_batteries_feed_a_short_together() -> None:
    """More than the second battery gives alone, and less than over the wires behind it without it; 300 A of fuse wants 1,050."""
    link = supply("R9", "BAT1", "BAT2", "1", 3.0, device_family="MRBF", device_rating_a=150.0, device_at_both_ends=True)
    joined = added(SOUND, "run", link)
    weak = changed(joined, "run", "R5", gauge="8", length_m=15.0, device_rating_a=300.0)

    assert missed(joined) == {}
    found = missed(weak)
    assert set(found) == {"run:R5"}
    alone_a = 12.0 / (0.007 + hot_ohm("8", 15.0) + hot_ohm("4", 1.5) + 0.0003 + hot_ohm("2", 0.6))
    together_a = 12.0 / (hot_ohm("8", 15.0) + hot_ohm("4", 1.5) + 0.0003)
    assert alone_a < current_a(found["run:R5"]) < together_a
